"""Big letters that fill a panel. What hangs together is told by scikit-image; holes by its Euler number."""

import numpy as np
import pytest
from scipy.ndimage import binary_opening
from skimage.measure import euler_number, label

from decor.calc.picture.lattice import Lattice
from decor.calc.picture.lettering import NoBigLetter, TooNarrow, letter_mask
from decor.calc.picture.lettering_big import SHAPES

HOLES = {**dict.fromkeys("ADOPQR0469", 1), **dict.fromkeys("B8&", 2)}
"""Closed spaces of each letter as everybody draws it."""


@pytest.mark.parametrize("character", sorted(SHAPES))
@pytest.mark.parametrize("rows", [15, 24, 60])
def test_each_hangs_together_with_its_own_holes(character, rows):
    columns = {15: 18, 24: 20, 60: 44}[rows]
    mask = letter_mask(character, Lattice("square", rows, columns, 0.1))
    assert label(mask, connectivity=1).max() == 1
    assert 1 - euler_number(mask, connectivity=1) == HOLES.get(character, 0)


@pytest.mark.parametrize(("text", "rows", "columns"), [("40", 30, 40), ("18", 22, 30), ("A", 15, 10), ("♥", 16, 16)])
@pytest.mark.parametrize("kind", ["square", "offset", "hex"])
def test_they_fill_the_panel(text, rows, columns, kind):
    if kind == "hex":
        rows += 3
    mask = letter_mask(text, Lattice(kind, rows, columns, 0.1))
    assert mask.shape == (rows, columns)
    used_rows, used_columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    assert used_rows[0] <= 1 and used_rows[-1] >= rows - 2
    assert used_columns[0] <= 2 and used_columns[-1] >= columns - 3


@pytest.mark.parametrize("character", sorted(SHAPES))
def test_strokes_are_three_cells_thick(character):
    """Nearly every cell lies in a full cross of three by three cells: opened with one (scipy.ndimage), a letter loses
    little more than its round ends, and does not fall apart."""
    for rows, columns in ((15, 20), (26, 26), (50, 50)):
        mask = letter_mask(character, Lattice("square", rows, columns, 0.1))
        opened = binary_opening(np.pad(mask, 1))[1:-1, 1:-1]
        assert opened.sum() >= 0.85 * mask.sum()
        assert label(opened, connectivity=2).max() == 1


def test_letters_stand_apart():
    for text in ("40", "18", "MARA", "2031"):
        mask = letter_mask(text, Lattice("square", 24, 16 * len(text), 0.1))
        assert label(mask, connectivity=2).max() == len(text)


def test_small_letters_count_as_capitals():
    lattice = Lattice("square", 20, 40, 0.1)
    assert np.array_equal(letter_mask("mo", lattice), letter_mask("M O", lattice))


def test_refusals():
    lattice = Lattice("square", 20, 30, 0.1)
    with pytest.raises(NoBigLetter, match="no big letter for Ж;") as caught:
        letter_mask("AЖ", lattice)
    assert caught.value.characters == ("Ж",)
    with pytest.raises(TooNarrow, match="at least") as narrow:
        letter_mask("WIDEST", lattice)
    enough = Lattice("square", narrow.value.rows, narrow.value.columns, 0.1)
    assert label(letter_mask("WIDEST", enough), connectivity=2).max() == 6
    with pytest.raises(TooNarrow):
        letter_mask("1", Lattice("square", 14, 30, 0.1))
    with pytest.raises(ValueError, match="no letters"):
        letter_mask("  ", lattice)
