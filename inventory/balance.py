"""The arithmetic of a promise: what came in and when, what is promised and when, what is left. Knows no database.

All moments are aware datetimes in UTC, spans are half-open. A returnable comes back at its line's end. A consumable
is gone from its line's start, for ever.
"""

from bisect import bisect_left, bisect_right, insort
from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from typing import NamedTuple

NEVER = datetime.max.replace(tzinfo=UTC)


class Supply(NamedTuple):
    """One lot: usable from `arrives` up to, not including, `spoils`; `uses` is how many events each piece still lasts,
    None for as many as a new one."""

    quantity: int
    arrives: datetime
    spoils: datetime = NEVER
    expected: bool = False
    lot_id: int = 0
    uses: int | None = None


class Demand(NamedTuple):
    """`out`: its event has these pieces already, so it lacks none of them, whoever else does."""

    quantity: int
    starts: datetime
    ends: datetime
    line_id: int = 0
    out: bool = False


class Served(NamedTuple):
    """How far the lots reach: what each demand still lacks, what is left of each lot, in the order given."""

    lacking: list[int]
    left: list[int]


Level = tuple[datetime, int]


def levels_returnable(
    supplies: Iterable[Supply], demands: Iterable[Demand], starts: datetime, ends: datetime
) -> list[Level]:
    """(moment, quantity not promised from then on), the first at `starts`; below zero where promises outrun stock."""
    change: dict[datetime, int] = defaultdict(int)
    change[starts] = 0
    for supply in supplies:
        _spread(change, supply.quantity, max(supply.arrives, starts), min(supply.spoils, ends), ends)
    for demand in demands:
        _spread(change, -demand.quantity, max(demand.starts, starts), min(demand.ends, ends), ends)
    return _corners(change)


def _spread(change: dict[datetime, int], quantity: int, begin: datetime, end: datetime, last: datetime) -> None:
    if begin >= end:
        return
    change[begin] += quantity
    if end < last:
        change[end] -= quantity


def _corners(change: dict[datetime, int]) -> list[Level]:
    level = 0
    levels: list[Level] = []
    for moment in sorted(change):
        level += change[moment]
        if change[moment] or not levels:
            levels.append((moment, level))
    return levels


def free_returnable(supplies: Sequence[Supply], demands: Iterable[Demand], starts: datetime, ends: datetime) -> int:
    """The lowest level within the span, and never more than what is there for the whole of it: a pole that
    arrives halfway can't stand in for one that spoils halfway."""
    whole = sum(s.quantity for s in supplies if s.arrives <= starts and s.spoils >= ends)
    lowest = min(level for _, level in levels_returnable(supplies, demands, starts, ends))
    return max(0, min(whole, lowest))


def lacking_returnable(supplies: Sequence[Supply], demands: Sequence[Demand], *, shared: bool = False) -> list[int]:
    """For each demand, the worst shortage of the item at any moment of its span, at most its own quantity; `shared`:
    also what the others lack with it. What is out lacks nothing."""
    if not demands:
        return []
    first, last = min(d.starts for d in demands), max(d.ends for d in demands)
    levels = levels_returnable(supplies, demands, first, last)
    moments = [moment for moment, _ in levels]
    lacking = []
    for demand in demands:
        at = bisect_right(moments, demand.starts) - 1
        until = bisect_left(moments, demand.ends)
        worst = max(0, -min((level for _, level in levels[at:until]), default=0))
        most = 0 if demand.out else worst if shared else demand.quantity
        lacking.append(min(worst, most))
    return lacking


class Store:
    """Lots that serve demands in the order of their starts. Each demand takes the lot that spoils first among those
    that last to its end. That serves as many as can be served at all: a later demand finds every lot that an earlier
    one found, so only how long a lot keeps can matter to it, and the least lasting one that will do is the least
    loss."""

    def __init__(self, supplies: Sequence[Supply]) -> None:
        self.waiting = sorted(range(len(supplies)), key=lambda n: supplies[n].arrives, reverse=True)
        self.supplies = supplies
        self.left = [s.quantity for s in supplies]
        self.shelf: list[tuple[datetime, int]] = []

    def copy(self) -> "Store":
        twin = Store.__new__(Store)
        twin.supplies = self.supplies
        twin.waiting, twin.left, twin.shelf = self.waiting[:], self.left[:], self.shelf[:]
        return twin

    def serve(self, demand: Demand) -> int:
        """Takes what it can, and gives what is still lacking."""
        while self.waiting and self.supplies[self.waiting[-1]].arrives <= demand.starts:
            number = self.waiting.pop()
            insort(self.shelf, (self.supplies[number].spoils, number))
        wanted = demand.quantity
        at = bisect_left(self.shelf, (demand.ends, -1))
        while wanted and at < len(self.shelf):
            number = self.shelf[at][1]
            taken = min(wanted, self.left[number])
            self.left[number] -= taken
            wanted -= taken
            if not self.left[number]:
                self.shelf.pop(at)
        return wanted


def serve(supplies: Sequence[Supply], demands: Sequence[Demand]) -> Served:
    store = Store(supplies)
    lacking = [0] * len(demands)
    for number in sorted(range(len(demands)), key=lambda n: demands[n].starts):
        lacking[number] = store.serve(demands[number])
    return Served(lacking, store.left)


def free_consumable(supplies: Sequence[Supply], demands: Iterable[Demand], starts: datetime, ends: datetime) -> int:
    """How many more can be taken at `starts` and last to `ends` without leaving any other demand with less than it
    would have had: as many as an endless demand there adds to what can be served in all."""
    store = Store(supplies)
    later = []
    for demand in sorted(demands, key=lambda d: d.starts):
        if demand.starts < starts:
            store.serve(demand)
        else:
            later.append(demand)
    greedy, wanted = store.copy(), sum(s.quantity for s in supplies)
    taken = wanted - greedy.serve(Demand(wanted, starts, ends))
    lost = sum(greedy.serve(d) for d in later) - sum(store.serve(d) for d in later)
    return taken - lost


def levels_consumable(
    supplies: Sequence[Supply], demands: Sequence[Demand], starts: datetime, ends: datetime
) -> list[Level]:
    """(moment, what is left then): lots that came and did not spoil, less what promises took; while a demand that
    was not wholly served lasts, less what it lacks, so that a shortage shows below zero for as long as it hurts."""
    change: dict[datetime, int] = defaultdict(int)
    change[starts] = 0
    store = Store(supplies)
    for demand in sorted(demands, key=lambda d: d.starts):
        before = store.left[:]
        lacking = store.serve(demand)
        _spread(change, -lacking, max(demand.starts, starts), min(demand.ends, ends), ends)
        for number, supply in enumerate(supplies):
            if taken := before[number] - store.left[number]:
                # Taken pieces leave the shelf now, and so can't spoil there later.
                _spread(change, -taken, max(demand.starts, starts), min(supply.spoils, ends), ends)
    for supply in supplies:
        _spread(change, supply.quantity, max(supply.arrives, starts), min(supply.spoils, ends), ends)
    return _corners(change)
