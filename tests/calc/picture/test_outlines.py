"""Outlines against the areas of school geometry, by symmetry, and by SciPy's counting of connected parts."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import ndimage

from decor.calc.picture.lattice import Lattice
from decor.calc.picture.outlines import KINDS, outline
from decor.calc.picture.sampling import sample_cover

SHAPES = ("round", "heart", "arch")
sizes = st.integers(2, 60)
kinds = st.sampled_from(["square", "offset", "hex"])


def test_the_whole_is_all():
    assert outline("whole", Lattice("hex", 5, 7, 0.1)).all()


def test_areas_are_those_of_the_shapes():
    lattice = Lattice("square", 200, 200, 0.05)
    assert outline("round", lattice).mean() == pytest.approx(math.pi / 4, abs=0.003)
    # Half a disc over half a square: 1/2 + π/8.
    assert outline("arch", lattice).mean() == pytest.approx(0.5 + math.pi / 8, abs=0.004)
    # The heart's own area in its box, counted on a fine grid; its point hangs a row or so below the panel.
    assert outline("heart", lattice).mean() == pytest.approx(_heart_area() / (2.278058 * 2.236066), abs=0.006)


def _heart_area() -> float:
    y, x = np.mgrid[-1.1:1.3:2400j, -1.2:1.2:2400j]
    return float((((x**2 + y**2 - 1) ** 3 - x**2 * y**3) < 0).mean() * 2.4 * 2.4)


def test_an_oval_touches_all_four_sides():
    shape = outline("round", Lattice("square", 20, 50, 0.1))
    assert shape[0].any() and shape[-1].any() and shape[:, 0].any() and shape[:, -1].any()


def test_an_arch_is_round_above_in_true_measures():
    """Twice as high as wide: the upper quarter is the half round."""
    shape = outline("arch", Lattice("square", 80, 40, 0.1))
    assert shape[20:].all() and not shape[0, :10].any()
    widths = shape[:20].sum(axis=1)
    expected = 2 * np.sqrt(20**2 - (20 - np.arange(20) - 0.5) ** 2)
    assert np.abs(widths - expected).max() <= 1


@given(kinds, sizes, sizes, st.sampled_from(SHAPES))
def test_every_row_is_its_own_mirror_image(kind, rows, columns, shape):
    lattice = Lattice(kind, rows, columns, 0.1)
    used = outline(shape, lattice)
    x = lattice.centres_m()[:, 0].reshape(rows, columns)
    axis = (columns - 1) * 0.1 / 2
    for row in range(rows):
        seen = np.round(x[row][used[row]] - axis, 6)
        assert sorted(seen) == sorted(-seen)


@given(kinds, st.integers(6, 60), st.integers(6, 60), st.sampled_from(SHAPES))
def test_every_shape_is_in_one_part_without_holes_and_has_its_last_row(kind, rows, columns, shape):
    used = outline(shape, Lattice(kind, rows, columns, 0.1))
    touching = np.ones((3, 3))  # a staggered cell has two neighbours in the row below
    assert ndimage.label(used, touching)[1] == 1
    assert ndimage.label(np.pad(~used, 1, constant_values=True), touching)[1] == 1
    if shape != "round" or rows > 2:
        assert used[-1].any()


def test_a_round_panel_is_alike_above_and_below_where_the_lattice_allows():
    for lattice in (Lattice("square", 30, 41, 0.1), Lattice("hex", 31, 40, 0.1), Lattice("offset", 9, 9, 0.1)):
        shape = outline("round", lattice)
        np.testing.assert_array_equal(shape, shape[::-1])


def test_letters_keep_their_shape_in_the_middle():
    letter = np.zeros((14, 10), dtype=bool)
    letter[:, :3] = letter[11:] = True  # an L
    for lattice in (Lattice("square", 14, 30, 0.1), Lattice("offset", 56, 40, 0.1), Lattice("hex", 33, 71, 0.2)):
        used = outline("letters", lattice, mask=letter)
        area = used.sum() * lattice.pitch_m * lattice.row_pitch_m
        scale = min(lattice.width_m / 10, lattice.height_m / 14)
        assert area == pytest.approx(letter.sum() * scale**2, rel=0.12)
        down, across = np.nonzero(used)
        assert abs(across.mean() - (lattice.columns - 1) / 2) < lattice.columns / 4
        assert (down.min() <= 1 and down.max() >= lattice.rows - 2) or across.min() <= 1


def test_see_through_parts_stay_out():
    mask = np.zeros((40, 40), dtype=np.uint8)
    mask[:, :20] = 255
    lattice = Lattice("offset", 8, 8, 0.1)
    used = outline("see-through", lattice, mask=mask)
    np.testing.assert_array_equal(used.ravel(), sample_cover(mask, lattice) >= 0.5)
    np.testing.assert_array_equal(used, outline("see-through", lattice, mask=mask > 0))


def test_what_is_wrong_is_named():
    lattice = Lattice("square", 4, 4, 0.1)
    with pytest.raises(ValueError, match=r"^kind:"):
        outline("star", lattice)
    for kind in ("letters", "see-through"):
        with pytest.raises(ValueError, match=r"^mask:"):
            outline(kind, lattice)
        with pytest.raises(ValueError, match=r"^mask:"):
            outline(kind, lattice, mask=np.zeros((2, 2)))
        with pytest.raises(ValueError, match="too few cells"):
            outline(kind, lattice, mask=np.zeros((9, 9), dtype=bool))
    assert set(KINDS) == {"whole", "round", "heart", "arch", "letters", "see-through"}
