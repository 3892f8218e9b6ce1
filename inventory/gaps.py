"""What is short for a span, and everything that could close the gap: buying, something else, a later day, or another
event that holds it. Shown only; nothing is taken from anybody."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta

from inventory import availability, expecting
from inventory.availability import Stock
from inventory.expecting import OnOrder
from inventory.givers import Giver, givers_of
from inventory.later import LOOK_AHEAD, first_later
from inventory.models import Item, Lot, Reservation
from inventory.ordering import Drafted, drafts_of
from inventory.services import ShortLine, ToBuy, packs_to_buy
from inventory.swaps import Candidate, candidates

MOST_SWAPS = 3
NOBODY: tuple[list[Giver], int] = ([], 0)
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
    on_order: OnOrder | None = None
    """How much of what is free is here, where that is not all of it."""
    later_if: bool = False
    """Whether `later` counts on an order that is not here yet."""
    other_colour: Swap | None = None
    """The nearest that is free, where none is free that a client would take for the same."""

    @property
    def to_order(self) -> int:
        """Packs that are in no draft yet."""
        return max(0, self.buy.packs - sum(one.packs for one in self.drafts)) if self.buy else 0

    @property
    def if_it_arrives(self) -> int:
        """So many of those that can be had are not here yet."""
        return max(0, min(self.asked, self.free) - self.on_order.sure) if self.on_order else 0


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
    free, ordered = expecting.free_and_on_order(wanted, starts, ends, now=now, exclude=exclude)
    lacks = [Lack(pk, quantity, free[pk]) for pk, quantity in wanted.items()]
    found = gaps_of(lacks, Asked(starts, ends, now, exclude, wanted))
    return {pk: replace(gap, on_order=ordered.get(pk)) for pk, gap in found.items()}


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
    later = {pk: first_later(one, short[pk].asked, starts, ends) for pk, one in stock.items()}
    later_if = {pk for pk, moment in later.items() if moment and _on_order_then(stock[pk], short[pk], moment, asked)}
    swaps, drafts = _swaps(short, items, asked), drafts_of(short)
    wanted = {pk: lack.asked for pk, lack in short.items()}
    givers = givers_of(wanted, starts, ends, now=now, exclude=asked.exclude)
    return {
        pk: Gap(
            items[pk],
            lack.asked,
            lack.free,
            lack.short,
            later=later.get(pk),
            later_if=pk in later_if,
            arrives=today + timedelta(days=items[pk].lead_days),
            buy=buy[pk],
            swaps=tuple(swap for swap in swaps.get(pk, ()) if not swap.candidate.far)[:MOST_SWAPS],
            other_colour=_other_colour(swaps.get(pk, ())),
            givers=tuple(givers.get(pk, NOBODY)[0]),
            more_givers=givers.get(pk, NOBODY)[1],
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


def _on_order_then(stock: Stock, lack: Lack, moment: datetime, asked: Asked) -> bool:
    then = expecting.on_order_of(stock, moment, moment + (asked.ends - asked.starts), asked.now)
    return then is not None and then.sure < lack.asked


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
