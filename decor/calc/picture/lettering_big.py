"""Big letters and figures as the shape of a panel: strokes of our own, drawn to fill a lattice of any size."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from decor.calc.picture.lattice import Lattice

Points = npt.NDArray[np.float64]
Marks = npt.NDArray[np.bool_]

THINNEST = 3.0
"""A stroke is at least so many cells thick: thinner ones can be neither built nor carried."""
CLEAR = 3.0
"""Cells that stay open inside a letter, between its middle lines' strokes, so that it reads as that letter."""
APART = 2.0
"""Cells between letters."""
BOLD = 0.185
"""Stroke over height where there is room for it."""
WIDEST, NARROWEST = 1.45, 0.55
"""How far a letter may be pulled out of its own proportions, across."""
HEART = "♥"


def line(*points: tuple[float, float]) -> Points:
    return np.array(points, dtype=np.float64)


def arc(x: float, y: float, across: float, down: float, start: float, stop: float) -> Points:
    """Part of an ellipse; angles in degrees from the right, clockwise as y grows downwards."""
    angle = np.radians(np.linspace(start, stop, max(3, round(abs(stop - start) / 12.0) + 1)))
    return np.stack([x + across * np.cos(angle), y + down * np.sin(angle)], axis=1)


@dataclass(frozen=True)
class Big:
    """Middle lines of a letter's strokes in a box of 1 × 1, y down. `wide` is its width over its height, `stems` how
    many strokes stand side by side at most."""

    strokes: tuple[Points, ...]
    wide: float = 0.62
    stems: float = 2.0


def _bowl(x: float, top: float, bottom: float) -> tuple[Points, ...]:
    """A half round from the stem at the left and back to it, straight up to `x`."""
    middle, half = (top + bottom) / 2.0, (bottom - top) / 2.0
    return (
        line((0, top), (x, top)),
        arc(x, middle, 1.0 - x if top else 0.95 - x, half, -90, 90),
        line((x, bottom), (0, bottom)),
    )


_STEM = line((0, 0), (0, 1))
_ROUND = (
    arc(0.5, 0.36, 0.5, 0.36, 180, 360),
    line((1, 0.36), (1, 0.64)),
    arc(0.5, 0.64, 0.5, 0.36, 0, 180),
    line((0, 0.64), (0, 0.36)),
)
_OPEN = (arc(0.5, 0.36, 0.5, 0.36, -26, -180), line((0, 0.36), (0, 0.64)))
_P = (_STEM, line((0, 0), (0.5, 0)), arc(0.5, 0.28, 0.5, 0.28, -90, 90), line((0.5, 0.56), (0, 0.56)))
_SIX = (
    arc(0.5, 0.7, 0.5, 0.3, 0, 360),
    line((0, 0.7), (0, 0.4)),
    arc(0.5, 0.4, 0.5, 0.4, 180, 294),
)

SHAPES: dict[str, Big] = {
    "A": Big((line((0, 1), (0.5, 0), (1, 1)), line((0.16, 0.68), (0.84, 0.68))), 0.74),
    "B": Big((_STEM, *_bowl(0.5, 0, 0.48), *_bowl(0.5, 0.48, 1))),
    "C": Big((*_OPEN, arc(0.5, 0.64, 0.5, 0.36, 180, 26))),
    "D": Big(
        (
            _STEM,
            line((0, 0), (0.4, 0)),
            arc(0.4, 0.38, 0.6, 0.38, -90, 0),
            line((1, 0.38), (1, 0.62)),
            arc(0.4, 0.62, 0.6, 0.38, 0, 90),
            line((0.4, 1), (0, 1)),
        )
    ),
    "E": Big((_STEM, line((0, 0), (1, 0)), line((0, 0.49), (0.85, 0.49)), line((0, 1), (1, 1))), 0.55),
    "F": Big((_STEM, line((0, 0), (1, 0)), line((0, 0.5), (0.85, 0.5))), 0.55),
    "G": Big((*_OPEN, arc(0.5, 0.64, 0.5, 0.36, 180, 0), line((1, 0.64), (1, 0.56), (0.62, 0.56)))),
    "H": Big((_STEM, line((1, 0), (1, 1)), line((0, 0.49), (1, 0.49)))),
    "I": Big((line((0.5, 0), (0.5, 1)),), 0.24, 1.0),
    "J": Big((line((1, 0), (1, 0.64)), arc(0.5, 0.64, 0.5, 0.36, 0, 168)), 0.52),
    "K": Big((_STEM, line((1, 0), (0, 0.62)), line((0.34, 0.42), (1, 1))), 0.66),
    "L": Big((_STEM, line((0, 1), (1, 1))), 0.55),
    "M": Big((line((0, 1), (0, 0), (0.5, 0.66), (1, 0), (1, 1)),), 0.86, 3.0),
    "N": Big((line((0, 1), (0, 0), (1, 1), (1, 0)),), 0.68, 2.6),
    "O": Big(_ROUND, 0.68),
    "P": Big(_P),
    "Q": Big((*_ROUND, line((0.58, 0.68), (1, 1))), 0.68),
    "R": Big((*_P, line((0.48, 0.56), (1, 1)))),
    "S": Big((arc(0.5, 0.25, 0.5, 0.25, -18, -270), arc(0.5, 0.75, 0.5, 0.25, -90, 162))),
    "T": Big((line((0, 0), (1, 0)), line((0.5, 0), (0.5, 1))), 0.6),
    "U": Big((line((0, 0), (0, 0.62)), arc(0.5, 0.62, 0.5, 0.38, 180, 0), line((1, 0.62), (1, 0)))),
    "V": Big((line((0, 0), (0.5, 1), (1, 0)),), 0.72),
    "W": Big((line((0, 0), (0.24, 1), (0.5, 0.2), (0.76, 1), (1, 0)),), 1.02, 3.4),
    "X": Big((line((0, 0), (1, 1)), line((1, 0), (0, 1))), 0.68),
    "Y": Big((line((0, 0), (0.5, 0.5), (1, 0)), line((0.5, 0.5), (0.5, 1))), 0.7),
    "Z": Big((line((0, 0), (1, 0), (0, 1), (1, 1)),)),
    "0": Big(_ROUND, 0.6),
    "1": Big((line((0, 0.24), (0.8, 0), (0.8, 1)),), 0.38, 1.6),
    "2": Big((arc(0.5, 0.3, 0.5, 0.3, 188, 392), line((0.92, 0.46), (0, 1), (1, 1))), 0.6),
    "3": Big((arc(0.48, 0.245, 0.46, 0.245, 198, 450), arc(0.5, 0.745, 0.5, 0.255, -90, 162)), 0.6),
    "4": Big((line((0.74, 1), (0.74, 0), (0, 0.68), (1, 0.68)),), 0.66),
    "5": Big((line((0.94, 0), (0.1, 0), (0.07, 0.5)), arc(0.5, 0.69, 0.5, 0.31, 214, 512)), 0.6),
    "6": Big(_SIX, 0.6),
    "7": Big((line((0, 0), (1, 0), (0.36, 1)),), 0.58),
    "8": Big((arc(0.5, 0.245, 0.45, 0.245, 0, 360), arc(0.5, 0.745, 0.5, 0.255, 0, 360)), 0.6),
    "9": Big(tuple(1.0 - stroke for stroke in _SIX), 0.6),
    "&": Big(
        (
            line((1, 1), (0.14, 0.28)),
            arc(0.4, 0.19, 0.28, 0.19, 150, 405),
            line((0.6, 0.32), (0.08, 0.58)),
            arc(0.38, 0.73, 0.38, 0.27, 215, 25),
            line((0.72, 0.84), (0.98, 0.52)),
        ),
        0.8,
        2.6,
    ),
    "+": Big((line((0, 0.5), (1, 0.5)), line((0.5, 0.2), (0.5, 0.8))), 0.6),
    HEART: Big((), 1.0),
}


class NoBigLetter(ValueError):
    """`characters` have no big shape."""

    def __init__(self, characters: Sequence[str]) -> None:
        self.characters = tuple(characters)
        words = ", ".join(self.characters)
        super().__init__(f"There is no big letter for {words}; there are A to Z, 0 to 9, &, + and ♥.")


class TooNarrow(ValueError):
    """The panel is too small for letters that hold; `columns`, `rows` are the least it needs."""

    def __init__(self, columns: int, rows: int) -> None:
        self.columns, self.rows = columns, rows
        super().__init__(
            f"These letters need a panel of {columns} wide and {rows} high at least, so that their strokes are "
            "three cells thick."
        )


def letter_mask(text: str, lattice: Lattice) -> Marks:
    """Big letters that fill the panel, side by side, in strokes of one thickness.

    Args:
        text: letters (small ones count as capitals), figures, ``&``, ``+``, ``♥``; spaces count for nothing.

    Returns:
        (rows, columns) bool: the cells of the letters.

    Raises:
        NoBigLetter: a character has no such shape.
        TooNarrow: the panel is too small for strokes of three cells.
        ValueError: there is no text.
    """
    letters = [one for one in text.upper() if not one.isspace()]
    if not letters:
        raise ValueError("There are no letters yet.")
    missing = [one for one in letters if one not in SHAPES]
    if missing:
        raise NoBigLetter(list(dict.fromkeys(missing)))
    bigs = [SHAPES[one] for one in letters]
    _check_size(bigs, lattice)
    apart = APART * lattice.pitch_m
    widths, high = _boxes(bigs, lattice, apart)
    thick = _thickness(bigs, widths, high, lattice)
    # Each centre stands in the middle of its cell; the box starts at the cell's edge.
    centres = lattice.centres_m() + np.array([lattice.pitch_m, lattice.row_pitch_m]) / 2.0
    left = (lattice.width_m - sum(widths) - apart * (len(bigs) - 1)) / 2.0
    top = (lattice.height_m - high) / 2.0
    used = np.zeros(lattice.cells, dtype=bool)
    for big, wide in zip(bigs, widths, strict=True):
        size = np.array([wide, high])
        place = (centres - np.array([left, top])) / size
        near = (np.abs(place - 0.5) <= 0.5 + 1e-9).all(axis=1)
        inked = np.zeros(lattice.cells, dtype=bool)
        inked[near] = _inked(place[near], big, size, thick) if big.strokes else _in_heart(place[near])
        used |= _held(inked, lattice) if big.strokes else inked
        left += wide + apart
    return used.reshape(lattice.rows, lattice.columns)


def _held(used: Marks, lattice: Lattice) -> Marks:
    """Without the cells that stand alone on the tip of a round end, which would look like a mistake."""
    pairs = lattice.neighbours()
    both = pairs[used[pairs].all(axis=1)]
    neighbours = np.bincount(both.ravel(), minlength=lattice.cells)
    return used & (neighbours > (2 if lattice.staggered else 1))


def _thickness(bigs: Sequence[Big], widths: Sequence[float], high: float, lattice: Lattice) -> float:
    """One thickness for all strokes [m]: bold, with room inside every letter, but never below three cells."""
    clear = CLEAR * lattice.pitch_m
    thick = min(
        BOLD * high,
        (high - 2.0 * CLEAR * lattice.row_pitch_m) / 3.0,
        *((wide - (big.stems - 1.0) * clear) / big.stems for wide, big in zip(widths, bigs, strict=True)),
    )
    return max(thick, THINNEST * max(lattice.pitch_m, lattice.row_pitch_m))


def _check_size(bigs: Sequence[Big], lattice: Lattice) -> None:
    least = sum(big.stems * THINNEST + (big.stems - 1.0) * CLEAR for big in bigs) + APART * (len(bigs) - 1)
    cell = max(1.0, lattice.pitch_m / lattice.row_pitch_m)
    columns = math.ceil(least * max(1.0, lattice.row_pitch_m / lattice.pitch_m))
    rows = math.ceil(3.0 * THINNEST * cell + 2.0 * CLEAR)
    if lattice.columns < columns or lattice.rows < rows:
        raise TooNarrow(columns, rows)


def _boxes(bigs: Sequence[Big], lattice: Lattice, apart: float) -> tuple[list[float], float]:
    """Each letter's width and their height [m]: the whole panel, unless that pulls them out of shape."""
    room, natural = lattice.width_m - apart * (len(bigs) - 1), sum(big.wide for big in bigs)
    high = lattice.height_m
    pulled = room / (natural * high)
    if pulled > WIDEST:
        room = WIDEST * natural * high
    elif pulled < NARROWEST:
        high = room / (NARROWEST * natural)
    cell = max(lattice.pitch_m, lattice.row_pitch_m)
    return _shares(bigs, room, CLEAR * lattice.pitch_m, cell), high


def _shares(bigs: Sequence[Big], room: float, clear: float, cell: float) -> list[float]:
    """The room by the letters' own widths, but no letter below what its strokes need."""
    least = [big.stems * THINNEST * cell + (big.stems - 1.0) * clear for big in bigs]
    spare = max(0.0, room - sum(least))
    over = [max(0.0, big.wide * room / sum(b.wide for b in bigs) - low) for big, low in zip(bigs, least, strict=True)]
    whole = sum(over) or 1.0
    return [low + spare * more / whole for low, more in zip(least, over, strict=True)]


def _inked(place: Points, big: Big, size_m: Points, thick: float) -> Marks:
    """Cells whose centre lies within half a stroke of a middle line; the lines keep half a stroke from the box."""
    at = place * size_m
    inset = np.minimum(thick / 2.0, size_m / 2.0)
    nearest = np.full(len(at), np.inf)
    for stroke in big.strokes:
        points = inset + stroke * (size_m - 2.0 * inset)
        for start, stop in pairwise(points):
            nearest = np.minimum(nearest, _square_distance(at, start, stop))
    inked: Marks = nearest <= (thick / 2.0) ** 2 * (1.0 + 1e-9)
    return inked


def _square_distance(at: Points, start: Points, stop: Points) -> Points:
    way = stop - start
    length = float(way @ way)
    along = np.clip((at - start) @ way / length, 0.0, 1.0) if length else np.zeros(len(at))
    off = at - start - along[:, None] * way
    distance: Points = np.einsum("ij,ij->i", off, off)
    return distance


def _in_heart(place: Points) -> Marks:
    """Inside (x² + y² - 1)³ = x² y³, the sextic heart curve, stretched over the box."""
    x = (place[:, 0] * 2.0 - 1.0) * 1.139
    y = 1.236 - place[:, 1] * 2.236
    inside: Marks = (x * x + y * y - 1.0) ** 3 <= x * x * y**3
    return inside
