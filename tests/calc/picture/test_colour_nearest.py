"""The nearest colour is that of the whole table, whatever the bound rules out."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from skimage import data

from decor.calc.picture import colour_nearest
from decor.calc.picture.colour import delta_e_2000, delta_e_2000_pairs, delta_e_2000_table, srgb_to_lab
from decor.calc.picture.colour_nearest import nearest_2000
from decor.calc.picture.lattice import Lattice
from decor.calc.picture.matching import match
from decor.calc.picture.sampling import sample


def bounds_of(one, other):
    """The bound of each difference."""
    down, across = colour_nearest._Bounds(one), colour_nearest._Bounds(other)
    squares = down.of_squares(slice(None), across, across.losses()[down.classes()])
    return np.sqrt(np.maximum(squares.astype(np.float64), 0.0))


def same_as_the_table(one, other):
    table = delta_e_2000_table(one, other)
    numbers, differences = nearest_2000(one, other)
    np.testing.assert_array_equal(numbers, table.argmin(axis=1))
    np.testing.assert_array_equal(differences, table.min(axis=1))


def lab_of(rng, count, kind):
    """Colours of Lab, many of them hard: round the hue of 275° where R_T is felt, opposite each other, near grey,
    next to each other, all on a few steps so that many are level."""
    if kind == "sRGB":
        return srgb_to_lab(rng.random((count, 3)))
    if kind == "steps":
        return srgb_to_lab(rng.integers(0, 4, (count, 3)) / 3)
    hue = np.deg2rad({"blue": 275 + rng.normal(0, 40, count), "opposite": 180 * rng.integers(0, 2, count) + 37.0}.get(
        kind, rng.uniform(0, 360, count)
    ))  # fmt: skip
    chroma = rng.exponential(1.0, count) if kind == "grey" else rng.uniform(0, 130, count)
    lightness = 50 + rng.normal(0, 0.5, count) if kind == "near" else rng.uniform(0, 100, count)
    chroma = 60 + rng.normal(0, 0.5, count) if kind == "near" else chroma
    return np.stack([lightness, chroma * np.cos(hue), chroma * np.sin(hue)], axis=1)


KINDS = ("sRGB", "steps", "blue", "opposite", "grey", "near", "any")


@given(st.integers(0, 2**32 - 1), st.sampled_from(KINDS), st.sampled_from(KINDS), st.integers(13, 90))
@settings(max_examples=300, deadline=None)
def test_the_nearest_and_its_difference_are_those_of_the_whole_table(seed, kind, other_kind, columns):
    rng = np.random.default_rng(seed)
    same_as_the_table(lab_of(rng, 60, kind), lab_of(rng, columns, other_kind))


@given(st.integers(0, 2**32 - 1), st.sampled_from(KINDS), st.sampled_from(KINDS))
@settings(max_examples=300, deadline=None)
def test_no_difference_is_below_its_bound(seed, kind, other_kind):
    """Against the plain formula in double precision, which the tests of colour hold against an independent library."""
    rng = np.random.default_rng(seed)
    one, other = lab_of(rng, 60, kind), lab_of(rng, 60, other_kind)
    over = bounds_of(one, other) - delta_e_2000(one[:, None], other)
    assert over.max() <= 0.02


def test_no_bound_is_beaten_by_millions_of_pairs():
    """Blue against blue and everything, where the formula's own cross term is largest."""
    rng = np.random.default_rng(11)
    for kind in ("blue", "any", "sRGB"):
        one, other = lab_of(rng, 1200, kind), lab_of(rng, 1000, "blue")
        assert (bounds_of(one, other) - delta_e_2000(one[:, None], other)).max() <= 0.02


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=100, deadline=None)
def test_of_two_that_are_nearly_level_the_nearer_is_taken(seed):
    """Colours a few roundings off each other and off the cell: the answer must not hang on the bound."""
    rng = np.random.default_rng(seed)
    one = lab_of(rng, 40, rng.choice(KINDS))
    other = np.repeat(one[:10], 3, axis=0) + rng.choice([0.0, 1e-5, 1e-4, 1e-3], (30, 3))
    same_as_the_table(one, rng.permutation(other))


@pytest.mark.parametrize("image", ["astronaut", "coffee", "cat", "rocket"])
@pytest.mark.parametrize("columns", [1, 12, 13, 80, 300])
def test_pictures_against_palettes_of_any_size(image, columns):
    cells = srgb_to_lab(sample(getattr(data, image)(), Lattice("offset", 60, 50, 0.127)))
    same_as_the_table(cells, srgb_to_lab(np.random.default_rng(columns).random((columns, 3))))


def test_many_cells_and_many_colours_go_in_parts(monkeypatch):
    rng = np.random.default_rng(3)
    monkeypatch.setattr(colour_nearest, "_MOST_ENTRIES", 7_000)
    monkeypatch.setattr(colour_nearest, "_BLOCK_ENTRIES", 900)
    same_as_the_table(lab_of(rng, 1000, "sRGB"), lab_of(rng, 40, "any"))


def test_only_a_few_of_a_photographs_differences_are_worked_out(monkeypatch):
    """That is what it is for: on a photograph in 80 colours fewer than a sixth."""
    asked = []

    def counted(one, other, row, column):
        asked.append(len(row))
        return delta_e_2000_pairs(one, other, row, column)

    monkeypatch.setattr(colour_nearest, "delta_e_2000_pairs", counted)
    for image in ("astronaut", "coffee", "cat"):
        cells = srgb_to_lab(sample(getattr(data, image)(), Lattice("offset", 60, 50, 0.127)))
        nearest_2000(cells, srgb_to_lab(np.random.default_rng(5).random((80, 3))))
    assert 0 < sum(asked) < 3 * 3000 * 80 / 6


def test_pairs_are_entries_of_the_table_to_the_last_bit():
    rng = np.random.default_rng(1)
    one, other = lab_of(rng, 300, "any"), lab_of(rng, 200, "opposite")
    row, column = rng.integers(0, 300, 40_000), rng.integers(0, 200, 40_000)
    np.testing.assert_array_equal(
        delta_e_2000_pairs(one, other, row, column), delta_e_2000_table(one, other)[row, column]
    )


def test_no_colours_have_no_nearest():
    numbers, differences = nearest_2000(np.empty((0, 3)), np.random.default_rng(0).random((20, 3)))
    assert numbers.shape == differences.shape == (0,)


def test_the_total_of_a_match_without_limits_is_that_of_the_table():
    rng = np.random.default_rng(8)
    cells, palette, weights = rng.random((500, 3)), rng.random((40, 3)), rng.uniform(0.5, 4.0, 500)
    cost = delta_e_2000(srgb_to_lab(cells)[:, None], srgb_to_lab(palette)).min(axis=1)
    assert match(cells, palette).total == pytest.approx(cost.sum(), rel=1e-5)
    assert match(cells, palette, weights=weights).total == pytest.approx(cost**2 @ weights, rel=1e-5)
