"""Gathering: single stray balloons change places with others, so that a colour lies together and is loaded in one go.

Each exchange leaves the number of balloons of every colour as it was. It is made where what the picture loses is less
than what the new neighbours of one colour are worth. Cells that do not touch each other are looked at together, so
that one exchange never spoils the sum of another.
"""

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from decor.calc.picture.colour import checked_srgb, delta_e_2000_table, srgb_to_lab
from decor.calc.picture.lattice import Lattice

Floats = npt.NDArray[np.float64]
Singles = npt.NDArray[np.float32]
Numbers = npt.NDArray[np.int64]
Marks = npt.NDArray[np.bool_]

PULL_DE = 1.0
"""What a neighbour of the same colour is worth, in CIEDE2000 (by eye, on photographs: strays go, features stay)."""
_MOST_ROUNDS = 6
_LEAST_SAVING = 1e-3
_WORTH_A_ROUND = 0.0005
"""Exchanges in less than this share of the cells are no reason for another round."""


def gather(
    numbers: npt.ArrayLike,
    cells_srgb: npt.ArrayLike,
    palette_srgb: npt.ArrayLike,
    lattice: Lattice,
    *,
    locked: npt.ArrayLike | None = None,
    pull: float = PULL_DE,
    weights: npt.ArrayLike | None = None,
) -> Numbers:
    """The chart with its stray balloons gathered; of each colour as many as before.

    Args:
        numbers: (n,) palette number of each cell, -1 where it is empty, row by row.
        cells_srgb: (n, 3) what the cells ought to be, sRGB 0…1.
        palette_srgb: (p, 3) sRGB 0…1.
        locked: (n,) -1 for cells that may change, anything else from 0 for those that stay.
        pull: what each neighbour of the same colour is worth, in CIEDE2000, from 0.
        weights: (n,) how much a cell's colour counts, above 0; 1 by default.

    Returns:
        (n,) numbers; empty and locked cells as they were.

    Raises:
        ValueError: an argument is not as described.

    >>> row, grey = Lattice("square", 1, 8, 0.1), [[0.5] * 3] * 8
    >>> gather([0, 0, 1, 0, 0, 1, 1, 1], grey, [[0.5] * 3, [0.6] * 3], row).tolist()
    [0, 0, 0, 0, 1, 1, 1, 1]
    """
    chart, cells, palette = _checked(numbers, cells_srgb, palette_srgb, lattice)
    if not pull >= 0.0:
        raise ValueError(f"pull: must be from 0, not {pull}")
    may = chart >= 0
    if locked is not None:
        may &= _per_cell("locked", locked, len(chart)) < 0
    costs = delta_e_2000_table(srgb_to_lab(cells), srgb_to_lab(palette))
    if weights is not None:
        costs *= _checked_weights(weights, len(chart)).astype(np.float32)[:, None]
    if pull == 0.0 or not may.any():
        return chart
    return _Gathering(chart, costs, lattice, may, pull).run()


def _checked(
    numbers: npt.ArrayLike, cells_srgb: npt.ArrayLike, palette_srgb: npt.ArrayLike, lattice: Lattice
) -> tuple[Numbers, Floats, Floats]:
    given = _per_cell("numbers", numbers, lattice.cells)
    cells, palette = checked_srgb("cells_srgb", cells_srgb), checked_srgb("palette_srgb", palette_srgb)
    if cells.shape != (lattice.cells, 3):
        raise ValueError(f"cells_srgb: the lattice has {lattice.cells:,} cells, given is {cells.shape}")
    if given.min() < -1 or given.max() >= len(palette):
        raise ValueError(f"numbers: must be -1 or below {len(palette)}")
    return given.copy(), cells, palette


def _per_cell(name: str, given: npt.ArrayLike, cells: int) -> Numbers:
    values = np.asarray(given)
    if values.shape != (cells,) or values.dtype.kind not in "iu":
        raise ValueError(f"{name}: needs a whole number for each of {cells:,} cells, is {values.dtype} {values.shape}")
    return values.astype(np.int64)


def _checked_weights(weights: npt.ArrayLike, cells: int) -> Floats:
    given = np.asarray(weights, dtype=np.float64)
    if given.shape != (cells,) or not bool(np.all(given > 0.0)):
        raise ValueError(f"weights: needs a number above 0 for each of {cells:,} cells")
    return given


class _Gathering:
    """One chart on its way: `around` are each cell's neighbours, `apart` the ways to part the cells that may change
    into sets in which no two touch."""

    def __init__(self, chart: Numbers, costs: Singles, lattice: Lattice, may: Marks, pull: float) -> None:
        self.chart, self.costs, self.pull = chart, costs, np.float32(pull)
        self.around = _around(lattice)
        self.apart = [[cells[may[cells]] for cells in sets] for sets in _apart(lattice)]

    def run(self) -> Numbers:
        few = 0
        for turn in range(_MOST_ROUNDS):
            exchanged = sum(self._exchange(cells) for cells in self.apart[turn % len(self.apart)])
            few = few + 1 if exchanged <= _WORTH_A_ROUND * len(self.chart) else 0
            if few == len(self.apart):
                break
        return self.chart

    def _exchange(self, cells: Numbers) -> int:
        """Exchanges among cells of which no two touch; how many."""
        if not len(cells):
            return 0
        own = self.chart[cells]
        change = self._changes(cells, own)
        used = np.zeros(len(cells), dtype=np.bool_)
        made = 0
        for one, other in _exchanges(change, own):
            if not (used[one] or used[other]):
                used[one] = used[other] = True
                self.chart[cells[one]], self.chart[cells[other]] = own[other], own[one]
                made += 1
        return made

    def _changes(self, cells: Numbers, own: Numbers) -> Singles:
        """(m, p) what it costs to give each of the cells another colour."""
        change: Singles = self.costs[cells]
        near = np.append(self.chart, -1)[self.around[cells]]
        for side in range(near.shape[1]):
            filled = np.flatnonzero(near[:, side] >= 0)
            change[filled, near[filled, side]] -= self.pull
        change -= change[np.arange(len(cells)), own][:, None].copy()
        return change


def _exchanges(change: Singles, own: Numbers) -> Iterator[tuple[int, int]]:
    """Exchanges that save, the best first. One cell may be in several of them."""
    at, into, saving = _wishes(change, own)
    if not len(at):
        return
    by_colour = np.argsort(own, kind="stable")
    edges = np.searchsorted(own[by_colour], np.arange(change.shape[1] + 1))
    pair = own[at] * change.shape[1] + into
    order = np.lexsort((saving, pair))
    starts = np.flatnonzero(np.diff(pair[order], prepend=-1))
    found: list[tuple[Singles, Numbers, Numbers]] = []
    for first, last in zip(starts, np.append(starts[1:], len(order)), strict=True):
        wishing, taking = at[order[first:last]], into[order[first]]
        found.append(_partners(change, own[wishing[0]], taking, wishing, by_colour[edges[taking] : edges[taking + 1]]))
    total, one, other = (np.concatenate(part) for part in zip(*found, strict=True))
    best = np.argsort(total, kind="stable")
    yield from zip(one[best].tolist(), other[best].tolist(), strict=True)


def _wishes(change: Singles, own: Numbers) -> tuple[Numbers, Numbers, Singles]:
    """The cells that save by an exchange with the cheapest cell of some colour, that colour, and what is saved
    (below 0)."""
    colours, row = change.shape[1], np.arange(len(own))
    # What the cheapest cell of each colour asks for giving up its place: [its colour, the colour it takes].
    order = np.argsort(own, kind="stable")
    held, starts = np.unique(own[order], return_index=True)
    asked = np.full((colours, colours), np.inf, dtype=np.float32)
    asked[held] = np.minimum.reduceat(change[order], starts, axis=0)
    both = change + asked.T[own]
    both[row, own] = np.inf
    into = both.argmin(axis=1)
    saving = both[row, into]
    at = np.flatnonzero(saving < -_LEAST_SAVING)
    return at, into[at], saving[at]


def _partners(
    change: Singles, giving: int, taking: int, wishing: Numbers, offers: Numbers
) -> tuple[Singles, Numbers, Numbers]:
    """The keenest of those that wish from one colour into another with the cheapest of those that have it."""
    prices = change[offers, giving]
    count = min(len(wishing), len(offers))
    if count < len(offers):
        cheapest = np.argpartition(prices, count - 1)[:count]
        offers, prices = offers[cheapest], prices[cheapest]
    ranked = np.argsort(prices, kind="stable")[:count]
    keen = wishing[np.argsort(change[wishing, taking], kind="stable")[:count]]
    total = change[keen, taking] + prices[ranked]
    keep = total < -_LEAST_SAVING
    return total[keep], keen[keep], offers[ranked][keep]


def _around(lattice: Lattice) -> Numbers:
    """(n, 4 or 6) the cells that touch each cell, n where there is none."""
    pairs = lattice.neighbours()
    ends = np.concatenate([pairs, pairs[:, ::-1]])
    ends = ends[np.argsort(ends[:, 0], kind="stable")]
    rank = np.arange(len(ends)) - np.searchsorted(ends[:, 0], ends[:, 0])
    around = np.full((lattice.cells, 6 if lattice.staggered else 4), lattice.cells)
    around[ends[:, 0], rank] = ends[:, 1]
    return around


def _apart(lattice: Lattice) -> list[list[Numbers]]:
    """Two ways to part all cells into sets in none of which two cells touch: few large ones, and more that also
    bring together cells which the large ones keep apart."""
    row, column = np.divmod(np.arange(lattice.cells), lattice.columns)
    if lattice.staggered:
        slant = column - row // 2  # with the row it tells the six neighbours apart by their differences alone
        ways = [((slant - row) % 3, 3), ((slant + 3 * row) % 7, 7)]
    else:
        ways = [((column + row) % 2, 2), ((column + 2 * row) % 5, 5)]
    return [[np.flatnonzero(group == one) for one in range(groups)] for group, groups in ways]
