"""What a sheet costs wherever it may lie on an outline: the sheet itself, its joins and its cut edges.

A sheet lies with its whole net over the panel's cells and carries every filled cell below it. So two filled
neighbours lie under two sheets only where both sheets end with their own edges: a cut edge, or one with spare cells
folded back, always lies on the panel's outside. What is left to choose is where the sheets lie, so that each filled
cell is under exactly one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from decor.calc.picture.lattice import MOST_CELLS, whole_number

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]


class SheetSize(NamedTuple):
    """One sheet type: rows × columns of cells and the cost of one use.

    ``even_rows``: its first row must lie on an even panel row (from 0), as on a staggered lattice where each sheet
    starts unshifted. ``sides``, ``ends``: whether it joins at its left and right, at its top and bottom edges.
    ``parts``: whether a neighbour may meet only part of an edge; otherwise corners meet corners.
    """

    rows: int
    columns: int
    cost: float
    even_rows: bool = False
    sides: bool = True
    ends: bool = True
    parts: bool = True


class CannotTile(ValueError):
    """No plan keeps the rules; the text says so for people."""


class Place(NamedTuple):
    """A sheet's first row and column on the panel (negative where it begins outside) and its size's number."""

    row: int
    column: int
    size: int


def checked_sizes(sheet_sizes: Sequence[Sequence[float]]) -> list[SheetSize]:
    """ValueError names `sheet_sizes` where there is none, or a figure is not one that a sheet can have."""
    if not len(sheet_sizes):
        raise ValueError("sheet_sizes: must hold at least one size")
    found = []
    for given in sheet_sizes:
        size = given if isinstance(given, SheetSize) else SheetSize(*given)  # type: ignore[arg-type]
        rows, columns = (whole_number("sheet_sizes", value) for value in size[:2])
        cost = float(size.cost)
        if not (np.isfinite(cost) and cost >= 0.0):
            raise ValueError(f"sheet_sizes: a cost must be 0 or more, not {size.cost!r}")
        found.append(size._replace(rows=rows, columns=columns, cost=cost))
    return found


def checked_outline(outline: npt.ArrayLike) -> Bools:
    """(rows, columns) of bool, or ValueError naming `outline`."""
    given = np.asarray(outline)
    if given.ndim != 2 or not given.size:
        raise ValueError("outline: must be rows × columns of true or false")
    if given.dtype != np.bool_:
        raise ValueError(f"outline: must be true or false, not {given.dtype}")
    if given.size > MOST_CELLS:
        raise ValueError(f"outline: must have at most {MOST_CELLS:,} cells, not {given.size:,}")
    return given


def checked_price(name: str, value: float) -> float:
    price = float(value)
    if not (np.isfinite(price) and price >= 0.0):
        raise ValueError(f"{name}: must be 0 or more, not {value!r}")
    return price


@dataclass(frozen=True)
class Ground:
    """An outline with room around it, and sums of its cells and edges that tell any rectangle's at once.

    Positions are counted with ``above`` rows and ``left`` columns of room before the panel's first cell.
    """

    filled: Bools
    above: int
    left: int

    @classmethod
    def of(cls, outline: Bools, sizes: Sequence[SheetSize]) -> Ground:
        above, left = max(size.rows for size in sizes), max(size.columns for size in sizes)
        room = ((above, 2 * above + 2), (left, 2 * left + 2))
        return cls(np.pad(outline, room), above, left)

    @property
    def tall(self) -> int:
        """Rows on which a sheet may begin."""
        return int(self.filled.shape[0]) - 2 * self.above - 2

    @property
    def wide(self) -> int:
        return int(self.filled.shape[1]) - 2 * self.left - 2

    @cached_property
    def _cells(self) -> Floats:
        return _summed(self.filled)

    @cached_property
    def _met(self) -> tuple[Floats, Floats]:
        """Filled neighbours across the edge left of a cell, and above it."""
        left, above = np.zeros_like(self.filled), np.zeros_like(self.filled)
        left[:, 1:] = self.filled[:, 1:] & self.filled[:, :-1]
        above[1:] = self.filled[1:] & self.filled[:-1]
        return _summed(left), _summed(above)

    @cached_property
    def _rims(self) -> tuple[Floats, Floats]:
        """Edges between a filled cell and one that is not, left of a cell and above it."""
        left, above = np.zeros_like(self.filled), np.zeros_like(self.filled)
        left[:, 1:] = self.filled[:, 1:] != self.filled[:, :-1]
        above[1:] = self.filled[1:] != self.filled[:-1]
        return _summed(left), _summed(above)

    def _box(self, sums: Floats, rows: tuple[int, int], columns: tuple[int, int]) -> Floats:
        """Sums over the rows and columns, counted from each position, of a box that begins there."""
        top, bottom = rows
        first, last = columns
        high, wide = self.tall, self.wide
        return (
            sums[bottom : bottom + high, last : last + wide]
            - sums[top : top + high, last : last + wide]
            - sums[bottom : bottom + high, first : first + wide]
            + sums[top : top + high, first : first + wide]
        )

    def cells(self, rows: int, columns: int) -> Floats:
        """(tall, wide): filled cells under a sheet of that size at each position."""
        return self._box(self._cells, (0, rows), (0, columns))

    def joined(self, size: SheetSize) -> tuple[Floats, Floats]:
        """(tall, wide) each: cell edges joined at its left and right, and at its top and bottom."""
        beside, below = self._met
        rows, columns = size.rows, size.columns
        high, wide = self.tall, self.wide
        # Sums along one edge of the sheet: a line of cells has one column, or one row.
        upright = np.diff(beside[rows : rows + high] - beside[:high], axis=1)
        level = np.diff(below[:, columns : columns + wide] - below[:, :wide], axis=0)
        sides = upright[:, :wide] + upright[:, columns : columns + wide]
        ends = level[:high] + level[rows : rows + high]
        return sides, ends

    def cut(self, size: SheetSize) -> Floats:
        """(tall, wide): cell edges along which it is cut, or its spare cells are folded back."""
        beside, below = self._rims
        upright = self._box(beside, (0, size.rows), (1, size.columns))
        return upright + self._box(below, (1, size.rows), (0, size.columns))

    def costs(self, size: SheetSize, join_cost: float, trim_cost: float) -> Floats:
        """(tall, wide): what the sheet costs at each position, half of each join; 0 where it carries nothing, infinite
        where it may not lie."""
        sides, ends = self.joined(size)
        cost = size.cost + 0.5 * join_cost * (sides + ends) + trim_cost * self.cut(size)
        if size.even_rows:
            cost[(np.arange(self.tall) - self.above) % 2 == 1] = np.inf
        if not size.sides:
            cost[sides > 0] = np.inf
        if not size.ends:
            cost[ends > 0] = np.inf
        cost[self.cells(size.rows, size.columns) == 0] = 0.0
        return cost


def _summed(flags: Bools) -> Floats:
    sums = np.zeros((flags.shape[0] + 1, flags.shape[1] + 1))
    np.cumsum(np.cumsum(flags, axis=0, dtype=np.float64), axis=1, out=sums[1:, 1:])
    return sums
