"""The best few colours out of many (the k-median problem), with a proof of how near the best they are.

Colours are added one by one where they help most, then exchanged one for one as long as that helps. The proof is a
Lagrangian bound: each group's wish for one colour is priced, and whatever the prices, no choice can be cheaper than
the bound (G. Cornuéjols, M. L. Fisher, G. L. Nemhauser, "Location of bank accounts to optimize float", Management
Science 23(8), 789-810, 1977).
"""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from decor.calc.picture.flows import place

Floats = npt.NDArray[np.float64]
Singles = npt.NDArray[np.float32]
Numbers = npt.NDArray[np.int64]

_PROOF_WORK = 6e7
"""Entries of the table that the proof may look at, a quarter of a second's work on the machine it was tried on."""
_MOST_ROUNDS, _LEAST_ROUNDS = 400, 12
_CLOSE_ENOUGH = 1e-5
_MOST_TRIES = 60
"""Exchanges within a limited room that are worked out."""
_NEAR_ENOUGH = 1e-4


def choose(cost: Singles, sizes: Floats, count: int, must: Sequence[int] = ()) -> Numbers:
    """The ``count`` columns at which the groups together pay least, each at its cheapest of them.

    Args:
        cost: (g, p) of one thing of a group in a colour.
        sizes: (g,) things in each group.
        count: how many columns, 1…p; those in ``must`` count.
        must: columns that are among them whatever they help.

    Returns:
        (count,) column numbers, rising.

    >>> choose(np.array([[0, 9, 4], [9, 0, 4]], dtype=np.float32), np.ones(2), 1).tolist()
    [2]
    """
    weighted = np.ascontiguousarray(cost.T) * sizes.astype(np.float32)
    chosen = _exchanged(weighted, _greedy(weighted, count, must), must)
    return np.sort(np.array(chosen, dtype=np.int64))


def _greedy(weighted: Singles, count: int, must: Sequence[int]) -> list[int]:
    chosen = list(dict.fromkeys(must))
    paid = weighted[chosen].min(axis=0) if chosen else None
    while len(chosen) < count:
        lower = weighted if paid is None else np.minimum(weighted, paid)
        sums = lower.sum(axis=1, dtype=np.float64)
        sums[chosen] = np.inf
        chosen.append(int(sums.argmin()))
        paid = weighted[chosen[-1]] if paid is None else np.minimum(paid, weighted[chosen[-1]])
    return chosen


def _exchanged(weighted: Singles, chosen: list[int], must: Sequence[int]) -> list[int]:
    """The best exchange of one colour for another, as long as one helps."""
    fixed = set(must)
    movable = [at for at, one in enumerate(chosen) if one not in fixed]
    if not movable or len(chosen) == len(weighted):
        return chosen
    while True:
        among = weighted[chosen]
        own = among.argmin(axis=0)
        groups = np.arange(weighted.shape[1])
        paid = among[own, groups]
        among[own, groups] = np.inf
        next_best = among.min(axis=0)
        lower = np.minimum(weighted, paid)
        # What adding a colour costs more for the groups that lose their own, beside what it saves for all.
        extra = np.minimum(weighted, next_best) - lower
        belongs = np.zeros((len(chosen), weighted.shape[1]), dtype=np.float32)
        belongs[own, groups] = 1.0
        totals = (belongs @ extra.T).astype(np.float64) + lower.sum(axis=1, dtype=np.float64)
        totals[:, chosen] = np.inf
        totals[[at for at in range(len(chosen)) if at not in movable]] = np.inf
        out, new = np.unravel_index(int(totals.argmin()), totals.shape)
        now = float(paid.sum(dtype=np.float64))
        if not totals[out, new] < now * (1.0 - 1e-6):
            return chosen
        chosen[int(out)] = int(new)


def exchanged_within(
    cost: Singles, sizes: Numbers, room: Numbers, chosen: Numbers, must: Sequence[int] = ()
) -> Numbers:
    """The chosen columns, exchanged one for one as long as that makes sharing out the room cheaper.

    What the room of the present choice is worth bounds what each other choice can cost; so only those that could be
    cheaper are worked out, the most promising first.

    Args:
        cost, must: as for `choose`; ``sizes`` and ``room`` as for `flows.place`.
        chosen: columns whose room together holds all.
    """
    now = place(cost[:, chosen], sizes, room[chosen], tolerance=_NEAR_ENOUGH)
    tries = _MOST_TRIES
    while tries > 0:
        better = None
        for bound, other in _promising(cost, sizes, room, chosen, now.prices, must)[:tries]:
            if bound >= now.total * (1.0 - _NEAR_ENOUGH):
                break
            tries -= 1
            placed = place(cost[:, other], sizes, room[other], tolerance=_NEAR_ENOUGH)
            if placed.total < now.total * (1.0 - _NEAR_ENOUGH):
                better = other, placed
                break
        if better is None:
            return chosen
        chosen, now = better
    return chosen


def _promising(
    cost: Singles, sizes: Numbers, room: Numbers, chosen: Numbers, prices: Floats, must: Sequence[int]
) -> list[tuple[float, Numbers]]:
    """Other choices that hold all, with a lower bound of what each costs, rising."""
    fixed, held, needed = set(must), int(room[chosen].sum()), int(sizes.sum())
    priced = cost[:, chosen] + prices.astype(np.float32)
    worth = float(prices @ room[chosen])
    others = np.setdiff1d(np.flatnonzero(room), chosen)
    found = []
    for at, out in enumerate(chosen.tolist()):
        if out in fixed:
            continue
        enough = others[held - room[out] + room[others] >= needed]
        left = np.delete(priced, at, axis=1).min(axis=1, initial=np.inf)
        bounds = sizes @ np.minimum(cost[:, enough], left[:, None]).astype(np.float64) - worth + prices[at] * room[out]
        found += [
            (bound, np.sort(np.append(np.delete(chosen, at), new)))
            for bound, new in zip(bounds.tolist(), enough.tolist(), strict=True)
        ]
    return sorted(found, key=lambda one: one[0])


def proved_least(cost: Singles, sizes: Floats, count: int, upper: float, must: Sequence[int] = ()) -> float:
    """A lower bound of what any choice of ``count`` columns costs, by raising the prices of the groups' wishes.

    Args:
        cost, sizes, count, must: as for `choose`.
        upper: what the best known choice costs; the search stops when the bound is within 0.001 % of it.
    """
    groups, colours = cost.shape
    rounds = int(np.clip(_PROOF_WORK / max(groups * colours, 1), _LEAST_ROUNDS, _MOST_ROUNDS))
    forced = np.array(sorted(set(must)), dtype=np.int64)
    chosen = choose(cost, sizes, count, must)
    among = np.partition(cost[:, chosen], min(1, count - 1), axis=1)
    price = among[:, min(1, count - 1)].astype(np.float32) if count > 1 else cost.max(axis=1)
    best, pace, stalled = 0.0, 1.0, 0
    for _ in range(rounds):
        saved = np.minimum(cost - price[:, None], 0.0)
        worth = sizes @ saved.astype(np.float64) if groups < 2000 else (sizes.astype(np.float32) @ saved).astype(float)
        opened = _opened(worth, count, forced)
        bound = float(sizes @ price.astype(np.float64)) + float(worth[opened].sum())
        stalled = 0 if bound > best * (1 + 1e-7) else stalled + 1
        best = max(best, bound)
        if upper - best <= _CLOSE_ENOUGH * upper:
            break
        if stalled >= 4:
            pace, stalled = pace * 0.6, 0
        slope = 1.0 - (saved[:, opened] < 0.0).sum(axis=1)
        steep = float(sizes @ (slope * slope))
        if steep == 0.0:
            break
        price = price + np.float32(pace * (upper - bound) / steep) * slope.astype(np.float32)
    # Single precision may lift the sum by a rounding.
    return min(upper, best * (1.0 - 1e-6))


def _opened(worth: Floats, count: int, forced: Numbers) -> Numbers:
    """The forced columns and the worthiest others, ``count`` in all."""
    others = np.setdiff1d(np.arange(len(worth)), forced)
    room = count - len(forced)
    best = others[np.argsort(worth[others], kind="stable")[:room]]
    return np.concatenate([forced, best]).astype(np.int64)
