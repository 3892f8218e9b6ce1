"""In which order balloons are tied end to end, so that the string falls into its cells as it is rolled in.

A serpentine runs along one row and back along the next, or down one column and up the next, from any of the four
corners: eight in all, and the one with the fewest runs of one colour is taken. `winding` has another route.
"""

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
import numpy.typing as npt

from decor.calc.picture.chart import EMPTY, Chart
from decor.calc.picture.pairs import blocks_checked

Numbers = npt.NDArray[np.int64]
Route = Literal["rows", "columns", "winding"]

HANDY_LENGTH = 50
"""Balloons on a string that one bag holds well (studio default, no source)."""
_STRETCH = 0.2
"""By how much a string may be longer or shorter, so that it ends with its row."""

CORNERS = ("top left", "top right", "bottom left", "bottom right")


@dataclass(frozen=True)
class Bag:
    """One string in its bag: cells `start` up to, not with, `stop` of the order; `number` counts from 1."""

    number: int
    start: int
    stop: int
    block: int
    runs: tuple[tuple[int, int], ...]

    @property
    def balloons(self) -> int:
        return self.stop - self.start


@dataclass(frozen=True, eq=False)
class Strings:
    """Balloons in the order in which they are tied and loaded.

    `order` (n,): each filled cell once, block after block by rising number; `blocks` (n,): the block of each.
    `route` and `corner` say how it goes; a winding one has no corner ("").
    """

    chart: Chart
    order: Numbers
    blocks: Numbers
    route: Route
    corner: str

    @cached_property
    def runs(self) -> list[tuple[int, int]]:
        """[(colour, length)] along the whole order."""
        return _runs(self.colours)

    @cached_property
    def colours(self) -> Numbers:
        """(n,) colours along the order."""
        return self.chart.cells.ravel()[self.order].astype(np.int64)

    @property
    def changes(self) -> int:
        """How often the colour changes."""
        return int(np.count_nonzero(np.diff(self.colours)))

    @cached_property
    def long_steps(self) -> npt.NDArray[np.bool_]:
        """(n - 1,) where the next cell does not touch the one before: over an opening, a corner or to a new block."""
        one, other = self.order[:-1], self.order[1:]
        low, high = np.minimum(one, other), np.maximum(one, other)
        touching = self.chart.lattice.neighbours()
        cells = self.chart.lattice.cells
        return ~np.isin(low * cells + high, touching[:, 0] * cells + touching[:, 1])

    def bags(self, length: int = HANDY_LENGTH) -> list[Bag]:
        """The order cut into strings of about `length` balloons, as even as can be, none over two blocks.

        A string ends with its row where that is near. Raises ValueError naming `length`.
        """
        if length < 1:
            raise ValueError("length: a string has at least one balloon")
        found: list[Bag] = []
        for start, stop in _stretches(self.blocks):
            cuts = _cuts(self._line_ends(start, stop), start, stop, length)
            for first, last in itertools.pairwise(cuts):
                runs = tuple(_runs(self.colours[first:last]))
                found.append(Bag(len(found) + 1, first, last, int(self.blocks[first]), runs))
        return found

    def _line_ends(self, start: int, stop: int) -> Numbers:
        """Places in the order after which another row, or column, begins."""
        line = self.order[start:stop] // self.chart.lattice.columns
        if self.route == "columns":
            line = self.order[start:stop] % self.chart.lattice.columns
        if self.route == "winding":
            return np.empty(0, dtype=np.int64)
        return start + 1 + np.flatnonzero(np.diff(line) != 0)


def plan_strings(chart: Chart, blocks: npt.ArrayLike | None = None) -> Strings:
    """The serpentine with the fewest runs; of equal ones along rows rather than columns, from the top left.

    Args:
        chart: what is loaded; empty cells are passed over.
        blocks: (n,) whole numbers, each cell's sheet or section; a block is finished before the next is begun.

    Raises:
        ValueError: ``blocks`` are not a whole number for each cell.

    >>> from decor.calc.picture.lattice import Lattice
    >>> stripes = plan_strings(Chart([[0, 1, 2], [0, 1, 2]], Lattice("square", 2, 3, 0.1)))
    >>> stripes.route, stripes.corner, stripes.order.tolist(), stripes.runs
    ('columns', 'top left', [0, 3, 4, 1, 2, 5], [(0, 2), (1, 2), (2, 2)])
    """
    return min(serpentines(chart, blocks), key=lambda strings: strings.changes)


def serpentines(chart: Chart, blocks: npt.ArrayLike | None = None) -> Iterator[Strings]:
    """All eight, along rows first."""
    block = blocks_checked(blocks, chart.lattice.cells)
    filled = np.flatnonzero(chart.cells.ravel() != EMPTY)
    row, column = np.divmod(filled, chart.lattice.columns)
    routes: tuple[tuple[Route, Numbers, Numbers], ...] = (("rows", row, column), ("columns", column, row))
    for route, line, along in routes:
        for corner in CORNERS:
            low, right = corner.startswith("bottom"), corner.endswith("right")
            backwards = (low, right) if route == "rows" else (right, low)
            at = _serpentine(line, along, block[filled], *backwards)
            yield Strings(chart, filled[at], block[filled[at]], route, corner)


def _serpentine(line: Numbers, along: Numbers, block: Numbers, last_first: bool, from_end: bool) -> Numbers:  # noqa: FBT001
    """Places in the order of loading; lines that hold nothing do not change the direction."""
    line = -line if last_first else line
    each = np.unique(block, return_inverse=True)[1].ravel()
    span = 2 * int(np.abs(line).max(initial=0)) + 1
    found, number = np.unique(each * span + line + span // 2, return_inverse=True)
    of_block = found // span
    nth = np.arange(len(found)) - np.searchsorted(of_block, of_block)
    back = (nth[number.ravel()] % 2 == 1) != from_end
    return np.lexsort((np.where(back, -along, along), line, block))


def _runs(colours: npt.NDArray[np.integer]) -> list[tuple[int, int]]:
    if not len(colours):
        return []
    starts = np.concatenate([[0], np.flatnonzero(np.diff(colours)) + 1])
    lengths = np.diff(np.append(starts, len(colours)))
    return list(zip(colours[starts].tolist(), lengths.tolist(), strict=True))


def _stretches(blocks: Numbers) -> Iterator[tuple[int, int]]:
    """Start and stop of each stretch of one block."""
    edges = [0, *(np.flatnonzero(np.diff(blocks)) + 1).tolist(), len(blocks)]
    return ((start, stop) for start, stop in itertools.pairwise(edges) if stop > start)


def _cuts(ends: Numbers, start: int, stop: int, length: int) -> list[int]:
    """Places at which the stretch is cut, its own ends among them."""
    strings = -(-(stop - start) // length)
    cuts = [start]
    for nth in range(1, strings):
        cut = start + round((stop - start) * nth / strings)
        near = ends[np.abs(ends - cut) <= _STRETCH / 2 * length]
        if len(near):
            cut = int(near[np.argmin(np.abs(near - cut))])
        if cut > cuts[-1]:
            cuts.append(cut)
    return [*cuts, stop]
