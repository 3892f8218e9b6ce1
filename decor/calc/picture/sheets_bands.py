"""Covers an outline with bands of sheets: the cheapest way to cut it across, each band again into stacks of sheets.

Bands may begin at any row and the stacks of each at any column, so that spare cells fall where the outline has
room for them. Exact among such plans (dynamic programming); `tile` compares both directions.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from decor.calc.picture.sheets_costs import Bools, Floats, Ground, Place, SheetSize

Whole = npt.NDArray[np.int64]

MOST_BAND_HEIGHTS = 6
"""Heights of a band that are tried, the smallest sums of sheet rows first."""


class _Bands:
    """`costs[size]` (tall, wide) by position, `filled` with the same origin; ``lengths`` are (along the stack, across
    it) of each size."""

    def __init__(self, costs: list[Floats], filled: Floats, lengths: list[tuple[int, int]]) -> None:
        self.costs, self.lengths = costs, lengths
        self.tall, self.wide = costs[0].shape
        self.filled = filled
        self.above = np.zeros((filled.shape[0] + 1, self.wide))
        np.cumsum(filled[:, : self.wide], axis=0, out=self.above[1:])
        self.heights = _sums([down for down, _ in lengths])
        self.widths = sorted({across for _, across in lengths})
        self.stacks: dict[tuple[int, int], tuple[Floats, Whole]] = {}
        for height in self.heights:
            for width in self.widths:
                self._stack(height, width)
        self.along = {height: self._band(height) for height in self.heights}

    def _stack(self, height: int, width: int) -> None:
        """The cheapest sheets one above another that together are so high and wide, at each position."""
        best = np.full((self.tall, self.wide), np.inf)
        which = np.full(best.shape, -1)
        for number, (down, across) in enumerate(self.lengths):
            if across != width or down > height:
                continue
            cost = self.costs[number]
            if down < height:
                if (height - down, width) not in self.stacks:
                    continue
                below = self.stacks[height - down, width][0]
                cost = cost + np.pad(below[down:], ((0, min(down, self.tall)), (0, 0)))[: self.tall]
            better = cost < best
            best[better], which[better] = cost[better], number
        self.stacks[height, width] = best, which

    def _empty_columns(self, height: int) -> Bools:
        """(tall, wide): whether a band of that height holds no cell in the column."""
        empty: Bools = self.above[height : height + self.tall] == self.above[: self.tall]
        return empty

    def _band(self, height: int) -> tuple[Floats, Whole]:
        """(wide + 1, tall) cost from each column on, and (wide, tall) the stack's width there, 0 to pass it."""
        rest: Floats = np.zeros((self.wide + 1 + self.widths[-1], self.tall))
        taken = np.zeros((self.wide, self.tall), dtype=np.int64)
        # A column at a time is read in one piece.
        empty = np.ascontiguousarray(self._empty_columns(height).T)
        stacks = [(width, np.ascontiguousarray(self.stacks[height, width][0].T)) for width in self.widths]
        for column in range(self.wide - 1, -1, -1):
            best = np.where(empty[column], rest[column + 1], np.inf)
            for width, cost in stacks:
                here = cost[column] + rest[column + width]
                taken[column, here < best] = width
                np.minimum(best, here, out=best)
            rest[column] = best
        return rest, taken

    def solve(self) -> tuple[float, list[tuple[int, int, int]]]:
        rest = np.zeros(self.tall + 1 + self.heights[-1])
        taken = np.zeros(self.tall, dtype=np.int64)
        empty: Bools = ~np.any(self.filled, axis=1)
        for row in range(self.tall - 1, -1, -1):
            best = rest[row + 1] if empty[row] else np.inf
            for height in self.heights:
                cost = self.along[height][0][0, row] + rest[row + height]
                if cost < best:
                    best, taken[row] = cost, height
            rest[row] = best
        if not np.isfinite(rest[0]):
            return float("inf"), []
        return float(rest[0]), self._places(taken)

    def _places(self, heights: Whole) -> list[tuple[int, int, int]]:
        found, row = [], 0
        while row < self.tall:
            height = int(heights[row])
            if not height:
                row += 1
                continue
            taken, column = self.along[height][1], 0
            while column < self.wide:
                width = int(taken[column, row])
                found += self._sheets(height, width, row, column) if width else []
                column += width or 1
            row += height
        return found

    def _sheets(self, height: int, width: int, row: int, column: int) -> list[tuple[int, int, int]]:
        found = []
        while height and row < self.tall:
            number = int(self.stacks[height, width][1][row, column])
            down = self.lengths[number][0]
            found.append((row, column, number))
            row, height = row + down, height - down
        return found


def _sums(lengths: Sequence[int]) -> list[int]:
    """Sums of lengths up to the largest, the single ones always among them."""
    most = max(lengths)
    sums = {0}
    for total in range(1, most + 1):
        if any(total - length in sums for length in lengths):
            sums.add(total)
    single = set(lengths)
    others = sorted(sums - single - {0}, reverse=True)
    return sorted(single | set(others[: max(0, MOST_BAND_HEIGHTS - len(single))]))


def bands(ground: Ground, sizes: Sequence[SheetSize], costs: list[Floats], *, upright: bool) -> list[Place] | None:
    """The cheapest plan in level bands, or in upright ones; None where there is none."""
    filled = ground.filled.astype(np.float64)
    if upright:
        solver = _Bands([cost.T for cost in costs], filled.T, [(size.columns, size.rows) for size in sizes])
    else:
        solver = _Bands(costs, filled, [(size.rows, size.columns) for size in sizes])
    cost, found = solver.solve()
    if not np.isfinite(cost):
        return None
    turned = [(column, row, size) if upright else (row, column, size) for row, column, size in found]
    places = [Place(row - ground.above, column - ground.left, size) for row, column, size in turned]
    return [place for place in places if costs[place.size][place.row + ground.above, place.column + ground.left] > 0]
