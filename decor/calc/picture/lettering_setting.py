"""Letters set in a line, and lines under one another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from decor.calc.picture.glyphs import Drawn, Face, Height, face
from decor.calc.picture.lettering_letters import letter_of

FAR = 99
"""Farther than any letter is wide: a row in which a letter has nothing."""
OPEN = 2
"""How many cells more than the plain gap count as open space between two letters; what is wider looks no wider."""

Ints = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Placed:
    """A line: `cells` (rows, columns) bool; its first row stands at `top`, counted from the top of the tall
    letters."""

    cells: npt.NDArray[np.bool_]
    top: int

    @property
    def columns(self) -> int:
        return int(self.cells.shape[1])


def set_line(line: Sequence[str], height: Height, *, extra: int = 0) -> Placed:
    """Letters from left to right; `extra` cells are added to every gap. An empty line is one row of nothing."""
    used = face(height)
    placed: list[tuple[Drawn, int]] = []
    left, before, spaced = 0, "", 0
    for one in line:
        if one == " ":
            spaced = used.space
            continue
        letter = letter_of(one, height)
        if letter is None:
            raise ValueError(f"line: there is no letter for {one}")
        if before:
            left += (spaced or kern(before, one, height)) + extra
        placed.append((letter, left))
        left, before, spaced = left + letter.columns, one, 0
    return _drawn(placed)


def _drawn(placed: list[tuple[Drawn, int]]) -> Placed:
    if not placed:
        return Placed(np.zeros((1, 1), dtype=bool), 0)
    top, bottom = min(one.top for one, _ in placed), max(one.bottom for one, _ in placed)
    wide = max(left + one.columns for one, left in placed)
    cells = np.zeros((bottom - top, wide), dtype=bool)
    for one, left in placed:
        cells[one.top - top : one.bottom - top, left : left + one.columns] |= one.cells
    return Placed(cells, top)


def leaning(row: Placed, half: int) -> Placed:
    """The line with every row moved to the right by half a cell more than the row below it. Rows stand to the right
    by half a cell where their number, counted as `top` is, plus `half` is odd."""
    numbers = np.arange(row.top, row.top + len(row.cells))
    stands = (numbers + half) % 2
    moves = (numbers[-1] - numbers + stands[-1] - stands) // 2
    cells = np.zeros((len(row.cells), row.columns + int(moves.max())), dtype=bool)
    for at, move in enumerate(moves.tolist()):
        cells[at, move : move + row.columns] = row.cells[at]
    columns = np.flatnonzero(cells.any(axis=0))
    return Placed(cells[:, columns[0] : columns[-1] + 1], row.top) if len(columns) else row


@cache
def kern(before: str, after: str, height: Height) -> int:
    """Empty columns between two letters' boxes; below 0 where one reaches under or over the other.

    The least that keeps the plain gap wherever both have cells in a row, a cell's room cornerwise, and the plain gap
    on the average over the rows that either has; and no more than `Face.tighter` less than the plain gap.
    """
    used = face(height)
    one, other = letter_of(before, height), letter_of(after, height)
    if one is None or other is None:
        raise ValueError(f"before, after: there is no letter for {before if one is None else after}")
    top, bottom = min(one.top, other.top), max(one.bottom, other.bottom)
    right, left = _after(one, top, bottom), _before(other, top, bottom)
    level, cornerwise = right + left, np.minimum(_spread(right) + left, right + _spread(left))
    for gap in range(used.gap - used.tighter, used.gap):
        open_space = np.minimum(level + gap, used.gap + OPEN)
        if (level + gap).min() >= used.gap and (cornerwise + gap).min() >= 1 and open_space.mean() >= used.gap:
            return gap
    # Straight letters keep the plain gap; where a mark hangs over, more than that.
    return max(used.gap, 1 - int(cornerwise.min()))


def _after(letter: Drawn, top: int, bottom: int) -> Ints:
    """For each row the empty cells right of the letter's last one."""
    return _before(Drawn(letter.cells[:, ::-1], letter.top), top, bottom)


def _before(letter: Drawn, top: int, bottom: int) -> Ints:
    """For each row the empty cells left of the letter's first one."""
    found = np.full(bottom - top, FAR, dtype=np.int64)
    edge = np.where(letter.cells.any(axis=1), letter.cells.argmax(axis=1), FAR)
    found[letter.top - top : letter.bottom - top] = edge
    return found


def _spread(edge: Ints) -> Ints:
    """The nearest of a row and the rows above and below it."""
    padded = np.pad(edge, 1, constant_values=FAR)
    near: Ints = np.minimum(np.minimum(padded[:-2], padded[1:-1]), padded[2:])
    return near


def line_step(rows: Sequence[Placed], lefts: Sequence[int], used: Face, *, extra: int = 0) -> int:
    """Rows from one baseline to the next, alike for all lines: the plain step, more where a descender would come
    too near an accent."""
    step = used.line + extra
    placed = list(zip(rows, lefts, strict=True))
    for (upper, upper_left), (lower, lower_left) in pairwise(placed):
        wide = max(upper_left + upper.columns, lower_left + lower.columns)
        deep = np.full(wide, -FAR, dtype=np.int64)
        deep[upper_left : upper_left + upper.columns] = _lowest(upper)
        high = np.full(wide, FAR, dtype=np.int64)
        high[lower_left : lower_left + lower.columns] = -_lowest(
            Placed(lower.cells[::-1], 1 - lower.top - len(lower.cells))
        )
        near = -_spread(-deep)
        step = max(step, int((near - high).max()) + 1 + used.gap + extra)
    return step


def _highest(row: Placed) -> Ints:
    """For each column the row of its first cell, counted as `top` is."""
    highest: Ints = np.where(row.cells.any(axis=0), row.top + row.cells.argmax(axis=0), FAR)
    return highest


def _lowest(row: Placed) -> Ints:
    """For each column the row of its last cell, counted as `top` is."""
    last = len(row.cells) - 1 - row.cells[::-1].argmax(axis=0)
    lowest: Ints = np.where(row.cells.any(axis=0), row.top + last, -FAR)
    return lowest
