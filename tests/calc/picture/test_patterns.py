"""Patterns against their own geometry: shares, mirror images, edges."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from skimage.measure import label

from decor.calc.picture.lattice import Lattice
from decor.calc.picture.patterns import blended, checks, gradient, rings, stripes, thresholds_of, turns

KINDS = ["square", "offset", "hex"]
LATTICES = st.builds(
    Lattice, st.sampled_from(KINDS), rows=st.integers(1, 40), columns=st.integers(1, 40), pitch_m=st.just(0.1)
)


def halves_alike(cells: np.ndarray, lattice: Lattice) -> bool:
    """Each even row is its own mirror image, and each odd one without its last cell, which stands beyond."""
    for number, row in enumerate(cells):
        seen = row[:-1] if lattice.staggered and number % 2 else row
        if not np.array_equal(seen, seen[::-1]):
            return False
    return True


@settings(max_examples=80, deadline=None)
@given(LATTICES, st.integers(1, 5), st.integers(1, 6))
def test_standing_and_lying_stripes(lattice, colours, width):
    standing = stripes(lattice, colours=colours, way="columns", widths=width)
    expected = [(column // width) % colours for column in range(lattice.columns)]
    assert all(row.tolist() == expected for row in standing)
    lying = stripes(lattice, colours=colours, way="rows", widths=width)
    assert lying[:, 0].tolist() == [(row // width) % colours for row in range(lattice.rows)]
    assert (lying == lying[:, :1]).all()


@settings(max_examples=40, deadline=None)
@given(LATTICES, st.lists(st.integers(1, 4), min_size=1, max_size=4), st.sampled_from(["falling", "rising"]))
def test_a_slanted_stripe_is_as_wide_in_every_row(lattice, widths, way):
    cells = stripes(lattice, colours=len(widths), way=way, widths=widths)
    for row in cells:
        ends = np.flatnonzero(np.diff(row)) + 1
        inner = np.split(row, ends)[1:-1]
        if len(widths) > 1:
            assert all(len(run) == widths[run[0]] for run in inner)


@pytest.mark.parametrize("kind", ["offset", "hex"])
@pytest.mark.parametrize("way", ["falling", "rising"])
def test_slanted_stripes_follow_the_lattice(kind, way):
    """Their edge moves by half a pitch from each row to the next: a straight line of touching cells."""
    lattice = Lattice(kind, 12, 30, 0.1)
    cells = stripes(lattice, colours=2, way=way, widths=[1, 29]) == 0
    x = lattice.centres_m()[:, 0].reshape(cells.shape)
    firsts = [x[row][cells[row]][0] for row in range(5, 11) if cells[row].any()]
    steps = np.diff(firsts)
    assert len(steps) >= 3 and np.allclose(np.abs(steps), 0.05) and len(set(np.sign(steps))) == 1


@settings(max_examples=60, deadline=None)
@given(LATTICES, st.integers(1, 3), st.integers(1, 4))
def test_what_is_to_be_symmetric_is(lattice, colours, width):
    for way in ("rows", "columns", "falling", "rising"):
        made = stripes(lattice, colours=colours, way=way, widths=width, mirrored=True)
        assert halves_alike(made, lattice), way
    assert halves_alike(rings(lattice, colours=colours, widths=width), lattice)
    assert halves_alike(gradient(lattice, colours=colours, course="round", blend="bands"), lattice)
    frames = rings(lattice, colours=colours, widths=width, square=True)
    assert np.array_equal(frames, frames[::-1]) and np.array_equal(frames, frames[:, ::-1])


@settings(max_examples=60, deadline=None)
@given(LATTICES, st.integers(2, 6), st.sampled_from(["down", "up", "right", "left"]))
def test_a_mixed_gradient_gives_every_colour_its_share(lattice, colours, course):
    """The share of a colour is what its straight passage asks for, line by line: within one balloon for each of the
    two passages that it takes part in."""
    cells = gradient(lattice, colours=colours, course=course)
    lines = lattice.rows if course in ("down", "up") else lattice.columns
    each = lattice.cells // lines
    along = (np.arange(lines) + 0.5) / lines * (colours - 1)
    lower = np.minimum(along.astype(int), colours - 2)
    asked = np.zeros(colours)
    np.add.at(asked, lower, each * (1 - (along - lower)))
    np.add.at(asked, lower + 1, each * (along - lower))
    got = np.bincount(cells.ravel(), minlength=colours)
    assert len(got) == colours and np.abs(got - asked).max() <= 1.0 + 1e-6


@settings(max_examples=40, deadline=None)
@given(LATTICES, st.integers(1, 6))
def test_bands_are_of_equal_width_within_a_line(lattice, colours):
    cells = gradient(lattice, colours=colours, course="down", blend="bands")
    rows = np.bincount(cells[:, 0], minlength=colours)
    assert rows.sum() == lattice.rows and rows.max() - rows.min() <= 1
    across = gradient(lattice, colours=colours, course="right", blend="bands")
    columns = np.bincount(across[0], minlength=colours)
    assert columns.max() - columns.min() <= 1
    assert np.array_equal(gradient(lattice, colours=colours, course="left", blend="bands"), across[:, ::-1])


@pytest.mark.parametrize("kind", KINDS)
def test_a_gradient_goes_from_the_first_colour_to_the_last(kind):
    lattice = Lattice(kind, 60, 40, 0.1)
    cells = gradient(lattice, colours=3)
    means = cells.mean(axis=1)
    assert (np.diff(means) >= -1 / 40 - 1e-9).all() and means[0] < 0.1 and means[-1] > 1.9
    around = gradient(lattice, colours=3, course="round")
    assert around[30, 20] == 0 and around[0, 0] == 2


@pytest.mark.parametrize("kind", KINDS)
def test_thresholds_are_spread_without_streaks(kind):
    """Of the lowest eighth of the thresholds hardly any two touch, and every window holds about its share."""
    lattice = Lattice(kind, 64, 64, 0.1)
    thresholds = thresholds_of(lattice)
    assert thresholds.min() > 0 and thresholds.max() < 1 and abs(thresholds.mean() - 0.5) < 0.01
    low = thresholds < 0.125
    pairs = lattice.neighbours()
    assert (low.ravel()[pairs[:, 0]] & low.ravel()[pairs[:, 1]]).sum() <= low.sum() * 0.05
    windows = low.reshape(8, 8, 8, 8).sum(axis=(1, 3))
    assert windows.min() >= 4 and windows.max() <= 13


def longest_streak(marked: np.ndarray) -> int:
    """Marked cells one after the other along a slanted line."""
    lines = [np.diagonal(seen, at) for seen in (marked, marked[:, ::-1]) for at in range(-len(seen) + 1, seen.shape[1])]
    runs = ("".join("x" if cell else " " for cell in line).split() for line in lines)
    return max((len(run) for line in runs for run in line), default=0)


@pytest.mark.parametrize("course", ["down", "right"])
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("size", [(24, 24), (43, 60), (60, 90)])
def test_what_a_gradient_strews_falls_into_no_streaks(kind, course, size):
    """Where at most every fourth balloon is of the other colour, at both ends."""
    cells = gradient(Lattice(kind, *size, 0.1), colours=2, course=course)
    along = cells if course == "down" else cells.T
    quarter = len(along) // 4
    assert longest_streak(along[:quarter] == 1) <= 4
    assert longest_streak(along[-quarter:] == 0) <= 4


def test_checks():
    assert checks(Lattice("square", 4, 4, 0.1), width=2).tolist() == [[0, 0, 1, 1]] * 2 + [[1, 1, 0, 0]] * 2
    board = checks(Lattice("square", 8, 8, 0.1))
    assert label(board + 1, connectivity=1).max() == 64, "no two fields of one colour touch along an edge"
    assert np.bincount(checks(Lattice("hex", 12, 12, 0.1), colours=3, width=2).ravel()).tolist() == [48] * 3


def test_rings():
    cells = rings(Lattice("square", 9, 9, 0.1), colours=2, widths=[2, 1])
    assert cells[4].tolist() == [0, 0, 1, 0, 0, 0, 1, 0, 0]
    frames = rings(Lattice("square", 5, 7, 0.1), colours=2, widths=1, square=True)
    assert frames[2].tolist() == [0, 1, 0, 0, 0, 1, 0]


def test_shareable_parts():
    assert turns([-1, 0, 1, 2, 3], [2, 1]).tolist() == [1, 0, 0, 1, 0]
    assert blended([0, 0.49, 0.5, 1], 2).tolist() == [0, 0, 1, 1]
    assert blended([0.25, 0.75], 2, [0.5, 0.5]).tolist() == [0, 1]


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda on: stripes(on, colours=0), "colours"),
        (lambda on: stripes(on, colours=25), "colours"),
        (lambda on: stripes(on, colours=2, widths=[1, 2, 3]), "widths"),
        (lambda on: stripes(on, colours=2, widths="a"), "widths"),
        (lambda on: stripes(on, colours=2, widths=0), "widths"),
        (lambda on: stripes(on, colours=2, way="up"), "way"),
        (lambda on: checks(on, width=0), "width"),
        (lambda on: gradient(on, colours=2, course="sideways"), "course"),
        (lambda on: gradient(on, colours=2, blend="dots"), "blend"),
        (lambda on: blended([2.0], 2), "values"),
        (lambda on: turns([0], []), "widths"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_named(call, named):
    with pytest.raises(ValueError, match=named):
        call(Lattice("square", 4, 4, 0.1))


def test_widths_as_text():
    lattice = Lattice("square", 1, 6, 0.1)
    assert stripes(lattice, colours=2, widths="2, 1").tolist() == [[0, 0, 1, 0, 0, 1]]
    assert stripes(lattice, colours=2, widths="3").tolist() == [[0, 0, 0, 1, 1, 1]]
