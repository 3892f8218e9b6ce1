"""What is short for a span, and everything that could close the gap: buying, something else, a later day, or another
event that holds it. Shown only; nothing is taken from anybody."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.db.models import Case, Count, F, Q, QuerySet, Value, When, Window
from django.db.models.functions import RowNumber

from inventory import availability, ledger, links, stocking
from inventory.availability import Stock
from inventory.later import LOOK_AHEAD, first_later
from inventory.models import Item, Lot, Reservation, ReservationLine
from inventory.ordering import Drafted, drafts_of
from inventory.services import ShortLine, ToBuy, packs_to_buy
from inventory.swaps import Candidate, candidates

MOST_SWAPS, MOST_GIVERS = 3, 3
LOOKED_AT = 8
"""Holders looked at for each item: some may have picked theirs already."""
NOBODY: tuple[list["Giver"], int] = ([], 0)
KINDS = ("latex", "sheet", "hardware", "cylinder", "foil")


@dataclass(frozen=True)
class Lack:
    """So many of an item are asked for, and so many can be had. `instead` are items that were counted in already, so
    that they can't stand in."""

    item_id: int
    asked: int
    free: int
    instead: frozenset[int] = frozenset()

    @property
    def short(self) -> int:
        return max(0, self.asked - self.free)


@dataclass(frozen=True)
class Swap:
    candidate: Candidate
    free: int

    @property
    def enough(self) -> bool:
        return self.free >= self.candidate.wanted


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
class Gap:
    """`later`: from when as many are free for as long; `arrives`: when an order sent today would be here; `buy` what
    to order, of which `drafts` tell what is written already; nothing of these where nothing is short."""

    item: Item
    asked: int
    free: int
    short: int
    later: datetime | None = None
    arrives: date | None = None
    buy: ToBuy | None = None
    swaps: tuple[Swap, ...] = ()
    givers: tuple[Giver, ...] = ()
    more_givers: int = 0
    drafts: tuple[Drafted, ...] = ()
    other_colour: Swap | None = None
    """The nearest that is free, where none is free that a client would take for the same."""

    @property
    def to_order(self) -> int:
        """Packs that are in no draft yet."""
        return max(0, self.buy.packs - sum(one.packs for one in self.drafts)) if self.buy else 0


@dataclass(frozen=True)
class Asked:
    """When, and whose promise is left out of the count."""

    starts: datetime
    ends: datetime
    now: datetime
    exclude: Reservation | None = None
    spoken_for: Mapping[int, int] = field(default_factory=dict)


def gaps_of_list(
    wanted: Mapping[int, int], starts: datetime, ends: datetime, *, now: datetime, exclude: Reservation | None = None
) -> dict[int, Gap]:
    """{item id: how it stands}, of a list {item id: how many}. An item that can be had for the whole span is a gap of
    nought."""
    if not wanted:
        return {}
    free = availability.free(wanted, starts, ends, now=now, exclude=exclude)
    lacks = [Lack(pk, quantity, free[pk]) for pk, quantity in wanted.items()]
    return gaps_of(lacks, Asked(starts, ends, now, exclude, wanted))


def gaps_of(lacks: Iterable[Lack], asked: Asked) -> dict[int, Gap]:
    """The same where it is known already what can be had. `asked.spoken_for` is {item id: how many} that the same
    list wants besides, so that nothing is offered twice."""
    lacks = list(lacks)
    items = Item.objects.select_related(*KINDS).in_bulk([lack.item_id for lack in lacks])
    found = {lack.item_id: Gap(items[lack.item_id], lack.asked, lack.free, lack.short) for lack in lacks}
    if short := {lack.item_id: lack for lack in lacks if lack.short}:
        found |= _closed(short, items, asked)
    return found


def _closed(short: Mapping[int, Lack], items: Mapping[int, Item], asked: Asked) -> dict[int, Gap]:
    starts, ends, now = asked.starts, asked.ends, asked.now
    # A lot counts from the start of its day, so it may come on the very day.
    needed, today = availability.utc_day(starts), availability.utc_day(now)
    missing = [ShortLine(pk, lack.asked, lack.free, lack.short) for pk, lack in short.items()]
    buy = {b.item_id: b for b in packs_to_buy(missing, needed_on=needed, today=today, items=items)}
    stock = _stock_later(short, items, asked)
    swaps, givers, drafts = _swaps(short, items, asked), _givers(short, items, asked), drafts_of(short)
    return {
        pk: Gap(
            items[pk],
            lack.asked,
            lack.free,
            lack.short,
            later=first_later(stock[pk], lack.asked, starts, ends) if pk in stock else None,
            arrives=today + timedelta(days=items[pk].lead_days),
            buy=buy[pk],
            swaps=tuple(swap for swap in swaps.get(pk, ()) if not swap.candidate.far)[:MOST_SWAPS],
            other_colour=_other_colour(swaps.get(pk, ())),
            givers=tuple(givers.get(pk, NOBODY)[0]),
            more_givers=max(0, givers.get(pk, NOBODY)[1]),
            drafts=drafts.get(pk, ()),
        )
        for pk, lack in short.items()
    }


def _stock_later(short: Mapping[int, Lack], items: Mapping[int, Item], asked: Asked) -> dict[int, Stock]:
    """Of what may be free on a later day: what comes back, and what is used up where some of it is due by then."""
    last, day = asked.starts + LOOK_AHEAD, availability.utc_day
    used = [pk for pk in short if not items[pk].returnable]
    due = Lot.objects.filter(item__in=used, arrives_on__gte=day(asked.starts), arrives_on__lte=day(last))
    coming = set(due.values_list("item_id", flat=True)) if used else set()
    ids = [pk for pk, lack in short.items() if not lack.instead and (items[pk].returnable or pk in coming)]
    begin, until = min(asked.now, asked.starts), asked.ends + LOOK_AHEAD
    return availability.stock_of(ids, now=asked.now, starts=begin, ends=until, exclude=asked.exclude) if ids else {}


def _swaps(short: Mapping[int, Lack], items: Mapping[int, Item], asked: Asked) -> dict[int, tuple[Swap, ...]]:
    offered = candidates({pk: lack.short for pk, lack in short.items()}, items)
    ids = {one.item.pk for found in offered.values() for one in found}
    if not ids:
        return {}
    free = availability.free(ids, asked.starts, asked.ends, now=asked.now, exclude=asked.exclude)
    return {
        pk: tuple(
            swap
            for one in found
            if one.item.pk not in short[pk].instead
            if (swap := Swap(one, max(0, free[one.item.pk] - asked.spoken_for.get(one.item.pk, 0)))).free
        )
        for pk, found in offered.items()
    }


def _other_colour(swaps: tuple[Swap, ...]) -> Swap | None:
    """The most alike come first, so the first is far only where all are."""
    return swaps[0] if swaps and swaps[0].candidate.far else None


GiverLine = tuple[int, int, datetime, datetime, int, int]


def _givers(short: Mapping[int, Lack], items: Mapping[int, Item], asked: Asked) -> dict[int, tuple[list[Giver], int]]:
    """{item id: (whoever is to be asked first, how many more hold it)}: holds before what is confirmed, later events
    before earlier ones, which could buy again in time. A returnable helps only where both would have it at once; what
    is used up by an event under way is gone. Nobody is asked for what is lacking there too."""
    away = [pk for pk in short if items[pk].returnable]
    used = [pk for pk in short if not items[pk].returnable]
    at_once = Q(item__in=away, starts__lt=asked.ends, ends__gt=asked.starts)
    to_come = Q(item__in=used, starts__gt=asked.now)
    rows = ReservationLine.objects.filter(at_once | to_come, availability.live(asked.now), ends__gt=asked.now)
    if asked.exclude is not None:
        rows = rows.exclude(reservation=asked.exclude)
    lines, counted = _first_lines(rows)
    lacking = _lacking(counted, asked)
    if lacking:
        lines, counted = _first_lines(rows.exclude(pk__in=_uncovered(lacking)))
    promises = Reservation.objects.in_bulk({line[4] for line in lines})
    begun = {pk for pk, promise in promises.items() if promise.begun}
    gone = ledger.moved(short, begun) if begun else {}
    pages = links.pages_of(promises)
    found: dict[int, list[Giver]] = defaultdict(list)
    for item_id, quantity, starts, ends, pk, line in lines:
        moved = gone.get((pk, item_id))
        left = quantity - (moved.picked if moved else 0) - lacking.get(line, 0)
        if left <= 0:
            counted[item_id] -= 1
        else:
            on_hold = promises[pk].state == Reservation.State.HOLD
            found[item_id].append(Giver(pk, promises[pk].label, starts, ends, left, on_hold, pages.get(pk, "")))
    return {item_id: (givers[:MOST_GIVERS], counted[item_id] - MOST_GIVERS) for item_id, givers in found.items()}


def _lacking(item_ids: Collection[int], asked: Asked) -> dict[int, int]:
    """{line id: what it lacks}, all promises counted, also the one of whoever asks."""
    if not item_ids:
        return {}
    stock = availability.stock_of(item_ids, now=asked.now, starts=asked.now, ends=asked.ends + LOOK_AHEAD)
    return {line: lacks for one in stock.values() for line, lacks in stocking.lacking_of(one, asked.now).items()}


def _uncovered(lacking: Mapping[int, int]) -> list[int]:
    """Lines that lack all that is promised to them."""
    lines = ReservationLine.objects.filter(pk__in=lacking).values_list("pk", "quantity")
    return [pk for pk, quantity in lines if lacking[pk] >= quantity]


def _first_lines(rows: QuerySet[ReservationLine]) -> tuple[list[GiverLine], dict[int, int]]:
    """Of each item the few that are asked first, in that order, and how many there are: a year has thousands."""
    hold_first = Case(When(reservation__state=Reservation.State.HOLD, then=Value(0)), default=Value(1))
    order = [hold_first.asc(), F("starts").desc(), F("reservation_id").asc()]
    mine = [F("item_id")]
    ranked = rows.annotate(
        place=Window(RowNumber(), partition_by=mine, order_by=order),
        count=Window(Count("*"), partition_by=mine),
    ).filter(place__lte=LOOKED_AT)
    lines: list[GiverLine] = []
    counted: dict[int, int] = {}
    names = ("item_id", "quantity", "starts", "ends", "reservation_id", "pk", "count")
    for *line, count in ranked.order_by("item_id", "place").values_list(*names):
        lines.append((line[0], line[1], line[2], line[3], line[4], line[5]))
        counted[line[0]] = count
    return lines, counted
