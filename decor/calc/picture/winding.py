"""A winding route for strings: far fewer runs of one colour than a serpentine's, and harder to follow.

It goes once round a tree that joins squares of four cells, and the tree is the one that gives the fewest changes of
colour: a minimum spanning tree, each branch's weight being what it changes.
"""

from collections.abc import Iterator, Mapping
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from decor.calc.picture.chart import EMPTY, Chart
from decor.calc.picture.pairs import blocks_checked
from decor.calc.picture.strings import Strings

Numbers = npt.NDArray[np.int64]


def winding(chart: Chart, blocks: npt.ArrayLike | None = None) -> Strings:
    """A route round a tree of squares of four cells, block after block.

    Cells that no whole square covers (an odd row, the edge of an outline) are put in where the route passes them; a
    part of the panel without any square is a string of its own. Raises ValueError naming `blocks`.
    """
    block = blocks_checked(blocks, chart.lattice.cells)
    order = [_wound(chart, block == number) for number in np.unique(block[chart.cells.ravel() != EMPTY])]
    joined = np.concatenate(order) if order else np.empty(0, dtype=np.int64)
    return Strings(chart, joined, block[joined], "winding", "")


def _wound(chart: Chart, inside: npt.NDArray[np.bool_]) -> Numbers:
    """The best of the ways in which squares can lie, of one block."""
    use = (chart.cells != EMPTY) & inside.reshape(chart.cells.shape)
    best: Numbers | None = None
    least = -1
    for down, right in {(0, 0), (chart.lattice.rows % 2, 0), (0, chart.lattice.columns % 2)}:
        order = _Winding(chart, use).around(down, right)
        runs = int(np.count_nonzero(np.diff(chart.cells.ravel()[order])))
        if best is None or runs < least:
            best, least = order, runs
    assert best is not None
    return best


class _Winding:
    """Cells as rings and chains: `after` and `before` each cell, -1 at an end and -2 while it is in none."""

    def __init__(self, chart: Chart, use: npt.NDArray[np.bool_]) -> None:
        self.chart, self.use = chart, use
        self.columns = chart.lattice.columns
        self.colour: list[int] = chart.cells.ravel().tolist()
        self.after = [-2] * len(self.colour)
        self.before = [-2] * len(self.colour)
        self.near = _near(chart, use)

    def around(self, down: int, right: int) -> Numbers:
        for ring in self._rings(down, right):
            for one, other in zip(ring, ring[1:] + ring[:1], strict=True):
                self.after[one], self.before[other] = other, one
        self._put_in_the_rest()
        return np.array([cell for string in self._strings() for cell in string], dtype=np.int64)

    def _rings(self, down: int, right: int) -> Iterator[list[int]]:
        """The walk round each tree of squares that begin at (down, right)."""
        ways = _ways(self.chart, self.use, down, right)
        seen = [False] * len(self.colour)
        for start in sorted(ways):
            if seen[start]:
                continue
            ring, last, cell = [], -1, start
            while not seen[cell]:
                seen[cell] = True
                ring.append(cell)
                one, other = ways[cell]
                last, cell = cell, (other if one == last else one)
            yield ring

    def _put_in_the_rest(self) -> None:
        rest = [cell for cell in np.flatnonzero(self.use.ravel()).tolist() if self.after[cell] == -2]
        rest = [cell for cell in rest if not self._put_in_two(cell)]
        while rest:
            left = [cell for cell in rest if self.after[cell] == -2 and not self._put_in_one(cell)]
            if len(left) == len(rest):
                # Nothing passes by: a string of its own begins.
                self.after[left[0]] = self.before[left[0]] = -1
                left = left[1:]
            rest = left

    def _put_in_two(self, cell: int) -> bool:
        """Two cells beside a stretch of the route: it goes out by one and comes back by the other."""
        if self.after[cell] != -2:
            return True
        for other in self.near[cell]:
            if self.after[other] != -2:
                continue
            for beside in self.near[cell]:
                if self.after[beside] < 0:
                    continue
                if self.after[beside] in self.near[other]:
                    self._insert(beside, cell, other)
                    return True
                if self.before[beside] in self.near[other]:
                    self._insert(self.before[beside], other, cell)
                    return True
        return False

    def _put_in_one(self, cell: int) -> bool:
        """After or before a cell that it touches: best where it touches both, and is of their colour."""
        places = []
        for beside in self.near[cell]:
            if self.after[beside] == -2:
                continue
            places.append((self._misfit(beside, cell, self.after[beside]), beside, True))
            places.append((self._misfit(self.before[beside], cell, beside), beside, False))
        if not places:
            return False
        _, beside, behind = min(places)
        if behind:
            self._insert(beside, cell)
        elif self.before[beside] >= 0:
            self._insert(self.before[beside], cell)
        else:
            self.before[cell], self.after[cell], self.before[beside] = -1, beside, cell
        return True

    def _misfit(self, one: int, cell: int, other: int) -> int:
        """What it costs to lie between the two: far steps first, then changes of colour; ends are free."""
        ends = [end for end in (one, other) if end >= 0]
        far = sum(end not in self.near[cell] for end in ends)
        changes = sum(self.colour[end] != self.colour[cell] for end in ends)
        had = len(ends) == 2 and self.colour[one] != self.colour[other]
        return 4 * far + changes - had

    def _insert(self, at: int, *cells: int) -> None:
        end = self.after[at]
        chain = [at, *cells]
        for one, other in pairwise(chain):
            self.after[one], self.before[other] = other, one
        self.after[chain[-1]] = end
        if end >= 0:
            self.before[end] = chain[-1]

    def _strings(self) -> Iterator[list[int]]:
        """Each ring opened where it is best, each chain from its end; the nearest to the top left first."""
        seen = [False] * len(self.colour)
        for cell in np.flatnonzero(self.use.ravel()).tolist():
            if seen[cell]:
                continue
            string = self._opened(cell)
            for one in string:
                seen[one] = True
            yield string

    def _opened(self, cell: int) -> list[int]:
        first = cell
        while self.before[first] >= 0 and self.before[first] != cell:
            first = self.before[first]
        string = [first]
        while self.after[string[-1]] >= 0 and self.after[string[-1]] != first:
            string.append(self.after[string[-1]])
        if self.after[string[-1]] != first:
            return string
        # A ring is best opened at a far step, or where the colour changes anyway, next to the top left.
        cuts = [
            (-(other not in self.near[one]), -(self.colour[one] != self.colour[other]), other, at + 1)
            for at, (one, other) in enumerate(zip(string, string[1:] + string[:1], strict=True))
        ]
        start = min(cuts)[3] % len(string)
        return string[start:] + string[:start]


def _near(chart: Chart, use: npt.NDArray[np.bool_]) -> list[list[int]]:
    """Cells in use that each cell touches."""
    near: list[list[int]] = [[] for _ in range(chart.lattice.cells)]
    used = use.ravel()
    pairs = chart.lattice.neighbours()
    for one, other in pairs[used[pairs[:, 0]] & used[pairs[:, 1]]].tolist():
        near[one].append(other)
        near[other].append(one)
    return near


def _ways(chart: Chart, use: npt.NDArray[np.bool_], down: int, right: int) -> dict[int, list[int]]:
    """The two cells on either side of each cell of a whole square, on the walk round its tree."""
    number = np.arange(use.size).reshape(use.shape)[down:, right:]
    used, cells = use[down:, right:], chart.cells[down:, right:]
    rows, columns = (used.shape[0] // 2) * 2, (used.shape[1] // 2) * 2
    corner = {(a, b): (number[a:rows:2, b:columns:2], cells[a:rows:2, b:columns:2]) for a in (0, 1) for b in (0, 1)}
    whole = np.all([used[a:rows:2, b:columns:2] for a in (0, 1) for b in (0, 1)], axis=0)
    if not whole.any():
        return {}
    level, upright = _tree(whole, {key: colours for key, (_, colours) in corner.items()})
    numbers = {key: cell for key, (cell, _) in corner.items()}
    ways: dict[int, list[int]] = {cell: [] for part in numbers.values() for cell in part[whole].tolist()}
    for one, other in _walls(numbers, whole, level, upright):
        for a, b in zip(one.tolist(), other.tolist(), strict=True):
            ways[a].append(b)
            ways[b].append(a)
    return ways


Corners = Mapping[tuple[int, int], npt.NDArray[np.integer]]
Grid = npt.NDArray[np.bool_]


def _walls(
    numbers: Corners, whole: Grid, level: Grid, upright: Grid
) -> Iterator[tuple[npt.NDArray[np.integer], npt.NDArray[np.integer]]]:
    """The steps of the walk: along a square's side where no branch leaves it, across where one does.

    `level` marks the branches from each square to the one on its right, `upright` to the one below.
    """
    left = np.zeros_like(whole)
    left[:, 1:] = level[:, :-1]
    above = np.zeros_like(whole)
    above[1:] = upright[:-1]
    for one, other, branch in (
        ((0, 0), (0, 1), above),
        ((1, 0), (1, 1), upright),
        ((0, 0), (1, 0), left),
        ((0, 1), (1, 1), level),
    ):
        side = whole & ~branch
        yield numbers[one][side], numbers[other][side]
    for a in (0, 1):
        across, further = level[:, :-1], upright[:-1]
        yield numbers[a, 1][:, :-1][across], numbers[a, 0][:, 1:][across]
        yield numbers[1, a][:-1][further], numbers[0, a][1:][further]


def _tree(whole: Grid, colours: Corners) -> tuple[Grid, Grid]:
    """Branches to the right and down, so that the walk round them changes colour least often."""
    from scipy.sparse import csr_array  # loaded late: only a winding route needs it
    from scipy.sparse.csgraph import minimum_spanning_tree

    number = np.arange(whole.size).reshape(whole.shape)
    differ = {
        (one, other): colours[one] != colours[other]
        for one, other in (((0, 1), (1, 1)), ((0, 0), (1, 0)), ((1, 0), (1, 1)), ((0, 0), (0, 1)))
    }
    right = np.zeros((whole.shape[0], max(0, whole.shape[1] - 1)), dtype=np.int64)
    below = np.zeros((max(0, whole.shape[0] - 1), whole.shape[1]), dtype=np.int64)
    for a in (0, 1):
        right += colours[a, 1][:, :-1] != colours[a, 0][:, 1:]
        below += colours[1, a][:-1] != colours[0, a][1:]
    right -= differ[(0, 1), (1, 1)][:, :-1].astype(np.int64) + differ[(0, 0), (1, 0)][:, 1:]
    below -= differ[(1, 0), (1, 1)][:-1].astype(np.int64) + differ[(0, 0), (0, 1)][1:]
    is_right, is_below = whole[:, :-1] & whole[:, 1:], whole[:-1] & whole[1:]
    one = np.concatenate([number[:, :-1][is_right], number[:-1][is_below]])
    other = np.concatenate([number[:, 1:][is_right], number[1:][is_below]])
    # A weight of 0 would be no branch at all.
    weight = np.concatenate([right[is_right], below[is_below]]) + 3
    kept = minimum_spanning_tree(csr_array((weight, (one, other)), shape=(whole.size, whole.size))).tocoo()
    level, upright = np.zeros_like(whole), np.zeros_like(whole)
    beside = kept.col == kept.row + 1
    # In a grid of one column the square below is also the next number.
    beside &= (kept.col % whole.shape[1] != 0) & (whole.shape[1] > 1)
    level.ravel()[kept.row[beside]] = True
    upright.ravel()[kept.row[~beside]] = True
    return level, upright
