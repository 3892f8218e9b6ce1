"""The picture as cells: for each cell a colour of the panel's palette, or empty."""

from collections import Counter
from collections.abc import Iterable
from typing import Any

import numpy as np
import numpy.typing as npt

from decor.calc.picture.lattice import Lattice

EMPTY = -1


class Chart:
    """Cells on a lattice; never changed in place.

    Args:
        cells: (rows, columns) whole numbers: the palette number from 0, or -1 for an empty cell.
        lattice: how the cells stand; of the same rows and columns.

    Raises:
        ValueError: naming the argument that is wrong.

    >>> chart = Chart([[0, 0, 1], [-1, 1, 1]], Lattice("offset", 2, 3, 0.1))
    >>> chart.runs(1)
    [(-1, 1), (1, 2)]
    >>> sorted(chart.counts().items())
    [(0, 2), (1, 3)]
    """

    __slots__ = ("cells", "lattice")

    cells: npt.NDArray[np.int32]
    lattice: Lattice

    def __init__(self, cells: npt.ArrayLike, lattice: Lattice) -> None:
        self.lattice = lattice
        self.cells = _checked_cells(cells, lattice)
        self.cells.setflags(write=False)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Chart):
            return NotImplemented
        return self.lattice == other.lattice and np.array_equal(self.cells, other.cells)

    def __hash__(self) -> int:
        return hash((self.lattice, self.cells.tobytes()))

    def __repr__(self) -> str:
        return f"Chart({self.lattice.rows} × {self.lattice.columns}, {self.filled} filled)"

    @property
    def filled(self) -> int:
        """How many cells hold a balloon."""
        return int(np.count_nonzero(self.cells != EMPTY))

    def counts(self) -> Counter[int]:
        """Filled cells by palette number; 0 for a colour that is not used."""
        numbers, amounts = np.unique(self.cells[self.cells != EMPTY], return_counts=True)
        return Counter(dict(zip(numbers.tolist(), amounts.tolist(), strict=True)))

    def runs(self, row: int, *, start: int = 0, stop: int | None = None) -> list[tuple[int, int]]:
        """Neighbouring cells of one colour along a row, from left to right.

        Args:
            row: 0…rows-1.
            start, stop: only the columns from ``start`` up to, not with, ``stop``, as for a sheet.

        Returns:
            [(colour, length)], empty cells as colour -1.

        Raises:
            ValueError: ``row`` or the columns are outside the chart.
        """
        self._check_inside(row, start)
        stop = self.lattice.columns if stop is None else stop
        if not start < stop <= self.lattice.columns:
            raise ValueError(f"stop: must lie in {start + 1}…{self.lattice.columns}, not {stop}")
        cells = self.cells[row, start:stop]
        ends = [*(np.flatnonzero(np.diff(cells)) + 1).tolist(), len(cells)]
        starts = [0, *ends[:-1]]
        return [(int(cells[first]), end - first) for first, end in zip(starts, ends, strict=True)]

    def with_cells(self, changes: Iterable[tuple[int, int, int]]) -> "Chart":
        """A new chart with (row, column, colour) changed; later changes win.

        >>> Chart([[0, 0]], Lattice("square", 1, 2, 0.1)).with_cells([(0, 1, 3)]).cells.tolist()
        [[0, 3]]
        """
        cells = self.cells.copy()
        for row, column, colour in changes:
            self._check_inside(row, column)
            cells[row, column] = colour
        return Chart(cells, self.lattice)

    def to_plain(self) -> dict[str, Any]:
        """The chart as dicts, lists, strings and numbers, ready for JSON."""
        lattice = self.lattice
        return {
            "kind": lattice.kind,
            "rows": lattice.rows,
            "columns": lattice.columns,
            "pitch_m": lattice.pitch_m,
            "row_pitch_m": lattice.row_pitch_m,
            "cells": self.cells.tolist(),
        }

    @classmethod
    def from_plain(cls, plain: dict[str, Any]) -> "Chart":
        """The chart that `to_plain` gave.

        Raises:
            ValueError: a key is missing, or its value is not one that a chart can have.
        """
        try:
            lattice = Lattice(*(plain[name] for name in ("kind", "rows", "columns", "pitch_m", "row_pitch_m")))
            cells = plain["cells"]
        except KeyError as missing:
            raise ValueError(f"plain: has no {missing.args[0]!r}") from None
        return cls(cells, lattice)

    def _check_inside(self, row: int, column: int) -> None:
        for name, value, size in (("row", row, self.lattice.rows), ("column", column, self.lattice.columns)):
            if not 0 <= value < size:
                raise ValueError(f"{name}: must lie in 0…{size - 1}, not {value}")


def _checked_cells(cells: npt.ArrayLike, lattice: Lattice) -> npt.NDArray[np.int32]:
    try:
        given = np.asarray(cells)
    except ValueError:
        raise ValueError("cells: its rows are not of one length") from None
    if given.shape != (lattice.rows, lattice.columns):
        raise ValueError(f"cells: must be {lattice.rows} × {lattice.columns}, not {given.shape}")
    if given.dtype.kind not in "iu":
        raise ValueError(f"cells: must be whole numbers, not {given.dtype}")
    if given.min() < EMPTY or given.max() > np.iinfo(np.int32).max:
        raise ValueError("cells: a colour is a number from 0, or -1 for an empty cell")
    return given.astype(np.int32)
