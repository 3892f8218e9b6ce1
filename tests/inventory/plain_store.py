"""What a store with promises ought to be, kept in plain dicts beside the program: nothing here asks its sums."""

from collections import Counter, defaultdict
from dataclasses import dataclass, field
from datetime import UTC, datetime, time, timedelta

from inventory.models import Lot, Movement

FOREVER = datetime.max.replace(tzinfo=UTC)


@dataclass
class Promise:
    starts: datetime
    ends: datetime
    state: str
    expires: datetime
    lines: dict[int, int]
    over: set[int] = field(default_factory=set)
    picked: Counter = field(default_factory=Counter)
    taken: Counter = field(default_factory=Counter)
    out: Counter = field(default_factory=Counter)
    moved: set[int] = field(default_factory=set)

    def live(self, now: datetime) -> bool:
        return self.state == "confirmed" or (self.state == "hold" and self.expires > now)


@dataclass
class Model:
    """`returnable` and `uses` by item; `store` is what lies there; `promises` by the reservation's key."""

    returnable: dict[int, bool]
    uses: dict[int, int]
    store: Counter = field(default_factory=Counter)
    promises: dict[int, Promise] = field(default_factory=dict)

    def deficit(self, item: int, now: datetime, *, coming: bool = False) -> int:
        """How many pieces the promises of this item lack; those that are `coming`, not what is over and may have used
        its pieces without a word."""
        lots = lots_on_the_ground(item, now)
        if not self.returnable[item]:
            used_up = [d for d in self._used_up(item, now) if d[2] > now or not coming]
            return unserved([(n, a, s) for n, _, a, s, _ in lots], used_up)
        away = [d for d in self._away(item, now) if d[2] > now or not coming]
        lacking = most_lacking([(n + out, a, s) for n, out, a, s, _ in lots], [d for d in away if d[2] > now])
        if self.uses[item] > 1:
            worn = [((n + out) * (uses or self.uses[item]), a, s) for n, out, a, s, uses in lots]
            lacking = max(lacking, unserved(worn, away))
        return lacking

    def _used_up(self, item: int, now: datetime) -> list:
        rest = (
            (p.lines[item] - p.taken[item], max(p.starts, now), p.ends)
            for p in self.promises.values()
            if p.live(now) and item in p.lines and item not in p.over
        )
        return [d for d in rest if d[0] > 0]

    def _away(self, item: int, now: datetime) -> list:
        """With what is over and not counted back: of sheets, it may have worn a use."""
        found = []
        for p in self.promises.values():
            if p.live(now) and item in p.lines and item not in p.over:
                if p.ends > now or item not in p.moved:
                    since = max(p.starts, now) if p.ends > now else p.starts
                    found.append((p.lines[item] - p.picked[item], since, p.ends))
                found.append((p.out[item], now if p.ends > now else p.starts, p.ends if p.ends > now else FOREVER))
        return [d for d in found if d[0] > 0]


def lots_on_the_ground(item: int, now: datetime) -> list:
    """(in the store, out, usable from, usable until, uses left) of each lot, the ledger's lines added up one by one."""
    store, out = Counter(), Counter()
    for lot, there, away in Movement.objects.filter(item=item).values_list("lot_id", "store", "out"):
        store[lot] += there
        out[lot] += away
    found = []
    for lot in Lot.objects.filter(item=item):
        late = not lot.received and lot.arrives_on < now.astimezone(UTC).date()
        there = store[lot.pk] if lot.received else 0 if late else lot.quantity
        until = datetime.combine(lot.use_by + timedelta(days=1), time.min, UTC) if lot.use_by else FOREVER
        found.append((there, out[lot.pk], datetime.combine(lot.arrives_on, time.min, UTC), until, lot.uses_left))
    return found


def most_lacking(lots: list, away: list) -> int:
    """The worst moment of all at which something begins or ends."""
    moments = {d[1] for d in away} | {s for d in away for _, _, s in lots if d[1] <= s < d[2]}
    worst = 0
    for moment in moments:
        wanted = sum(n for n, begins, ends in away if begins <= moment < ends)
        here = sum(n for n, comes, goes in lots if comes <= moment < goes)
        worst = max(worst, wanted - here)
    return worst


def unserved(lots: list, wanted: list) -> int:
    """What no way of handing lots out can serve: the largest flow, by paths that put more through."""
    given: dict[tuple[int, int], int] = defaultdict(int)
    left = [n for n, _, _ in lots]
    fits = [[comes <= begins and goes >= ends for _, comes, goes in lots] for _, begins, ends in wanted]

    def place(demand: int, seen: set[int]) -> bool:
        for lot in range(len(lots)):
            if not fits[demand][lot] or lot in seen:
                continue
            seen.add(lot)
            if left[lot] > 0:
                left[lot] -= 1
                given[demand, lot] += 1
                return True
            for other in range(len(wanted)):
                if given[other, lot] and other != demand and place(other, seen):
                    given[other, lot] -= 1
                    given[demand, lot] += 1
                    return True
        return False

    lacking = 0
    for demand, (quantity, _, _) in enumerate(wanted):
        for done in range(quantity):
            if not place(demand, set()):
                lacking += quantity - done
                break
    return lacking
