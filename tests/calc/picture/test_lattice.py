import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from decor.calc.picture.lattice import MOST_CELLS, Lattice

from .strategies import lattices


def test_row_pitch_follows_the_kind():
    assert Lattice("square", 2, 2, 0.12).row_pitch_m == 0.12
    assert Lattice("offset", 2, 2, 0.12).row_pitch_m == 0.12
    assert Lattice("hex", 2, 2, 0.12).row_pitch_m == pytest.approx(0.8660 * 0.12, rel=1e-4)
    assert Lattice("hex", 2, 2, 0.12, 0.11).row_pitch_m == 0.11


def test_boxes_include_the_half_pitch_shift_once_there_is_a_second_row():
    assert Lattice("square", 3, 4, 0.1).width_m == pytest.approx(0.4)
    assert Lattice("offset", 1, 4, 0.1).width_m == pytest.approx(0.4)
    assert Lattice("offset", 2, 4, 0.1).width_m == pytest.approx(0.45)
    assert Lattice("hex", 3, 4, 0.1).height_m == pytest.approx(3 * 0.1 * math.sqrt(3) / 2)


@given(lattices())
def test_box_is_the_span_of_the_centres_plus_one_pitch(lattice):
    span = np.ptp(lattice.centres_m(), axis=0)
    assert span[0] + lattice.pitch_m == pytest.approx(lattice.width_m)
    assert span[1] + lattice.row_pitch_m == pytest.approx(lattice.height_m)


@given(lattices())
def test_centres_are_row_major_from_the_top_left_cell(lattice):
    centres = lattice.centres_m().reshape(lattice.rows, lattice.columns, 2)
    assert centres[0, 0].tolist() == [0.0, 0.0]
    shift = 0.5 * lattice.pitch_m if lattice.kind != "square" else 0.0
    for row in range(lattice.rows):
        expected = shift * (row % 2) + np.arange(lattice.columns) * lattice.pitch_m
        np.testing.assert_allclose(centres[row, :, 0], expected, atol=1e-12)
        np.testing.assert_allclose(centres[row, :, 1], row * lattice.row_pitch_m, atol=1e-12)


@given(lattices(max_side=7))
def test_neighbours_are_the_pairs_that_stand_closest(lattice):
    """Against plain geometry: next in the row, or in the next row within half a pitch sideways."""
    centres = lattice.centres_m() / [lattice.pitch_m, lattice.row_pitch_m]
    reach = 0.01 if lattice.kind == "square" else 0.51
    expected = [
        [one, other]
        for one in range(lattice.cells)
        for other in range(one + 1, lattice.cells)
        for dx, dy in [np.abs(centres[one] - centres[other])]
        if (dy < 0.01 and dx < 1.01) or (0.99 < dy < 1.01 and dx < reach)
    ]
    assert lattice.neighbours().reshape(-1, 2).tolist() == expected


def test_all_six_hex_neighbours_are_one_pitch_away():
    lattice = Lattice("hex", 9, 8, 0.1)
    centres, pairs = lattice.centres_m(), lattice.neighbours()
    lengths = np.linalg.norm(centres[pairs[:, 0]] - centres[pairs[:, 1]], axis=1)
    np.testing.assert_allclose(lengths, 0.1)
    inner = np.bincount(pairs.ravel()).reshape(9, 8)[1:-1, 1:-1]
    assert (inner == 6).all()


def test_a_single_cell_has_no_neighbours():
    assert Lattice("hex", 1, 1, 0.1).neighbours().shape == (0, 2)


def test_the_largest_panel_is_allowed_and_one_more_cell_is_not():
    assert Lattice("square", 250, 400, 0.1).cells == MOST_CELLS
    with pytest.raises(ValueError, match=r"rows, columns: .* the most is 100,000"):
        Lattice("square", 1, MOST_CELLS + 1, 0.1)


@pytest.mark.parametrize(
    ("argument", "values"),
    [
        ("kind", ("round", 2, 2, 0.1)),
        ("rows", ("square", 0, 2, 0.1)),
        ("rows", ("square", -3, 2, 0.1)),
        ("rows", ("square", 2.5, 2, 0.1)),
        ("columns", ("square", 2, 0, 0.1)),
        ("columns", ("square", 2, "3", 0.1)),
        ("pitch_m", ("square", 2, 2, 0.0)),
        ("pitch_m", ("square", 2, 2, -0.1)),
        ("pitch_m", ("square", 2, 2, math.inf)),
        ("pitch_m", ("square", 2, 2, math.nan)),
        ("pitch_m", ("square", 2, 2, None)),
        ("row_pitch_m", ("square", 2, 2, 0.1, 0.0)),
        ("row_pitch_m", ("square", 2, 2, 0.1, math.nan)),
    ],
)
def test_bad_input_names_the_argument(argument, values):
    with pytest.raises(ValueError, match=f"^{argument}:"):
        Lattice(*values)


@given(st.integers(1, 5), st.integers(1, 5))
def test_numpy_sizes_serve_as_well(rows, columns):
    assert Lattice("hex", np.int64(rows), np.int32(columns), np.float32(0.5)) == Lattice("hex", rows, columns, 0.5)
