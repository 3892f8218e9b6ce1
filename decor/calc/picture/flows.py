"""Sharing out limited stock at the least total cost: the transport problem, with a proof of how near the least it is.

Prices of scarcity settle most groups at once: a group takes what is cheapest at cost plus price. Only groups that
waver between several colours go into a flow of least cost. Any prices prove a lower bound (linear programming's
dual): what all groups pay for their cheapest, less what the stock is worth. Where the answer is not near enough to
the bound, more arcs are let in, in the end all, when it is the least.
"""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Singles = npt.NDArray[np.float32]
Numbers = npt.NDArray[np.int64]
Marks = npt.NDArray[np.bool_]

COST_UNITS = 10_000
"""Costs are whole numbers in the flow: one unit is 0.0001 of what the table is in."""
_GUESSED_WITHIN = 0.03
_SLACK_GROWTH = 2.0
_FEW_ARCS = 20_000
"""A table of no more entries goes into the flow whole."""
_BLOCK_ROWS = 2048
_PARTS_OF_THE_WAY = (1.0, 0.75)
"""From the prices before a flow to those that fit it: these know only the arcs let in and can go too far."""
_SHORTER_BY = 1e-9
"""What no longer counts as a cheaper chain of moves."""
_ROUNDING = 0.5 / COST_UNITS
"""What whole units can be off for each thing that is placed."""


class NoFlow(ValueError):
    """The stock cannot hold what is to be placed."""


@dataclass(frozen=True)
class Placed:
    """How many of each group go to each colour, one entry an arc used, and a proved lower bound of any total."""

    groups: Numbers
    colours: Numbers
    amounts: Numbers
    total: float
    bound: float
    prices: Floats


def place(
    cost: npt.ArrayLike,
    sizes: npt.ArrayLike,
    room: npt.ArrayLike,
    *,
    prices: npt.ArrayLike | None = None,
    tolerance: float = 0.0,
    within: float = _GUESSED_WITHIN,
) -> Placed:
    """The least total cost of placing all groups within the room of each colour.

    Args:
        cost: (g, p) of one thing of a group in a colour, from 0.
        sizes: (g,) how many things each group has, from 1.
        room: (p,) how many each colour can hold, from 0.
        prices: (p,) a first guess at what each colour's scarcity is worth, from 0; a bad one costs only time.
        tolerance: share of the total that may lie between it and the proved bound; 0 asks for the least, to
            0.00005 a thing.
        within: how good the guess is taken to be, as a share of a thing's mean cost; likewise.

    Raises:
        NoFlow: the room is less than the things.

    >>> placed = place([[1.0, 5.0], [1.0, 2.0]], [1, 1], [1, 9])
    >>> placed.total, placed.colours.tolist()
    (3.0, [0, 1])
    """
    table = np.asarray(cost, dtype=np.float32)
    amounts, limits = np.asarray(sizes, dtype=np.int64), np.asarray(room, dtype=np.int64)
    stocked = np.flatnonzero(limits)
    if int(limits.sum()) < int(amounts.sum()):
        raise NoFlow("room: is less than what is to be placed")
    if len(stocked) < table.shape[1]:
        table = np.ascontiguousarray(table[:, stocked])
    start = np.zeros(len(stocked)) if prices is None else np.asarray(prices, dtype=np.float64)[stocked]
    placed = _Search(table, amounts, limits[stocked], start).run(tolerance, within)
    priced = np.zeros(len(limits))
    priced[stocked] = placed.prices
    return replace(placed, colours=stocked[placed.colours], prices=priced)


@dataclass(frozen=True)
class _Priced:
    """Each group's cheapest column at some prices, what it costs there, and how much more the second costs."""

    prices: Floats
    choice: Numbers
    least: Singles
    margin: Singles
    bound: float


class _Search:
    """One problem on its way: `seen` are the prices that prove most, and what each group would take at them."""

    def __init__(self, table: Singles, sizes: Numbers, room: Numbers, prices: Floats) -> None:
        self.table, self.sizes, self.room = table, sizes, room
        self.seen = self._priced(prices)
        self.best: Placed | None = None

    def run(self, tolerance: float, within: float) -> Placed:
        mean = max(float(self.sizes @ self.table.min(axis=1).astype(np.float64)) / float(self.sizes.sum()), _ROUNDING)
        slack, most = within * mean, 2.0 * float(np.ptp(self.table)) + float(self.seen.prices.max())
        if self.table.size <= _FEW_ARCS:
            slack = np.inf
        gap = np.inf
        while True:
            before, gap = gap, np.inf
            placed = self._placed(slack)
            if placed is not None:
                if self.best is None or placed.total < self.best.total:
                    self.best = placed
                near = max(tolerance * self.best.total, _ROUNDING * float(self.sizes.sum()))
                gap = self.best.total - self.seen.bound
                if slack == np.inf or gap <= near:
                    bound = min(self.best.total, self.seen.bound)
                    return replace(self.best, bound=bound, prices=np.maximum(self.seen.prices, 0.0))
            elif slack == np.inf:
                raise NoFlow("room: the flow found no place for everything")
            # A flow betters the prices; with those no more arcs are needed, as long as that gets nearer.
            if gap > before / 2.0 or placed is None:
                slack = _SLACK_GROWTH * slack if slack < most else np.inf

    def _priced(self, prices: Floats) -> _Priced:
        """A block of rows at a time: the table is the largest thing there is, and no second one is made of it."""
        groups = len(self.table)
        choice = np.empty(groups, dtype=np.int64)
        least, second = np.empty(groups, dtype=np.float32), np.empty(groups, dtype=np.float32)
        added = prices.astype(np.float32)
        for start in range(0, groups, _BLOCK_ROWS):
            part = slice(start, start + _BLOCK_ROWS)
            block = self.table[part] + added
            row, chosen = np.arange(len(block)), block.argmin(axis=1)
            choice[part], least[part] = chosen, block[row, chosen]
            block[row, chosen] = np.inf
            second[part] = block.min(axis=1)
        # No answer costs less than what all groups would pay at these prices, less what the stock is worth.
        bound = float(self.sizes @ least.astype(np.float64)) - float(prices @ self.room)
        return _Priced(prices, choice, least, second - least, bound)

    def _placed(self, slack: float) -> Placed | None:
        """The cheapest when a group may only take what costs at most so much more, at the prices, than its cheapest;
        None where that cannot place all. Groups with one such column have no choice."""
        seen, count = self.seen, len(self.room)
        decided = seen.margin > slack
        only, wavering = np.flatnonzero(decided), np.flatnonzero(~decided)
        left = self.room - np.bincount(seen.choice[only], self.sizes[only], count).astype(np.int64)
        if (left < 0).any():
            return None
        costs = self.table[wavering]
        arcs = costs + seen.prices.astype(np.float32) <= (seen.least[wavering] + np.float32(slack))[:, None]
        flow = _flow(costs, self.sizes[wavering], left, arcs)
        if flow is None:
            return None
        costs[~arcs] = np.inf
        spare = left - np.bincount(flow[1], flow[2], count) > 0
        fitting = _fitting_prices(costs, flow, spare, seen.prices + slack / 2.0)
        for part in _PARTS_OF_THE_WAY:
            priced = self._priced(seen.prices + part * (fitting - seen.prices))
            if priced.bound > self.seen.bound:
                self.seen = priced
        groups = np.concatenate([only, wavering[flow[0]]])
        colours = np.concatenate([seen.choice[only], flow[1]])
        amounts = np.concatenate([self.sizes[only], flow[2]])
        total = float(self.table[groups, colours].astype(np.float64) @ amounts)
        return Placed(groups, colours, amounts, total, seen.bound, seen.prices)


def _fitting_prices(costs: Singles, flow: tuple[Numbers, Numbers, Numbers], spare: Marks, highest: Floats) -> Floats:
    """What one more balloon of each colour would save: 0 where some are to spare, else the cheapest chain of moves over
    the arcs to such a colour; ``highest`` where no chain leads.

    ``costs`` (g, p) are infinite where there is no arc.
    """
    count = costs.shape[1]
    moves = np.full((count, count), np.inf)
    order = np.argsort(flow[1], kind="stable")
    edges = np.searchsorted(flow[1][order], np.arange(count + 1))
    for colour in range(count):
        users = flow[0][order[edges[colour] : edges[colour + 1]]]
        if users.size:
            moves[colour] = (costs[users] - costs[users, colour][:, None]).min(axis=0)
    longest = 2.0 * float(costs[np.isfinite(costs)].max(initial=0.0)) + 1.0
    prices = np.where(spare, 0.0, np.where(np.isfinite(highest), highest, longest))
    for _ in range(count):
        shorter = np.minimum(prices, (moves + prices).min(axis=1))
        if float((prices - shorter).max(initial=0.0)) <= _SHORTER_BY:
            break
        prices = shorter
    return np.asarray(np.maximum(prices, 0.0))


def _flow(costs: Singles, sizes: Numbers, room: Numbers, arcs: Marks) -> tuple[Numbers, Numbers, Numbers] | None:
    """(group, colour, amount) of the flow of least cost over the arcs, None where there is none."""
    from ortools.graph.python import min_cost_flow  # loaded late: only limited stock needs it

    groups, colours = costs.shape
    if not groups:
        nothing = np.empty(0, dtype=np.int64)
        return nothing, nothing, nothing
    at, colour = np.nonzero(arcs)
    units = np.rint(costs[at, colour].astype(np.float64) * COST_UNITS).astype(np.int64)
    sink = groups + colours
    flow = min_cost_flow.SimpleMinCostFlow()
    tried = flow.add_arcs_with_capacity_and_unit_cost(at, groups + colour, sizes[at], units)
    flow.add_arcs_with_capacity_and_unit_cost(
        groups + np.arange(colours), np.full(colours, sink), room, np.zeros(colours, dtype=np.int64)
    )
    flow.set_nodes_supplies(np.arange(groups), sizes)
    flow.set_node_supply(sink, -int(sizes.sum()))
    status = flow.solve()
    if status == flow.INFEASIBLE:
        return None
    if status != flow.OPTIMAL:
        raise RuntimeError(f"the flow solver stopped with {status}")
    amounts = flow.flows(tried).astype(np.int64)
    used = amounts > 0
    return at[used], colour[used].astype(np.int64), amounts[used]
