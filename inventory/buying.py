"""What to buy up to a day, over all events: what their promises lack, what they need beyond these, and what is below
its own level.

What is on order and not late counts from its due day, as it does for every promise. The same numbers as everywhere:
`availability.stock_of` and what it says to be lacking, `unpromised.weighed` for what is beyond a promise."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta

from django.db.models import Sum
from django.utils import timezone

from inventory import availability, balance, links, unpromised
from inventory.availability import Stock
from inventory.balance import Demand
from inventory.models import Item, Lot, Order, OrderLine, Reservation, ReservationLine
from inventory.services import ShortLine, ToBuy, packs_to_buy
from inventory.unpromised import Need, Weighed

USUAL_AHEAD = timedelta(weeks=4)
KINDS = ("latex", "sheet", "hardware", "cylinder", "foil")


@dataclass(frozen=True)
class WhatFor:
    """One promise that lacks `quantity`; an order sent today comes too late for it, or not. `is_open`: nothing is
    promised to its event yet."""

    label: str
    starts: datetime
    quantity: int
    on_hold: bool = False
    too_late: bool = False
    href: str = ""
    is_open: bool = False

    @property
    def day(self) -> date:
        return timezone.localdate(self.starts)

    @property
    def plain(self) -> dict[str, object]:
        return {"label": self.label, "quantity": self.quantity, "day": self.day.isoformat()}


@dataclass(frozen=True)
class OnOrder:
    """Pieces of an item that are expected, the first day they are due, and those that did not come on theirs."""

    coming: int = 0
    due: date | None = None
    late: int = 0
    late_since: date | None = None


@dataclass(frozen=True)
class BuyLine:
    """`low`: not for a promise, but because `there` is less than the item's level. `drafted` are packs of it in orders
    that are written and not sent."""

    item: Item
    buy: ToBuy
    low: bool = False
    there: int = 0
    what_for: tuple[WhatFor, ...] = ()
    on_order: OnOrder = OnOrder()
    drafted: int = 0

    @property
    def key(self) -> str:
        return f"{'low' if self.low else 'short'}-{self.item.pk}"

    @property
    def late_for(self) -> tuple[WhatFor, ...]:
        return tuple(one for one in self.what_for if one.too_late)


@dataclass(frozen=True)
class Standing:
    """How many pieces promises lack, when the first is needed, and {line id: what it lacks}."""

    short: int = 0
    lacking: Mapping[int, int] = field(default_factory=dict)


def end_of(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day + timedelta(days=1), time.min))


def buy_lines(
    *, until: date, now: datetime, with_holds: bool = True, with_open: bool = False, items: Iterable[Item] | None = None
) -> list[BuyLine]:
    """Lines for what is short, then for what is low, in a score of queries however many items there are. `with_open`:
    also what events would need to which nothing is promised yet. ValueError for a day that is past."""
    if until < timezone.localdate(now):
        raise ValueError("until must not be past")
    rows = Item.objects.filter(active=True).select_related(*KINDS) if items is None else items
    known = {item.pk: item for item in rows}
    ends = end_of(until)
    stock = availability.stock_of(known, now=now, starts=now, ends=ends, before=ends) if known else {}
    if not with_holds:
        _leave_out_holds(stock, now)
    beyond = _beyond(known, now, ends, with_holds=with_holds, with_open=with_open)
    by_item: dict[int, dict[int, Weighed]] = defaultdict(dict)
    for number, weighed in beyond.items():
        by_item[weighed.need.item_id][number] = weighed
    leveled = [pk for pk, item in known.items() if item.reorder_level is not None]
    for_levels = availability.stock_of(leveled, now=now, starts=now, in_sum=True) if leveled else {}
    standing = {pk: _standing_with(one, by_item[pk], now, ends) for pk, one in stock.items()}
    lines: dict[int, ReservationLine | Need] = {number: weighed.need for number, weighed in beyond.items()}
    lines |= _lines_of({line for one in standing.values() for line in one.lacking if line not in beyond})
    pages = links.pages_of(line.reservation_id for line in lines.values() if isinstance(line, ReservationLine))
    on_order, drafted = _on_order(known, now), _drafted()
    found: list[BuyLine] = []
    for pk, item in known.items():
        on, written = on_order.get(pk, OnOrder()), drafted.get(pk, 0)
        bought = 0
        if (one := standing[pk]).short:
            short = _short_line(item, one, lines, pages, availability.utc_day(now))
            bought = short.buy.quantity - one.short
            found.append(replace(short, on_order=on, drafted=min(written, short.buy.packs)))
            written -= min(written, short.buy.packs)
        if item.reorder_level is None:
            continue
        there = there_for_level(for_levels[pk], now) + bought
        if there < item.reorder_level:
            found.append(replace(_low_line(item, there, now), on_order=on, drafted=written))
    return sorted(found, key=lambda line: (line.low, line.buy.order_by, line.item.name.lower()))


def _low_line(item: Item, there: int, now: datetime) -> BuyLine:
    level, today = item.reorder_level or 0, availability.utc_day(now)
    needed = today + timedelta(days=item.lead_days)
    short_by = ShortLine(item.pk, level, there, level - there)
    buy = packs_to_buy([short_by], needed_on=needed, today=today, items={item.pk: item})[0]
    return BuyLine(item, buy, low=True, there=there)


def below_level(stock: Mapping[int, Stock], items: Iterable[Item], now: datetime) -> list[tuple[Item, int]]:
    """(item, how many are there) of those below their level, what is on order counted in."""
    found = [(item, there_for_level(stock[item.pk], now)) for item in items if item.reorder_level is not None]
    return [(item, there) for item, there in found if there < (item.reorder_level or 0)]


def there_for_level(stock: Stock, now: datetime) -> int:
    """What an item's level is compared with, with all that is on order and not late as if it were here: of a consumable
    what can still be promised, of a returnable what is ours, for what is away comes back."""
    usable = [s._replace(arrives=min(s.arrives, now)) for s in stock.supplies if s.spoils > now]
    if stock.returnable:
        return sum(s.quantity for s in usable)
    return balance.free_consumable(usable, stock.wear, now, now + timedelta(days=1))


def _leave_out_holds(stock: Mapping[int, Stock], now: datetime) -> None:
    rows = ReservationLine.objects.filter(availability.live(now), reservation__state=Reservation.State.HOLD)
    held = set(rows.values_list("pk", flat=True))
    for one in stock.values():
        one.demands = [d for d in one.demands if d.line_id not in held]
        one.wear = [d for d in one.wear if d.line_id not in held]


def _standing(stock: Stock, now: datetime, ends: datetime) -> Standing:
    within = {d.line_id for d in stock.promised if d.ends > now and d.starts < ends}
    lacking = {line: n for line, n in stock.lacking().items() if line in within}
    if not lacking:
        return Standing()
    if not stock.returnable:
        return Standing(sum(lacking.values()), lacking)
    # Two events at once that share a shortage lack the same pieces; what is bought serves whatever lies deepest.
    deepest = -min(level for _, level in balance.levels_returnable(stock.supplies, stock.demands, now, ends))
    return Standing(max(deepest, _worn(stock, now, ends), 1), lacking)


def _worn(stock: Stock, now: datetime, ends: datetime) -> int:
    """New pieces whose uses would make up for those that are lacking."""
    if not stock.lasts:
        return 0
    served = balance.serve(stock.uses, stock.wear).lacking
    uses = sum(n for d, n in zip(stock.wear, served, strict=True) if d.ends > now and d.starts < ends)
    return -(-uses // stock.lasts)


def _beyond(
    known: Mapping[int, Item], now: datetime, ends: datetime, *, with_holds: bool, with_open: bool
) -> dict[int, Weighed]:
    """What is needed beyond promises up to the day, by numbers that no line has. Weighed against all promises, also
    those of later events: what is theirs serves nobody before them."""
    asked = unpromised.needs(now=now, with_open=with_open)
    asked = [need for need in asked if with_holds or not need.on_hold]
    if not any(need.starts < ends and need.item_id in known for need in asked):
        return {}
    stock = availability.stock_of({need.item_id for need in asked}, now=now, starts=now)
    if not with_holds:
        _leave_out_holds(stock, now)
    told = unpromised.weigh(stock, asked, now)
    told = [one for one in told if one.need.starts < ends and one.need.item_id in known]
    return {-number: one for number, one in enumerate(told, start=1)}


def _standing_with(stock: Stock, beyond: Mapping[int, Weighed], now: datetime, ends: datetime) -> Standing:
    """What promises lack, and what the needs beyond them lack."""
    promised = _standing(stock, now, ends)
    extra = {number: one.lacks for number, one in beyond.items() if one.lacks}
    if not extra:
        return promised
    lacking = {**promised.lacking, **extra}
    if not stock.returnable:
        return Standing(promised.short + sum(extra.values()), lacking)
    # What is bought serves whatever lies deepest. A later promise that is not read here may lie deeper still: then it
    # is what the needs themselves lack at once.
    needs = {number: one.need for number, one in beyond.items()}
    lacks = [Demand(n, max(needs[number].starts, now), needs[number].ends) for number, n in extra.items()]
    at_once = -min(level for _, level in balance.levels_returnable([], lacks, now, max(d.ends for d in lacks)))
    all_of_it = _standing(_with(stock, needs, now), now, ends)
    return Standing(max(promised.short, all_of_it.short, at_once), lacking)


def _with(stock: Stock, needs: Mapping[int, Need], now: datetime) -> Stock:
    """Of what comes back, as if they were promised too."""
    more = [Demand(need.quantity, max(need.starts, now), need.ends, number) for number, need in needs.items()]
    return replace(stock, demands=[*stock.demands, *more], wear=[*stock.wear, *more] if stock.lasts else stock.wear)


def _lines_of(ids: set[int]) -> dict[int, ReservationLine]:
    return {row.pk: row for row in ReservationLine.objects.filter(pk__in=ids).select_related("reservation")}


def _short_line(
    item: Item,
    standing: Standing,
    lines: Mapping[int, ReservationLine | Need],
    pages: Mapping[int, str],
    today: date,
) -> BuyLine:
    earliest = today + timedelta(days=item.lead_days)
    what_for = [_what_for(lines[line], pages, lacking, earliest) for line, lacking in standing.lacking.items()]
    what_for.sort(key=lambda one: one.starts)
    missing = ShortLine(item.pk, standing.short, 0, standing.short)
    needed = availability.utc_day(what_for[0].starts)
    buy = packs_to_buy([missing], needed_on=needed, today=today, items={item.pk: item})[0]
    return BuyLine(item, buy, what_for=tuple(what_for))


def _what_for(line: ReservationLine | Need, pages: Mapping[int, str], lacking: int, earliest: date) -> WhatFor:
    # A lot counts from the start of its day, so it may come on the very day.
    late = availability.utc_day(line.starts) < earliest
    if isinstance(line, Need):
        return WhatFor(line.label, line.starts, lacking, line.on_hold, late, line.href, is_open=not line.waits)
    held = line.reservation.state == Reservation.State.HOLD
    page = pages.get(line.reservation_id, "")
    return WhatFor(line.reservation.label, line.starts, lacking, held, late, page)


def _on_order(items: Iterable[int], now: datetime) -> dict[int, OnOrder]:
    today = availability.utc_day(now)
    coming: dict[int, list[tuple[int, date]]] = defaultdict(list)
    rows = Lot.objects.filter(item__in=list(items), received=False).order_by("arrives_on")
    for item_id, quantity, day in rows.values_list("item_id", "quantity", "arrives_on"):
        coming[item_id].append((quantity, day))
    return {
        item_id: OnOrder(
            sum(n for n, day in lots if day >= today),
            next((day for _, day in lots if day >= today), None),
            sum(n for n, day in lots if day < today),
            next((day for _, day in lots if day < today), None),
        )
        for item_id, lots in coming.items()
    }


def _drafted() -> dict[int, int]:
    rows = OrderLine.objects.filter(order__state=Order.State.DRAFT).order_by().values_list("item_id")
    return dict(rows.annotate(all_packs=Sum("packs")))


def by_supplier(lines: Iterable[BuyLine]) -> list[tuple[str, list[BuyLine]]]:
    """What has a supplier's name first, then what has none; the most urgent supplier first."""
    groups: dict[str, list[BuyLine]] = defaultdict(list)
    for line in lines:
        groups[line.item.supplier].append(line)
    return sorted(groups.items(), key=lambda group: (not group[0], min(x.buy.order_by for x in group[1]), group[0]))
