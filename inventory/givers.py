"""Other events that could give what is short: whose pieces would be there in time, and how many of them."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from inventory import availability, balance, links, stocking
from inventory.availability import Stock
from inventory.balance import Demand, Store, Supply
from inventory.later import LOOK_AHEAD
from inventory.models import Reservation, ReservationLine

MOST_GIVERS = 3


@dataclass(frozen=True)
class Giver:
    """Another event that holds what is short, `quantity` of it; `href` leads to it where somebody knows how."""

    reservation_id: int
    label: str
    starts: datetime
    ends: datetime
    quantity: int
    on_hold: bool
    href: str = ""


@dataclass(frozen=True)
class Span:
    """When it is wanted, what of it has begun left out, and the lines of whoever asks."""

    starts: datetime
    ends: datetime
    now: datetime
    own: frozenset[int]


def givers_of(
    wanted: Mapping[int, int], starts: datetime, ends: datetime, *, now: datetime, exclude: Reservation | None = None
) -> dict[int, tuple[list[Giver], int]]:
    """{item id: (whoever is to be asked first, how many more could give some)}, of {item id: how many are asked for}:
    holds before what is confirmed, later events before earlier ones, which could buy again in time."""
    if not wanted:
        return {}
    own = exclude.lines.values_list("pk", flat=True) if exclude is not None else ()
    span = Span(max(starts, now), ends, now, frozenset(own))
    stock = availability.stock_of(wanted, now=now, starts=now, ends=ends + LOOK_AHEAD)
    could = {pk: _could_give(one, wanted[pk], span) for pk, one in stock.items()}
    lines = {line for of_it in could.values() for line in of_it}
    if not lines:
        return {}
    holds = ReservationLine.objects.filter(availability.live(now), item__in=list(wanted), counts=True)
    held = set(holds.filter(reservation__state=Reservation.State.HOLD).values_list("pk", flat=True))
    first = {pk: _first(stock[pk], of_it, held) for pk, of_it in could.items() if of_it}
    found = _named({line: n for pk, chosen in first.items() for line in chosen if (n := could[pk][line])})
    return {
        pk: ([found[line] for line in chosen if line in found], len(could[pk]) - len(chosen))
        for pk, chosen in first.items()
    }


def _first(stock: Stock, lines: Mapping[int, int], held: set[int]) -> list[int]:
    ranked = sorted((d for d in stock.promised if d.line_id in lines), key=lambda d: d.starts, reverse=True)
    return list(dict.fromkeys(d.line_id for d in sorted(ranked, key=lambda d: d.line_id not in held)))[:MOST_GIVERS]


def _named(lines: Mapping[int, int]) -> dict[int, Giver]:
    rows = ReservationLine.objects.filter(pk__in=lines).select_related("reservation")
    pages = links.pages_of({row.reservation_id for row in rows})
    return {
        row.pk: Giver(
            row.reservation_id,
            row.reservation.label,
            row.starts,
            row.ends,
            lines[row.pk],
            row.reservation.state == Reservation.State.HOLD,
            pages.get(row.reservation_id, ""),
        )
        for row in rows
    }


def _could_give(stock: Stock, quantity: int, span: Span) -> dict[int, int]:
    """{line: pieces}. Nobody is asked for what is lacking there too, and what is picked already is gone."""
    if not stock.returnable:
        return _of_used_up(stock.supplies, stock.wear, span)
    lacking, helps = stocking.lacking_of(stock, span.now), _in_the_way(stock, quantity, span)
    if stock.lasts:
        helps |= _of_used_up(stock.uses, stock.wear, span).keys()
    rest = {d.line_id: d.quantity - lacking.get(d.line_id, 0) for d in stock.demands if not d.out}
    return {line: n for line, n in rest.items() if line in helps and n > 0}


def _in_the_way(stock: Stock, quantity: int, span: Span) -> set[int]:
    """Of what comes back: without whom more would be left, as things stand or once others gave theirs. Who has what
    arrives only after the beginning keeps nobody from it."""
    others = [d for d in stock.demands if d.line_id not in span.own and d.starts < span.ends and d.ends > span.starts]
    whole = sum(s.quantity for s in stock.supplies if s.arrives <= span.starts and s.spoils >= span.ends)

    def left(some: Iterable[Demand]) -> int:
        levels = balance.levels_returnable(stock.supplies, some, span.starts, span.ends)
        return min(quantity, whole, *(n for _, n in levels))

    levels = balance.levels_returnable(stock.supplies, others, span.starts, span.ends)
    tight = [moment for moment, n in levels if n < min(quantity, whole)]
    # At each such moment: all that are away then, as if nobody were at any other.
    together = [others, *([d for d in others if d.starts <= moment < d.ends] for moment in tight)]
    return {d.line_id for some in together for d in some if left(x for x in some if x is not d) > left(some)}


def _of_used_up(supplies: Sequence[Supply], wear: Iterable[Demand], span: Span) -> dict[int, int]:
    """Of what is used up: {line: what it has of lots that could serve, be it that a third one changes to its lot}. An
    event that lives of a later delivery has nothing to give."""
    others = sorted((d for d in wear if d.line_id not in span.own), key=lambda d: d.starts)
    free = balance.free_consumable(supplies, others, span.starts, span.ends)
    mine = Demand(free, span.starts, span.ends)
    at = next((n for n, d in enumerate(others) if d.starts >= span.starts), len(others))
    store, taken = Store(supplies), []
    for demand in [*others[:at], mine, *others[at:]]:
        before = store.left[:]
        store.serve(demand)
        changes = zip(before, store.left, strict=True)
        taken.append((demand, {lot: had - rest for lot, (had, rest) in enumerate(changes) if had > rest}))
    lots = _reached(supplies, mine, taken)
    found: dict[int, int] = defaultdict(int)
    for demand, of_lots in taken:
        if demand is not mine and demand.starts > span.now:
            found[demand.line_id] += sum(n for lot, n in of_lots.items() if lot in lots)
    return {line: n for line, n in found.items() if n}


def _reached(supplies: Sequence[Supply], mine: Demand, taken: Sequence[tuple[Demand, Mapping[int, int]]]) -> set[int]:
    """The lots that could serve, and those to which whoever has some of these could change."""
    takers: dict[int, list[Demand]] = defaultdict(list)
    for demand, of_lots in taken:
        for lot in of_lots:
            takers[lot].append(demand)
    reached: set[int] = set()
    waiting = _fitting(supplies, mine)
    while waiting:
        lot = waiting.pop()
        reached.add(lot)
        for demand in takers.pop(lot, ()):
            waiting |= _fitting(supplies, demand) - reached
    return reached


def _fitting(supplies: Sequence[Supply], demand: Demand) -> set[int]:
    return {n for n, s in enumerate(supplies) if s.arrives <= demand.starts and s.spoils >= demand.ends}
