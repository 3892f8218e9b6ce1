"""Which palette colour each cell gets: least total CIEDE2000, within stock and out of few colours where asked.

Without limits each cell takes its nearest colour. Limited stock makes it a transport problem (`flows`), a limit on
the number of colours a k-median problem (`choosing`); both come with a proved lower bound of what any answer costs.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from decor.calc.picture.asked import (
    NotEnoughStock,
    checked_colours,
    checked_locked,
    checked_must,
    checked_stock,
    checked_weights,
    columns_left,
)
from decor.calc.picture.choosing import choose, exchanged_within, proved_least
from decor.calc.picture.colour import srgb_to_lab
from decor.calc.picture.colour_nearest import nearest_2000
from decor.calc.picture.flows import place
from decor.calc.picture.matching_groups import Problem, coarse_groups, costs_of, distinct, handed_out, problem_of
from decor.calc.picture.matching_prices import first_prices

Floats = npt.NDArray[np.float64]
Singles = npt.NDArray[np.float32]
Numbers = npt.NDArray[np.int64]

__all__ = ["Matched", "NotEnoughStock", "match", "nearest"]

_NEAR_ENOUGH = 9e-5
"""Of the total, within which the least is proved where the table is large; a small one is solved to the least."""
_SMALL_TABLE = 150_000
_GUESSED_WITHIN = 0.03
_CHOICE_GROUPS = 4_000
"""Colours of a picture above which the few are chosen on merged ones; what they cost is summed over all."""


class Matched(np.ndarray[Any, np.dtype[np.int64]]):
    """Palette numbers, one a cell, with what they cost. ``total`` is the sum of CIEDE2000 over the cells, or of
    weight × CIEDE2000² where weights were given; ``bound`` is a proved lower bound of any answer's total, worked out
    when it is first asked for."""

    total: float
    _prove: Callable[[], float] | None

    def __array_finalize__(self, obj: Any) -> None:
        self.total = getattr(obj, "total", float("nan"))
        self._prove = getattr(obj, "_prove", None)

    @property
    def bound(self) -> float:
        if self._prove is None:
            return self.total
        proved = min(self.total, self._prove())
        self._prove = lambda: proved
        return proved


def _answer(numbers: Numbers, total: float, prove: Callable[[], float] | None = None) -> Matched:
    matched = np.asarray(numbers, dtype=np.int64).view(Matched)
    matched.total, matched._prove = float(total), prove
    return matched


def match(
    cells_srgb: npt.ArrayLike,
    palette_srgb: npt.ArrayLike,
    *,
    stock: npt.ArrayLike | None = None,
    most_colours: int | None = None,
    must: Sequence[int] = (),
    must_not: Sequence[int] = (),
    weights: npt.ArrayLike | None = None,
    locked: npt.ArrayLike | None = None,
) -> Matched:
    """The palette number of each cell, least in total CIEDE2000 (to 0.0001 a cell; within 0.009 % of the least where
    stock is limited and cells × colours are above 150,000; with ``most_colours`` as near as ``.bound`` proves).

    Args:
        cells_srgb: (n, 3) sRGB 0…1.
        palette_srgb: (p, 3) sRGB 0…1, p from 1.
        stock: (p,) whole balloons that may be used of each colour, from 0; no limit by default.
        most_colours: how many colours may be used at most, those of locked cells with them; where these and ``must``
            are more already, only these are used. No limit by default.
        must: palette numbers that are used in at least one cell, even where no cell is nearest to them.
        must_not: palette numbers that only locked cells may have.
        weights: (n,) above 0: how much each cell counts. With them the least of weight × CIEDE2000² is taken, as a
            square keeps what counts from bearing the few worst substitutes.
        locked: (n,) palette numbers of cells that keep their colour, -1 for the others. They count against ``stock``.

    Returns:
        (n,) numbers 0…p-1, with ``.total`` and ``.bound``; with ``stock`` none is used oftener than it says.

    Raises:
        NotEnoughStock: the stock, or that of the ``most_colours`` fullest, adds up to fewer than the cells.
        ValueError: an argument is not as described, or no colour is left to choose from.

    >>> match([[1, 1, 1], [0.9, 0.9, 0.9]], [[1, 1, 1], [1, 0, 0]]).tolist()
    [0, 0]
    >>> match([[1, 1, 1], [0.9, 0.9, 0.9]], [[1, 1, 1], [1, 0, 0]], stock=[1, 5]).tolist()
    [0, 1]
    >>> match([[1, 1, 1], [1, 0, 0], [0, 0, 1]], [[1, 1, 1], [1, 0, 0], [0, 0, 1]], most_colours=2, must=[2]).tolist()
    [0, 0, 2]
    """
    cells = checked_colours("cells_srgb", cells_srgb)
    palette = checked_colours("palette_srgb", palette_srgb)
    if not len(palette):
        raise ValueError("palette_srgb: needs at least one colour")
    counts = checked_weights(weights, len(cells))
    kept = checked_locked(locked, len(cells), len(palette))
    columns = columns_left(len(palette), must_not)
    limits = None if stock is None else checked_stock(stock, len(palette), kept, columns)
    free = np.flatnonzero(kept < 0)
    numbers = kept.copy()
    fixed = _cost_of_locked(cells, palette, kept, counts)
    if len(free) and not len(columns):
        raise ValueError("must_not: leaves no colour to choose from")
    held = np.unique(kept[kept >= 0])
    wanted = checked_must(must, columns, held, len(free), most_colours)
    if not len(free):
        return _answer(numbers, fixed)
    if limits is not None and (lacking := sum(not limits[columns[one]] for one in wanted)):
        raise NotEnoughStock(lacking)
    heavy = None if counts is None else counts[free]
    if limits is None and most_colours is None and not wanted:
        best, paid = _cheapest(cells[free], palette[columns], heavy)
        numbers[free] = columns[best]
        return _answer(numbers, fixed + paid)
    problem = problem_of(cells[free], palette[columns], heavy)
    room = None if limits is None else limits[columns]
    if most_colours is None:
        chosen = _shared(problem, room, wanted)
    else:
        # A locked cell's colour takes one of the places, whether others may have it or not.
        both = sorted({*wanted, *np.flatnonzero(np.isin(columns, held)).tolist()})
        count = max(most_colours - int(np.count_nonzero(~np.isin(held, columns))), len(both), 1)
        chosen = _of_few(problem, room, min(count, len(columns)), both, wanted)
    numbers[free] = columns[np.asarray(chosen)]
    return _answer(numbers, fixed + chosen.total, lambda: fixed + chosen.bound)


def nearest(cells_srgb: npt.ArrayLike, palette_srgb: npt.ArrayLike) -> Numbers:
    """`match` without limits."""
    return np.asarray(match(cells_srgb, palette_srgb))


def _cheapest(cells: Floats, palette: Floats, weights: Floats | None) -> tuple[Numbers, float]:
    """Each cell's nearest colour, and what they cost together."""
    firsts, group = distinct(cells, None)
    best, differences = nearest_2000(srgb_to_lab(cells[firsts]), srgb_to_lab(palette))
    paid = differences.astype(np.float64)[group]
    return best[group], float(paid.sum() if weights is None else (paid * paid) @ weights)


def _shared(problem: Problem, room: Numbers | None, must: Sequence[int] = ()) -> Matched:
    """Every group at its cheapest, or, where the room is too small for that, as the least flow has it; with at least
    one cell in each ``must`` column."""
    table, sizes = problem.table, problem.sizes
    best: Numbers = table.argmin(axis=1)
    least = _paid(table, best, sizes)
    if room is None or bool(np.all(np.bincount(best, sizes, len(room)) <= room)):
        found, prices = _answer(best[problem.group], least), np.zeros(table.shape[1])
    else:
        near = 0.0 if table.size <= _SMALL_TABLE else _NEAR_ENOUGH
        placed = place(table, sizes, room, prices=first_prices(problem, room), tolerance=near, within=_GUESSED_WITHIN)
        numbers = handed_out(problem.group, placed.groups, placed.colours, placed.amounts)
        found, prices = _answer(numbers, placed.total, lambda: placed.bound), placed.prices
    if set(must) <= set(np.unique(found).tolist()):
        return found
    return _with_must(problem, room, must, found, prices)


def _with_must(problem: Problem, room: Numbers | None, must: Sequence[int], found: Matched, prices: Floats) -> Matched:
    """Gives each must colour the cell that can best spare it, at the prices of what is scarce, and shares out the
    others anew. The bound is that of the answer without must colours."""
    cells = _sparing(problem, must, prices)
    others = np.setdiff1d(np.arange(len(problem.group)), cells)
    numbers = np.empty(len(problem.group), dtype=np.int64)
    numbers[cells] = must
    total = float(problem.table[problem.group[cells], list(must)].sum(dtype=np.float64))
    if len(others):
        kept, group = np.unique(problem.group[others], return_inverse=True)
        rest = replace(
            problem,
            table=problem.table[kept],
            sizes=np.bincount(group),
            group=group,
            colours=problem.colours[kept],
            weights=None if problem.weights is None else problem.weights[kept],
        )
        shared = _shared(rest, None if room is None else room - np.bincount(must, minlength=len(room)))
        numbers[others], total = shared, total + shared.total
    # Without limits the others are at their cheapest and the cells that spare were chosen exactly.
    return _answer(numbers, total, None if room is None else lambda: found.bound)


def _sparing(problem: Problem, must: Sequence[int], prices: Floats) -> Numbers:
    """One cell for each must colour, so that together they lose least."""
    from scipy.optimize import linear_sum_assignment  # loaded late: seldom needed

    priced = problem.table + prices.astype(np.float32)
    extra = priced[:, list(must)] - priced.min(axis=1, keepdims=True)
    enough = min(len(must), len(extra))
    near = np.unique(np.argpartition(extra, enough - 1, axis=0)[:enough])
    order = np.argsort(problem.group, kind="stable")
    starts = np.searchsorted(problem.group[order], near)
    counts = np.minimum(problem.sizes[near], len(must))
    cells = np.concatenate([order[at : at + count] for at, count in zip(starts, counts, strict=True)])
    row, column = linear_sum_assignment(extra[problem.group[cells]].T)
    return np.asarray(cells[column[np.argsort(row)]], dtype=np.int64)


def _of_few(problem: Problem, room: Numbers | None, count: int, among: list[int], must: Sequence[int]) -> Matched:
    """The least over the ``count`` colours that serve best, those of ``among`` with them; within the room, those that
    can also hold all."""
    within = None if room is None else _shared(problem, room)
    chosen = choose(*_for_choice(problem, room), count, among)
    if room is not None:
        chosen = _roomy(problem, chosen, room, among)
        chosen = exchanged_within(*_merged(problem), room, chosen, among)
    part = replace(problem, table=np.ascontiguousarray(problem.table[:, chosen]), palette=problem.palette[chosen])
    found = _shared(part, None if room is None else room[chosen], np.searchsorted(chosen, must).tolist())

    def prove() -> float:
        few = proved_least(problem.table, problem.sizes.astype(np.float64), count, found.total, among)
        return few if within is None else max(few, within.bound)

    return _answer(chosen[np.asarray(found)], found.total, prove)


def _for_choice(problem: Problem, room: Numbers | None) -> tuple[Singles, Floats]:
    """Costs and sizes to choose colours by: merged where there are very many groups, and with what scarcity makes of
    each colour where there is a limit."""
    prices = np.zeros(len(problem.palette)) if room is None else first_prices(problem, room)
    if len(problem.sizes) <= _CHOICE_GROUPS:
        return problem.table + prices.astype(np.float32), problem.sizes.astype(np.float64)
    means, sizes, weights = coarse_groups(problem)
    return costs_of(means, problem.palette, weights) + prices.astype(np.float32), sizes


def _merged(problem: Problem) -> tuple[Singles, Numbers]:
    """Costs and sizes of few groups."""
    if problem.table.size <= _SMALL_TABLE // 10:
        return problem.table, problem.sizes
    means, sizes, weights = coarse_groups(problem)
    return costs_of(means, problem.palette, weights), sizes.astype(np.int64)


def _roomy(problem: Problem, chosen: Numbers, room: Numbers, must: list[int]) -> Numbers:
    """The chosen colours, with the fewest losses exchanged for ones of which there is more, until all find room."""
    needed = int(problem.sizes.sum())
    some = list(chosen)
    fullest = sorted(range(len(room)), key=lambda one: (one not in must, -room[one]))[: len(some)]
    if int(room[fullest].sum()) < needed:
        raise NotEnoughStock(needed - int(room[fullest].sum()))
    while int(room[some].sum()) < needed:
        roomier = [
            (_harm_per_room(problem, some, out, new, room), out, new)
            for out in some
            for new in range(len(room))
            if out not in must and new not in some and room[new] > room[out]
        ]
        _, out, new = min(roomier)
        some[some.index(out)] = new
    return np.sort(np.array(some, dtype=np.int64))


def _harm_per_room(problem: Problem, some: list[int], out: int, new: int, room: Numbers) -> float:
    others = [one for one in some if one != out]
    before = problem.table[:, some].min(axis=1)
    after = problem.table[:, [*others, new]].min(axis=1)
    return float(problem.sizes @ (after - before)) / float(room[new] - room[out])


def _paid(table: Singles, best: Numbers, sizes: Numbers) -> float:
    return float(table[np.arange(len(table)), best].astype(np.float64) @ sizes)


def _cost_of_locked(cells: Floats, palette: Floats, locked: Numbers, weights: Floats | None) -> float:
    at = np.flatnonzero(locked >= 0)
    if not at.size:
        return 0.0
    colours, own = np.unique(locked[at], return_inverse=True)
    table = costs_of(cells[at], palette[colours], None if weights is None else weights[at])
    return _paid(table, own, np.ones(len(at), dtype=np.int64))
