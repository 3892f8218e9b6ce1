"""Which two balloons are tied together: the pairing with the fewest mixed pairs.

A pair fills two cells that touch. Every cell that can be paired is (as many pairs as there can be at all), and
among those pairings the one with the fewest mixed pairs is sought, then with few kinds of mixed pairs, then with few
pairs between two rows.

On a square lattice, and along rows alone, the cells fall into two sets like a chessboard's, so that the first answer
is a min-cost flow and its number of mixed pairs the least there can be. On a staggered lattice they do not. There
the flow sees only part of the touching cells at a time: it is solved again and again, each time with a division into
two sets that keeps the pairs so far and lets in other touching cells, so that it never gets worse. What is left above
the least there can be is held against a blossom matching in the tests.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from decor.calc.picture.chart import EMPTY, Chart

Numbers = npt.NDArray[np.int64]
Marks = npt.NDArray[np.bool_]

_MIXED, _ROWS, _KINDS = 0, 1, 2
_WHOLE_CELLS = 9_000
"""A block up to this is paired in one go first; a larger one in squares, mended along their seams afterwards."""
_WINDOW = 20
"""Side of the squares in which a pairing is bettered, in cells."""
_SMALL_CELLS = 700
"""So many are bettered whole. Smaller blocks are put together up to about so many: a flow of twice the cells takes
more than twice as long."""
_ROUNDS = {
    "square": ((_KINDS, 2),),
    "square, in parts": ((_ROWS, 0), (_KINDS, 0)),
    "staggered": ((_MIXED, 6), (_MIXED, 6), (_ROWS, 0), (_KINDS, 0)),
    "small and staggered": (*[(_MIXED, 6)] * 5, (_ROWS, 0), (_ROWS, 0), (_KINDS, 0)),
}
"""What each round minds besides the mixed pairs: nothing, also pairs between rows, also their kinds. Minding more
takes longer, so that comes once the mixed pairs are few. With it the side in cells of the squares round a mixed pair
that are looked at again; 0 for all. A square lattice's whole blocks begin with the fewest pairs between rows."""
_SWEEPS = 12
_RAREST = 15
"""What the rarest kind of mixed pair weighs against a common one."""


@dataclass(frozen=True, eq=False)
class Pairs:
    """How a chart's balloons are tied.

    `pairs` (k, 2): cell numbers, the lower first, in rising order; `singles` (s,): cells that stand alone.
    Every filled cell is in exactly one of them.
    """

    chart: Chart
    pairs: Numbers
    singles: Numbers

    @cached_property
    def colours(self) -> Numbers:
        """(k, 2) colours of each pair, the lower number first."""
        return np.sort(self.chart.cells.ravel()[self.pairs].astype(np.int64), axis=1)

    @cached_property
    def is_mixed(self) -> Marks:
        """(k,) whether a pair is of two colours."""
        return np.asarray(self.colours[:, 0] != self.colours[:, 1])

    @cached_property
    def is_between_rows(self) -> Marks:
        """(k,) whether a pair fills cells of two rows."""
        rows = self.pairs // self.chart.lattice.columns
        return np.asarray(rows[:, 0] != rows[:, 1])

    @property
    def mixed(self) -> int:
        return int(np.count_nonzero(self.is_mixed))

    @property
    def between_rows(self) -> int:
        return int(np.count_nonzero(self.is_between_rows))

    def kinds(self, within: Marks | None = None) -> Counter[tuple[int, int]]:
        """Pairs by their two colours, the lower number first; `within` (k,) counts only those marked.

        >>> from decor.calc.picture.lattice import Lattice
        >>> sorted(plan_pairs(Chart([[0, 0, 1, 0]], Lattice("square", 1, 4, 0.1))).kinds().items())
        [((0, 0), 1), ((0, 1), 1)]
        """
        colours = self.colours if within is None else self.colours[within]
        found, amounts = np.unique(colours.reshape(-1, 2), axis=0, return_counts=True)
        return Counter({(int(a), int(b)): int(n) for (a, b), n in zip(found.tolist(), amounts, strict=True)})

    def single_kinds(self) -> Counter[int]:
        """Single balloons by colour."""
        found, amounts = np.unique(self.chart.cells.ravel()[self.singles], return_counts=True)
        return Counter({int(colour): int(n) for colour, n in zip(found, amounts, strict=True)})


def plan_pairs(
    chart: Chart,
    blocks: npt.ArrayLike | None = None,
    between_rows: bool = True,  # noqa: FBT001, FBT002
) -> Pairs:
    """Ties the chart's balloons in pairs.

    Args:
        chart: what is loaded; empty cells take no balloon.
        blocks: (n,) whole numbers, each cell's sheet or section; no pair leaves its block. One block by default.
        between_rows: whether a pair may also fill cells of two rows next to each other.

    Raises:
        ValueError: ``blocks`` are not a whole number for each cell.
    """
    colours = chart.cells.ravel().astype(np.int64)
    block = blocks_checked(blocks, len(colours))
    touching = _touching(chart, block, between_rows)
    mate = np.full(len(colours), -1, dtype=np.int64)
    work = _Work(chart, colours, touching, mate)
    for cells in _first_parts(chart, block, colours != EMPTY):
        work.pair_anew(cells)
    _better(work, block, between_rows)
    lower = np.flatnonzero(mate > np.arange(len(mate)))
    singles = np.flatnonzero((mate < 0) & (colours != EMPTY))
    return Pairs(chart, np.stack([lower, mate[lower]], axis=1), singles)


def plan_pairs_left_to_right(chart: Chart, blocks: npt.ArrayLike | None = None) -> Pairs:
    """What is done without a plan: along each row, every cell with the next one that is free."""
    colours = chart.cells.ravel().astype(np.int64)
    block = blocks_checked(blocks, len(colours))
    pairs: list[tuple[int, int]] = []
    singles: list[int] = []
    for run in _paths(chart, block):
        pairs += [(cell, cell + 1) for cell in run[0 : len(run) - 1 : 2]]
        singles += [run[-1]] if len(run) % 2 else []
    return Pairs(chart, np.array(pairs, dtype=np.int64).reshape(-1, 2), np.array(singles, dtype=np.int64))


def _paths(chart: Chart, block: Numbers) -> Iterator[range]:
    """Filled cells of one row and one block that stand next to each other."""
    colours, columns = chart.cells.ravel(), chart.lattice.columns
    filled = colours != EMPTY
    cell = np.arange(len(colours))
    follows = np.zeros(len(colours), dtype=np.bool_)
    follows[1:] = filled[1:] & filled[:-1] & (cell[1:] % columns != 0) & (block[1:] == block[:-1])
    starts = np.flatnonzero(filled & ~follows)
    lengths = np.diff(np.append(np.searchsorted(np.flatnonzero(filled), starts), filled.sum()))
    for start, length in zip(starts.tolist(), lengths.tolist(), strict=True):
        yield range(start, start + length)


def blocks_checked(blocks: npt.ArrayLike | None, cells: int) -> Numbers:
    """(n,) block numbers; all 0 where none are given. Raises ValueError naming `blocks`."""
    if blocks is None:
        return np.zeros(cells, dtype=np.int64)
    given = np.asarray(blocks)
    if given.size != cells or given.dtype.kind not in "iu":
        raise ValueError(f"blocks: must be {cells} whole numbers, one for each cell")
    return given.ravel().astype(np.int64)


def _touching(chart: Chart, block: Numbers, between_rows: bool) -> Numbers:  # noqa: FBT001
    """(m, 2) cells that a pair may fill."""
    colours, columns = chart.cells.ravel(), chart.lattice.columns
    found = chart.lattice.neighbours()
    one, other = found[:, 0], found[:, 1]
    may = (colours[one] != EMPTY) & (colours[other] != EMPTY) & (block[one] == block[other])
    if not between_rows:
        may &= one // columns == other // columns
    return np.asarray(found[may])


class _Work:
    """A pairing on its way: each cell's mate, -1 while it has none."""

    def __init__(self, chart: Chart, colours: Numbers, touching: Numbers, mate: Numbers) -> None:
        self.colours, self.touching, self.mate = colours, touching, mate
        self.columns = chart.lattice.columns
        row, column = np.divmod(np.arange(len(colours)), self.columns)
        self.row, self.column = row, column
        self.staggered = chart.lattice.staggered
        # On a staggered lattice a chessboard's two sets leave out one of the two cells below.
        self.side = (row + column) % 2
        self.mixed = colours[touching[:, 0]] != colours[touching[:, 1]]
        self.between = row[touching[:, 0]] != row[touching[:, 1]]
        palette = int(colours.max()) + 1 if len(colours) else 1
        pair = np.sort(colours[touching], axis=1)
        # Kinds of mixed pairs are numbered as they come, as a palette's square could be large.
        self.kind = np.unique(pair[:, 0] * palette + pair[:, 1], return_inverse=True)[1].ravel()
        self.part = np.full(len(colours), -1, dtype=np.int64)

    def pair_anew(self, cells: Numbers) -> None:
        """Pairs these cells among themselves, mixed pairs minded; where that is not just a beginning, those between
        rows after them."""
        edges = self._edges_among(cells)
        edges = edges[self._crossing(edges, self.side)]
        cost = self.mixed[edges].astype(np.int64)
        if not self.staggered:
            cost = cost * (len(cells) // 2 + 1) + self.between[edges]
        self._keep(edges, cost, self.side)

    def better(self, cells: Numbers, minds: int, rarity: Numbers, random: np.random.Generator) -> None:
        """Pairs these cells anew, as well as before or better; pairs that leave them stay."""
        mate = self.mate[cells]
        self.part[cells] = 0
        free = cells[(mate < 0) | (self.part[mate] == 0)]
        self.part[cells] = -1
        if not len(free):
            return
        edges = self._edges_among(free)
        side = self._new_sides(free, edges, minds, random) if self.staggered else self.side
        edges = edges[self._crossing(edges, side)]
        room = len(free) // 2 + 1
        cost = self.mixed[edges].astype(np.int64)
        if minds >= _ROWS:
            cost = cost * room + self.between[edges]
        if minds >= _KINDS:
            cost += self.mixed[edges] * room * (_RAREST * room + rarity[self.kind[edges]])
        self.mate[free] = -1
        self._keep(edges, cost, side)

    def near_trouble(self, cells: Numbers, near: int) -> Marks:
        """Which of the cells lie near a mixed pair or a single one: elsewhere nothing is to be gained."""
        mate = self.mate[cells]
        bad = cells[(mate < 0) | (self.colours[mate] != self.colours[cells])]
        across, down = self.column // near + 1, self.row // near + 1
        marked = np.zeros((int(down.max()) + 2, int(across.max()) + 2), dtype=np.bool_)
        for right in (-1, 0, 1):
            for below in (-1, 0, 1):
                marked[down[bad] + below, across[bad] + right] = True
        return np.asarray(marked[down[cells], across[cells]])

    def kinds_used(self) -> Numbers:
        """How often each kind is used so far."""
        one, other = self.touching[:, 0], self.touching[:, 1]
        kinds = int(self.kind.max(initial=0)) + 1
        return np.asarray(np.bincount(self.kind[self.mate[one] == other], minlength=kinds))

    def _edges_among(self, cells: Numbers) -> Numbers:
        self.part[cells] = 1
        # Only edges from the cells' own stretch: rising order makes that a slice.
        low, high = np.searchsorted(self.touching[:, 0], [cells.min(), cells.max() + 1])
        one, other = self.touching[low:high, 0], self.touching[low:high, 1]
        found = low + np.flatnonzero((self.part[one] == 1) & (self.part[other] == 1))
        self.part[cells] = -1
        return np.asarray(found)

    def _crossing(self, edges: Numbers, side: Numbers) -> Marks:
        one, other = self.touching[edges, 0], self.touching[edges, 1]
        return np.asarray(side[one] != side[other])

    def _new_sides(self, cells: Numbers, edges: Numbers, minds: int, random: np.random.Generator) -> Numbers:
        """Two sets that part every pair so far, and as many other cells that would go well together as they can.

        Each pair is a magnet that may lie either way; neighbours pull at it, again and again, until they agree.
        """
        mate = self.mate
        heads = cells[(mate[cells] < 0) | (mate[cells] > cells)]
        magnet = self.part.copy()
        magnet[heads] = np.arange(len(heads))
        tails = heads[mate[heads] >= 0]
        magnet[mate[tails]] = magnet[tails]
        tail = np.zeros(len(mate), dtype=np.int64)
        tail[mate[tails]] = 1
        one, other = self.touching[edges, 0], self.touching[edges, 1]
        apart = magnet[one] != magnet[other]
        one, other, edges = one[apart], other[apart], edges[apart]
        wish = np.where(self.mixed[edges], 1, 8) + np.where((mate[one] < 0) | (mate[other] < 0), 24, 0)
        wish = wish + random.integers(0, 4, len(edges)) + (6 if minds >= _ROWS else 0) * ~self.between[edges]
        lies = _magnets_settled(
            magnet[one], magnet[other], np.where(tail[one] == tail[other], wish, -wish), len(heads), random
        )
        side = np.zeros(len(mate), dtype=np.int64)
        side[cells] = tail[cells] ^ lies[magnet[cells]]
        return side

    def _keep(self, edges: Numbers, cost: Numbers, side: Numbers) -> None:
        chosen = edges[_most_at_least_cost(self.touching[edges], cost, side)]
        one, other = self.touching[chosen, 0], self.touching[chosen, 1]
        self.mate[one], self.mate[other] = other, one


def _magnets_settled(one: Numbers, other: Numbers, pull: Numbers, magnets: int, random: np.random.Generator) -> Numbers:
    """(magnets,) 0 or 1, so that many pairs (one, other) of positive pull differ, and of negative pull agree."""
    lies = random.integers(0, 2, magnets) * 2 - 1
    for _ in range(_SWEEPS):
        drawn = np.bincount(one, pull * lies[other], magnets) + np.bincount(other, pull * lies[one], magnets)
        turns = (drawn * lies > 0) & (random.random(magnets) < 0.5)
        lies = np.where(turns, -lies, lies)
    return (lies + 1) // 2


def _most_at_least_cost(edges: Numbers, cost: Numbers, side: Numbers) -> Numbers:
    """Which of the edges (m, 2) between side 0 and side 1 are pairs: as many as can be, at the least cost."""
    if not len(edges):
        return np.empty(0, dtype=np.int64)
    from ortools.graph.python import min_cost_flow  # loaded late: only where pairs are planned

    cells, number = np.unique(edges, return_inverse=True)
    number = number.reshape(edges.shape)
    swap = side[edges[:, 0]] == 1
    tail, head = np.where(swap, number[:, 1], number[:, 0]), np.where(swap, number[:, 0], number[:, 1])
    left, right = np.flatnonzero(side[cells] == 0), np.flatnonzero(side[cells] == 1)
    source, sink = len(cells), len(cells) + 1
    flow = min_cost_flow.SimpleMinCostFlow()
    arcs = flow.add_arcs_with_capacity_and_unit_cost(tail, head, np.ones(len(edges), dtype=np.int64), cost)
    for start, end in (
        (np.full(len(left), source), left),
        (right, np.full(len(right), sink)),
    ):
        flow.add_arcs_with_capacity_and_unit_cost(start, end, np.ones_like(start), np.zeros_like(start))
    most = min(len(left), len(right))
    flow.set_nodes_supplies(np.array([source, sink]), np.array([most, -most]))
    status = flow.solve_max_flow_with_min_cost()
    if status != flow.OPTIMAL:
        raise RuntimeError(f"the flow solver stopped with {status}")
    return np.flatnonzero(flow.flows(arcs) > 0)


def _first_parts(chart: Chart, block: Numbers, filled: Marks) -> list[Numbers]:
    """The filled cells in the parts that are paired in one go: whole blocks, several small ones together, and of a
    block that is too large its squares."""
    cell = np.flatnonzero(filled)
    row, column = np.divmod(cell, chart.lattice.columns)
    size = np.unique(block[cell], return_inverse=True, return_counts=True)
    large = size[2][size[1].ravel()] > _WHOLE_CELLS
    squares = np.where(large, (row // (3 * _WINDOW)) * 4096 + column // (3 * _WINDOW) + 1, 0)
    return _grouped(cell, (squares, block[cell]), _WHOLE_CELLS if large.any() else _SMALL_CELLS)


def _better(work: _Work, block: Numbers, between_rows: bool) -> None:  # noqa: FBT001
    """Rounds of mending in squares that lie elsewhere each time."""
    filled = np.flatnonzero(work.colours != EMPTY)
    small = len(filled) <= _SMALL_CELLS
    kind = "square" if np.bincount(block - block.min(initial=0)).max(initial=0) <= _WHOLE_CELLS else "square, in parts"
    if work.staggered and between_rows:
        kind = "small and staggered" if small else "staggered"
    random = np.random.default_rng(7)
    for turn, (minds, near) in enumerate(_ROUNDS[kind]):
        rarity = _RAREST // np.maximum(work.kinds_used(), 1)
        open_cells = filled[work.near_trouble(filled, near)] if near else filled
        for cells in _windows(work, open_cells, block, 1 if small else turn):
            work.better(cells, minds, rarity, random)


def _windows(work: _Work, filled: Numbers, block: Numbers, turn: int) -> list[Numbers]:
    """Squares moved on with each turn; a small block stays whole."""
    shift_down, shift_right = (turn * 11) % _WINDOW, (turn * 17) % _WINDOW
    squares = (work.row[filled] + shift_down) // _WINDOW * 4096 + (work.column[filled] + shift_right) // _WINDOW
    if len(filled) <= _SMALL_CELLS:
        squares = np.zeros_like(squares)
    return _grouped(filled, (squares, block[filled]), _WINDOW**2)


def _grouped(cells: Numbers, keys: tuple[Numbers, ...], about: int) -> list[Numbers]:
    """The cells in groups of equal keys, small groups put together up to about so many cells; rising in each."""
    if not len(cells):
        return []
    order = np.lexsort(keys[::-1])
    changes = np.any([np.diff(key[order]) != 0 for key in keys], axis=0)
    starts = np.concatenate([[0], np.flatnonzero(changes) + 1])
    cuts, filled_from = [], 0
    for start, stop in zip(starts.tolist(), [*starts[1:].tolist(), len(cells)], strict=True):
        if start > filled_from and stop - filled_from > about:
            cuts.append(start)
            filled_from = start
    return [np.sort(group) for group in np.split(cells[order], cuts)]
