"""What can still be promised. The promise itself is made in services.py with the same functions, under a lock.

Days are whole days in UTC: a lot counts from the start of the day it arrives to the end of the day it must be used
by. One on order counts from the day it is due, and no longer once that day is past without it. A hold counts until
it lapses; a released reservation counts for nothing.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta

from django.db.models import Q
from django.utils import timezone

from inventory import balance
from inventory.balance import Demand, Level, Supply
from inventory.models import Item, Lot, Reservation, ReservationLine


@dataclass(frozen=True)
class Stock:
    """One item's lots and live promises, as plain numbers."""

    item_id: int
    returnable: bool
    supplies: list[Supply] = field(default_factory=list)
    demands: list[Demand] = field(default_factory=list)

    def free(self, starts: datetime, ends: datetime) -> int:
        count = balance.free_returnable if self.returnable else balance.free_consumable
        return count(self.supplies, self.demands, starts, ends)

    def lacking(self) -> list[int]:
        """For each demand, what it lacks."""
        if self.returnable:
            return balance.lacking_returnable(self.supplies, self.demands)
        return balance.serve(self.supplies, self.demands).lacking

    def levels(self, starts: datetime, ends: datetime) -> list[Level]:
        count = balance.levels_returnable if self.returnable else balance.levels_consumable
        return count(self.supplies, self.demands, starts, ends)

    def left(self, moment: datetime) -> list[int]:
        """Of each lot, what demands that began by `moment` did not use up."""
        if self.returnable:
            return [s.quantity for s in self.supplies]
        begun = [d for d in self.demands if d.starts <= moment]
        return balance.serve(self.supplies, begun).left


@dataclass(frozen=True)
class Detail:
    """How one item stands for a span. `on_hand` is received and still there when the span begins (a returnable that
    is out on an event is still ours, and counted); `expected` is on order and due by then; `reserved` is promised
    within the span, for a consumable also after it; `free` can still be promised. `short` is what live promises lack
    from now on, `short_from` when that begins. `due` and `overdue` are days of orders not yet here."""

    on_hand: int
    expected: int
    reserved: int
    free: int
    short: int
    short_from: datetime | None
    due: date | None
    overdue: date | None


def day_start(day: date) -> datetime:
    return datetime.combine(day, time.min, tzinfo=UTC)


def utc_day(moment: datetime) -> date:
    return moment.astimezone(UTC).date()


def check_span(starts: datetime, ends: datetime) -> None:
    for name, moment in (("starts", starts), ("ends", ends)):
        check_aware(name, moment)
    if ends <= starts:
        raise ValueError("ends must come after starts")


def check_aware(name: str, moment: datetime) -> None:
    if not isinstance(moment, datetime) or timezone.is_naive(moment):
        raise ValueError(f"{name} must be a date and time with a time zone")


def live(now: datetime) -> Q:
    """Lines that count: confirmed, or on a hold that has not lapsed."""
    return Q(reservation__state=Reservation.State.CONFIRMED) | Q(
        reservation__state=Reservation.State.HOLD, reservation__expires__gt=now
    )


def supply_of(lot: Lot) -> Supply:
    last = lot.use_by if lot.use_by and lot.use_by < date.max else None
    spoils = day_start(last) + timedelta(days=1) if last else balance.NEVER
    return Supply(lot.quantity, day_start(lot.arrives_on), spoils, expected=not lot.received, lot_id=lot.pk)


def stock_of(
    item_ids: Iterable[int],
    *,
    now: datetime,
    starts: datetime,
    ends: datetime | None = None,
    exclude: Reservation | None = None,
) -> dict[int, Stock]:
    """The numbers behind every answer, in four queries at most. Lines of returnables are fetched from `starts` to
    `ends` only; a consumable's every line counts, however long ago."""
    ids = set(item_ids)
    found = dict(Item.objects.filter(pk__in=ids).values_list("pk", "returnable"))
    if missing := ids - found.keys():
        raise ValueError(f"item_ids: there is no item {min(missing)}")
    stock = {pk: Stock(pk, returnable) for pk, returnable in found.items()}
    countable = Q(received=True) | Q(arrives_on__gte=utc_day(now))
    lots = Lot.objects.filter(countable, item__in=ids).order_by("arrives_on", "pk")
    for lot in lots.only("item_id", "received", "quantity", "arrives_on", "use_by"):
        stock[lot.item_id].supplies.append(supply_of(lot))
    lines = ReservationLine.objects.filter(live(now))
    if exclude is not None:
        lines = lines.exclude(reservation=exclude)
    within = Q(ends__gt=starts) if ends is None else Q(ends__gt=starts, starts__lt=ends)
    for returnable, span in ((True, within), (False, Q())):
        if group := [pk for pk, comes_back in found.items() if comes_back == returnable]:
            rows = lines.filter(span, item__in=group)
            for item_id, quantity, begins, finishes, pk in rows.values_list(
                "item_id", "quantity", "starts", "ends", "pk"
            ):
                stock[item_id].demands.append(Demand(quantity, begins, finishes, pk))
    return stock


def free(
    item_ids: Iterable[int],
    starts: datetime,
    ends: datetime,
    *,
    now: datetime | None = None,
    exclude: Reservation | None = None,
) -> dict[int, int]:
    """{item id: quantity that can still be promised over the whole span}, never below zero.

    No promise that is alive is left with less by promising that much. `exclude` leaves one reservation out of the
    count: what would be free for the event that holds it. ValueError names a bad argument."""
    check_span(starts, ends)
    now = now or timezone.now()
    check_aware("now", now)
    ids = list(item_ids)
    stock = stock_of(ids, now=now, starts=starts, ends=ends, exclude=exclude) if ids else {}
    return {pk: one.free(starts, ends) for pk, one in stock.items()}


def free_detail(
    item_ids: Iterable[int],
    starts: datetime,
    ends: datetime,
    *,
    now: datetime | None = None,
    stock: dict[int, Stock] | None = None,
) -> dict[int, Detail]:
    """`stock` is what `stock_of` gave for the same items from `now` or from `starts` on, if it is at hand."""
    check_span(starts, ends)
    now = now or timezone.now()
    ids = set(item_ids)
    stock = stock_of(ids, now=now, starts=min(starts, now)) if stock is None else stock
    overdue: dict[int, date] = {}
    late = Lot.objects.filter(item__in=ids, received=False, arrives_on__lt=utc_day(now))
    for item_id, day in late.order_by("-arrives_on").values_list("item_id", "arrives_on"):
        overdue[item_id] = day
    return {pk: _detail(one, starts, ends, now, overdue.get(pk)) for pk, one in stock.items()}


def _detail(stock: Stock, starts: datetime, ends: datetime, now: datetime, overdue: date | None) -> Detail:
    counted: dict[bool, int] = defaultdict(int)
    for supply, left in zip(stock.supplies, stock.left(starts), strict=True):
        if supply.arrives <= starts < supply.spoils:
            counted[supply.expected] += left
    short = [(d.starts, lack) for d, lack in zip(stock.demands, stock.lacking(), strict=True) if lack and d.ends > now]
    # Two events that share one shortage of a returnable lack the same pieces, so theirs are not added up.
    amounts = [lack for _, lack in short]
    due = [s.arrives.date() for s in stock.supplies if s.expected]
    return Detail(
        on_hand=counted[False],
        expected=counted[True],
        reserved=_reserved(stock, starts, ends),
        free=stock.free(starts, ends),
        short=(max(amounts, default=0) if stock.returnable else sum(amounts)),
        short_from=min((moment for moment, _ in short), default=None),
        due=min(due, default=None),
        overdue=overdue,
    )


def _reserved(stock: Stock, starts: datetime, ends: datetime) -> int:
    if stock.returnable:
        return -min(level for _, level in balance.levels_returnable([], stock.demands, starts, ends))
    return sum(d.quantity for d in stock.demands if d.starts > starts)


def curve(item_id: int, starts: datetime, ends: datetime, *, now: datetime | None = None) -> list[Level]:
    """Corners of the step line: (moment, quantity from then on), the first at `starts`; below zero is a shortage."""
    check_span(starts, ends)
    stock = stock_of([item_id], now=now or timezone.now(), starts=starts, ends=ends)
    return stock[item_id].levels(starts, ends)
