"""Our own letters as text art, drawn for cells: `#` is a balloon, `.` is none.

A strip is `row: names` over its letters side by side; `row` is where its first line stands, counted from the top of
the tall letters. Strips are parted by an empty line.
"""

from dataclasses import dataclass
from functools import cache
from typing import Literal, get_args

import numpy as np
import numpy.typing as npt

from decor.calc.picture.glyphs import large, large_signs, middle, middle_east, small

Height = Literal["small", "middle", "large"]
HEIGHTS: tuple[Height, ...] = get_args(Height)


@dataclass(frozen=True)
class Drawn:
    """One letter: `cells` (rows, columns) bool without empty columns; row 0 stands at `top`, counted from the top of
    the tall letters, so that it may be below 0."""

    cells: npt.NDArray[np.bool_]
    top: int

    @property
    def columns(self) -> int:
        return int(self.cells.shape[1])

    @property
    def bottom(self) -> int:
        """The row below its last one."""
        return self.top + int(self.cells.shape[0])


@dataclass(frozen=True)
class Face:
    """One height of our letters, in cells.

    `baseline` is the row below capitals and most letters, counted from the top of the tall letters; `cap` and `low`
    are the heights of capitals and of low letters; `gap` stands between two straight letters, `tighter` is how much
    less of it a pair may take; `space` is between words; `line` from baseline to baseline where nothing is in the
    way; `lift` between a letter and the mark over it; `shadow` how far one falls.
    """

    cap: int
    low: int
    baseline: int
    gap: int
    tighter: int
    space: int
    line: int
    lift: int
    shadow: int
    letters: dict[str, Drawn]
    marks: dict[str, Drawn]


def strips(art: str) -> dict[str, Drawn]:
    """The letters of text art by name."""
    found: dict[str, Drawn] = {}
    for strip in art.strip("\n").split("\n\n"):
        head, *lines = strip.splitlines()
        top, names = head.split(":", 1)
        columns = list(zip(*(line.split() for line in lines), strict=True))
        for name, column in zip(names.split(), columns, strict=True):
            if name in found or len({len(row) for row in column}) > 1:
                raise ValueError(f"art: {name!r} is drawn twice, or its rows are not of one length")
            found[name] = trimmed(np.array([[cell == "#" for cell in row] for row in column]), int(top))
    return found


def trimmed(cells: npt.NDArray[np.bool_], top: int) -> Drawn:
    """Without empty rows and columns at its edges."""
    rows, columns = np.flatnonzero(cells.any(axis=1)), np.flatnonzero(cells.any(axis=0))
    kept = cells[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1].copy()
    kept.setflags(write=False)
    return Drawn(kept, top + int(rows[0]))


def _turned(letter: Drawn, top: int) -> Drawn:
    return Drawn(letter.cells[::-1, ::-1], top)


def _with_turned(letters: dict[str, Drawn], baseline: int, low: int) -> dict[str, Drawn]:
    """The Spanish signs that open a sentence stand on their heads and reach below the line."""
    turned = {"¡": "!", "¿": "?"}
    return letters | {name: _turned(letters[of], baseline - low) for name, of in turned.items()}


@cache
def face(height: Height) -> Face:
    if height == "small":
        letters = _with_turned(strips(small.LETTERS), 6, 4)
        return Face(5, 4, 6, 1, 1, 3, 7, 1, 1, letters, strips(small.MARKS))
    if height == "middle":
        letters = _with_turned(strips(middle.LETTERS) | strips(middle_east.LETTERS), 7, 5)
        return Face(7, 5, 7, 1, 2, 4, 10, 1, 1, letters, strips(middle.MARKS))
    letters = _with_turned(strips(large.LETTERS) | strips(large_signs.LETTERS), 12, 8)
    return Face(12, 8, 12, 2, 3, 6, 17, 1, 2, letters, strips(large_signs.MARKS))
