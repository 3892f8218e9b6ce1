"""Which palette colour each cell gets: least total CIEDE2000, within stock where it is given.

Without limits each cell takes its nearest colour. With them it is a transport problem, solved as
a flow of least cost over the few colours that can pay for a cell at the colours' scarcity prices,
then proved against all colours; where the proof fails, more colours are let in.
"""

import numpy as np
import numpy.typing as npt

from decor.calc.picture.colour import checked_srgb, delta_e_2000_table, srgb_to_lab

Floats = npt.NDArray[np.float64]
Singles = npt.NDArray[np.float32]
Numbers = npt.NDArray[np.int64]
Costs = npt.NDArray[np.int32]  # the largest panel has 12 million of them

_COST_UNITS = 10_000
"""Costs are whole numbers in the flow: one unit is 0.0001 of colour difference."""
_FIRST_CHOICES = 12
_PRICE_ROUNDS = 20
_PRICE_SOFTNESS = (8.0, 4.0, 2.0, 1.0, 0.5)
_KEY_STEPS = (1 << 20) - 1
"""Cells closer than this many steps of 0…1 count as one colour (under 0.0002 in difference)."""


class NotEnoughStock(ValueError):
    """The cells outnumber the balloons; ``short_by`` tells by how many."""

    def __init__(self, short_by: int) -> None:
        self.short_by = short_by
        super().__init__(f"stock: {short_by:,} balloons short for the number of cells")


def match(cells_srgb: npt.ArrayLike, palette_srgb: npt.ArrayLike, *, stock: npt.ArrayLike | None = None) -> Numbers:
    """The palette number of each cell, least in total CIEDE2000 (to 0.0001 a cell).

    Args:
        cells_srgb: (n, 3) sRGB 0…1.
        palette_srgb: (p, 3) sRGB 0…1, p from 1.
        stock: (p,) whole balloons that may be used of each colour, from 0; no limit by default.

    Returns:
        (n,) numbers 0…p-1; with ``stock`` none is used oftener than it says.

    Raises:
        NotEnoughStock: ``stock`` adds up to fewer than n.
        ValueError: an argument is not as described.

    >>> match([[1, 1, 1], [0.9, 0.9, 0.9]], [[1, 1, 1], [1, 0, 0]]).tolist()
    [0, 0]
    >>> match([[1, 1, 1], [0.9, 0.9, 0.9]], [[1, 1, 1], [1, 0, 0]], stock=[1, 5]).tolist()
    [0, 1]
    """
    cells = _colour_list("cells_srgb", cells_srgb)
    palette = _colour_list("palette_srgb", palette_srgb)
    if not len(palette):
        raise ValueError("palette_srgb: needs at least one colour")
    limits = None if stock is None else _checked_stock(stock, len(palette), len(cells))
    if not len(cells):
        return np.empty(0, dtype=np.int64)
    firsts, group = _distinct(cells)
    table = delta_e_2000_table(srgb_to_lab(cells[firsts]), srgb_to_lab(palette))
    best: Numbers = table.argmin(axis=1)
    sizes = np.bincount(group, minlength=len(firsts))
    if limits is None or bool(np.all(np.bincount(best, sizes, len(palette)) <= limits)):
        return best[group].astype(np.int64)
    return _handed_out(group, *_least_flow(cells[firsts], palette, table, sizes, limits))


def nearest(cells_srgb: npt.ArrayLike, palette_srgb: npt.ArrayLike) -> Numbers:
    """`match` without limits."""
    return match(cells_srgb, palette_srgb)


def _colour_list(name: str, srgb: npt.ArrayLike) -> Floats:
    colours = np.asarray(srgb, dtype=np.float64)
    if colours.size == 0:
        return np.empty((0, 3))
    if colours.ndim != 2:
        raise ValueError(f"{name}: must be a list of colours, its shape is {colours.shape}")
    return checked_srgb(name, colours)


def _checked_stock(stock: npt.ArrayLike, colours: int, cells: int) -> Numbers:
    given = np.asarray(stock)
    if given.shape != (colours,):
        raise ValueError(f"stock: needs one number for each of {colours} colours, has {given.shape}")
    if given.dtype.kind not in "iuf" or bool(np.any(given != np.floor(given))) or bool(np.any(given < 0)):
        raise ValueError("stock: must be whole numbers of balloons from 0")
    # No colour can be used oftener than there are cells; so far larger numbers stay harmless.
    limits: Numbers = np.minimum(given, cells).astype(np.int64)
    short_by = cells - int(limits.sum())
    if short_by > 0:
        raise NotEnoughStock(short_by)
    return limits


def _distinct(cells: Floats) -> tuple[Numbers, Numbers]:
    """The first cell of each distinct colour, and each cell's colour among those."""
    step = np.rint(cells * _KEY_STEPS).astype(np.int64)
    key = (step[:, 0] << 40) | (step[:, 1] << 20) | step[:, 2]
    _, firsts, group = np.unique(key, return_index=True, return_inverse=True)
    return firsts, group.ravel()


def _least_flow(
    colours: Floats, palette: Floats, table: Singles, sizes: Numbers, limits: Numbers
) -> tuple[Numbers, Numbers, Numbers]:
    """Places all cells at least cost: group, colour and how many, one entry an arc used."""
    stocked = np.flatnonzero(limits)
    room = limits[stocked]
    cost = np.rint(table[:, stocked] * _COST_UNITS).astype(np.int32)
    means, weights = _coarse_groups(colours, sizes)
    coarse = delta_e_2000_table(srgb_to_lab(means), srgb_to_lab(palette[stocked]))
    prices = _scarcity_prices(coarse, weights, np.minimum(room / sizes.sum(), 1.0))
    priced = cost + np.rint(prices * _COST_UNITS).astype(np.int32)
    choices = min(_FIRST_CHOICES, len(stocked))
    allowed = _cheapest(priced, choices)
    while True:
        flow = _solved(cost, sizes, room, allowed)
        if flow is None:
            choices = min(2 * choices, len(stocked))
            allowed |= _cheapest(priced, choices)
            continue
        cheaper = _cheaper_arcs(cost, sizes, room, allowed, flow)
        if cheaper is None:
            group, colour = np.nonzero(flow)
            return group, stocked[colour], flow[group, colour].astype(np.int64)
        allowed |= cheaper


def _coarse_groups(colours: Floats, sizes: Numbers) -> tuple[Floats, Floats]:
    """Colours merged at 5 bits a channel: their means and how many cells each stands for."""
    step = np.minimum(colours * 32.0, 31.0).astype(np.int64)
    code = (step[:, 0] << 10) | (step[:, 1] << 5) | step[:, 2]
    weights = np.bincount(code, sizes).astype(np.float64)
    used = np.flatnonzero(weights)
    sums = np.stack([np.bincount(code, sizes * colours[:, channel]) for channel in range(3)], axis=1)
    return np.asarray(np.minimum(sums[used] / weights[used, None], 1.0)), weights[used]


def _scarcity_prices(table: Singles, weights: Floats, shares: Floats) -> Floats:
    """A guess at what each colour's scarcity is worth, by matrix scaling with ever finer steps.

    Only decides which arcs are tried first; a bad guess costs time, never the answer.
    """
    prices = np.zeros(table.shape[1])
    weights = weights / weights.sum()
    for softness in _PRICE_SOFTNESS:
        priced = table + prices.astype(np.float32)
        kernel = np.exp((priced.min(axis=1, keepdims=True) - priced) / np.float32(softness))
        ceiling = np.exp(np.minimum(prices / softness, 80.0))
        factor = np.ones(table.shape[1])
        for _ in range(_PRICE_ROUNDS):
            row = (weights / (kernel @ factor.astype(np.float32))).astype(np.float32)
            factor = np.minimum(ceiling, shares / np.maximum(row @ kernel, 1e-30))
        prices = np.maximum(prices - softness * np.log(factor), 0.0)
    return prices


def _cheapest(cost: Costs, choices: int) -> npt.NDArray[np.bool_]:
    """Marks the ``choices`` cheapest colours of each group."""
    if choices >= cost.shape[1]:
        return np.ones(cost.shape, dtype=np.bool_)
    marked = np.zeros(cost.shape, dtype=np.bool_)
    cheapest = np.argpartition(cost, choices - 1, axis=1)[:, :choices]
    marked[np.arange(len(cost))[:, None], cheapest] = True
    return marked


def _solved(cost: Costs, sizes: Numbers, room: Numbers, allowed: npt.NDArray[np.bool_]) -> Costs | None:
    """(groups, colours) balloons by the flow of least cost over the allowed arcs, or None."""
    from ortools.graph.python import min_cost_flow  # loaded late: only limited stock needs it

    groups, colours = cost.shape
    group, colour = np.nonzero(allowed)
    sink = groups + colours
    flow = min_cost_flow.SimpleMinCostFlow()
    arcs = flow.add_arcs_with_capacity_and_unit_cost(group, groups + colour, sizes[group], cost[group, colour])
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
    placed = np.zeros(cost.shape, dtype=np.int32)
    placed[group, colour] = flow.flows(arcs)
    return placed


def _cheaper_arcs(
    cost: Costs, sizes: Numbers, room: Numbers, allowed: npt.NDArray[np.bool_], flow: Costs
) -> npt.NDArray[np.bool_] | None:
    """Arcs that could lower the cost; None when the flow is the least over all arcs.

    The proof is linear programming's: at any prices, what the groups pay for their cheapest
    colours less what the stock is worth is a lower bound. The flow is the least when it comes as
    near to that bound as whole cost units let any two answers be told apart.
    """
    prices = _fitting_prices(cost, room, allowed, flow)
    priced = cost + prices.astype(np.int32)
    used = np.nonzero(flow)
    bound = int(sizes @ priced.min(axis=1).astype(np.int64)) - int(prices @ room)
    spent = int(cost[used].astype(np.int64) @ flow[used].astype(np.int64))
    if spent - bound <= int(sizes.sum()) // 2:
        return None
    paid = np.full(len(cost), -1, dtype=np.int32)
    np.maximum.at(paid, used[0], priced[used])
    return np.asarray(priced < paid[:, None])


def _fitting_prices(cost: Costs, room: Numbers, allowed: npt.NDArray[np.bool_], flow: Costs) -> Numbers:
    """What one more balloon of each colour would save: 0 where some are left over.

    A colour's price is the cheapest chain of moves, over the allowed arcs, from one of its cells
    to a colour with balloons to spare.
    """
    colours = cost.shape[1]
    most = 1 + int(cost.max()) * 2
    moves = np.full((colours, colours), most, dtype=np.int64)
    for colour in range(colours):
        users = np.flatnonzero(flow[:, colour])
        if users.size:
            extra = cost[users] - cost[users, colour][:, None]
            moves[colour] = np.where(allowed[users], extra, most).min(axis=0)
    prices = np.where(flow.sum(axis=0) < room, 0, most)
    for _ in range(colours):
        shorter = np.minimum(prices, (moves + prices).min(axis=1))
        if np.array_equal(shorter, prices):
            break
        prices = shorter
    return prices


def _handed_out(group: Numbers, groups: Numbers, colours: Numbers, amounts: Numbers) -> Numbers:
    """Gives each group's colours to its cells, first come first served."""
    matched = np.empty(len(group), dtype=np.int64)
    by_group = np.argsort(groups, kind="stable")
    matched[np.argsort(group, kind="stable")] = np.repeat(colours[by_group], amounts[by_group])
    return matched
