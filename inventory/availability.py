"""What can still be promised. The promise itself is made in services.py with the same functions, under a lock.

Days are whole days in UTC: a lot counts from the start of the day it arrives to the end of the day it must be used
by. One on order counts from the day it is due, and no longer once that day is past without it. A hold counts until
it lapses; a released reservation counts for nothing, and neither does one whose things are counted back.

What is there is the ledger's sum. Of a consumable that is what lies in the store; a promise for which something was
picked counts with what is still to be picked. A returnable that is out with an event is still ours: it is away for
that event's span, and if it is not counted back by then, for as long as it takes.
"""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta

from django.db.models import Q, QuerySet
from django.utils import timezone

from inventory import balance, ledger
from inventory.balance import Demand, Level, Supply
from inventory.demand_sums import LAST, Reach, Row, reaches, summed, within
from inventory.ledger import Moved
from inventory.models import Item, Lot, Reservation, ReservationLine


@dataclass
class Stock:
    """One item's lots and live promises, as plain numbers. `demands` are away and come back (returnables), `wear` is
    for ever: what consumables lose, and what uses a returnable loses that wears out after `lasts` events. `own` is
    what the event that is left out of the count has taken already."""

    item_id: int
    returnable: bool
    lasts: int | None = None
    supplies: list[Supply] = field(default_factory=list)
    demands: list[Demand] = field(default_factory=list)
    wear: list[Demand] = field(default_factory=list)
    in_store: int = 0
    own: int = 0

    def free(self, starts: datetime, ends: datetime) -> int:
        if not self.returnable:
            return balance.free_consumable(self.supplies, self.wear, starts, ends) + self.own
        count = balance.free_returnable(self.supplies, self.demands, starts, ends)
        if not self.lasts:
            return count
        # Each event wears a piece once: what is left of all their uses is a consumable beside it.
        return min(count, balance.free_consumable(self.uses, self.wear, starts, ends))

    @property
    def wears(self) -> bool:
        """An event takes something of it for ever."""
        return not self.returnable or self.lasts is not None

    @property
    def uses(self) -> list[Supply]:
        return [s._replace(quantity=s.quantity * (s.uses or self.lasts or 1)) for s in self.supplies]

    def lacking(self, *, shared: bool = False) -> dict[int, int]:
        """{line id: what it lacks}, only lines that lack something; `shared`: of a returnable what all lack that are
        away at its worst moment."""
        found: dict[int, int] = defaultdict(int)
        if self.returnable:
            _most(found, self.demands, balance.lacking_returnable(self.supplies, self.demands, shared=shared))
        if not self.returnable or self.lasts:
            _most(found, self.wear, balance.serve(self.uses if self.lasts else self.supplies, self.wear).lacking)
        return {line: lacking for line, lacking in found.items() if lacking}

    def levels(self, starts: datetime, ends: datetime) -> list[Level]:
        if self.returnable:
            return balance.levels_returnable(self.supplies, self.demands, starts, ends)
        return balance.levels_consumable(self.supplies, self.wear, starts, ends)

    def left(self, moment: datetime) -> list[int]:
        """Of each lot, what promises that began by `moment` did not use up."""
        if self.returnable:
            return [s.quantity for s in self.supplies]
        begun = [d for d in self.wear if d.starts <= moment]
        return balance.serve(self.supplies, begun).left

    @property
    def promised(self) -> list[Demand]:
        return self.demands if self.returnable else self.wear


def _most(found: dict[int, int], demands: list[Demand], lacking: list[int]) -> None:
    for demand, amount in zip(demands, lacking, strict=True):
        found[demand.line_id] = max(found[demand.line_id], amount)


@dataclass(frozen=True)
class Detail:
    """How one item stands for a span. `in_store` is what lies in the store now, `on_hand` what is received and still
    there when the span begins (a returnable that is out on an event is still ours, and counted); `expected` is on
    order and due by then; `reserved` is promised within the span, for a consumable also after it; `free` can still be
    promised. `short` is what live promises lack from now on, `short_from` when that begins. `due` and `overdue` are
    days of orders not yet here."""

    in_store: int
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
    """Lines that count: neither released nor counted back, nor on a hold that has lapsed."""
    lapsed = Reservation.objects.filter(state=Reservation.State.HOLD, expires__lte=now)
    return Q(counts=True) & ~Q(reservation__in=lapsed.values("pk"))


def spoils_on(use_by: date | None) -> datetime:
    return day_start(use_by) + timedelta(days=1) if use_by and use_by < date.max else balance.NEVER


def stock_of(
    item_ids: Iterable[int],
    *,
    now: datetime,
    starts: datetime,
    ends: datetime | None = None,
    exclude: Reservation | None = None,
    in_sum: bool = False,
    before: datetime | None = None,
) -> dict[int, Stock]:
    """The numbers behind every answer, in nine queries at most. Lines of returnables are fetched from `starts` to
    `ends` only; of consumables, and of what wears out, every line that still counts. `in_sum`: these come as sums,
    which is enough for `free` from `starts` on, and names no line. `before`: only lines that start before it, which is
    enough to say what these lack, for whoever comes first is served first."""
    stock, known = _opened(set(item_ids), now, exclude)
    if in_sum:
        _read_sums(stock, known, starts, ends)
    else:
        _read_lines(stock, known, starts, ends, before)
    return stock


def stock_seen(
    item_ids: Iterable[int],
    *,
    now: datetime,
    starts: datetime,
    ends: datetime,
    doubtful: Callable[[dict[int, Stock], Mapping[int, Reach], datetime], Collection[int]],
) -> dict[int, Stock]:
    """As sums, with what has begun by `starts` apart from what has not; and line by line from now on those items that
    are `doubtful` by them."""
    stock, known = _opened(set(item_ids), now, None)
    reach = _read_sums(stock, known, starts, ends, at=starts)
    listed = {pk: stock[pk] for pk in doubtful(stock, reach, now)}
    for one in listed.values():
        one.demands, one.wear = [], []
    if listed:
        _read_lines(listed, known, min(starts, now))
    return stock


@dataclass(frozen=True)
class _Known:
    """What every reading of promises needs: `moved` is what was done for those that have `begun`."""

    now: datetime
    lines: QuerySet[ReservationLine]
    begun: list[int]
    moved: dict[tuple[int, int], Moved]
    besides: frozenset[int]


def _opened(ids: set[int], now: datetime, exclude: Reservation | None) -> tuple[dict[int, Stock], _Known]:
    """The items with their lots, still without promises."""
    rows = Item.objects.filter(pk__in=ids).values_list("pk", "returnable", "sheet__uses")
    stock = {pk: Stock(pk, lent, uses if lent and uses and uses > 1 else None) for pk, lent, uses in rows}
    if missing := ids - stock.keys():
        raise ValueError(f"item_ids: there is no item {min(missing)}")
    _read_lots(stock, now)
    out_of = exclude.pk if exclude is not None else None
    begun, lapsed = ledger.begun_and_lapsed(now)
    moved = ledger.moved(ids, begun) if begun else {}
    for pk, one in stock.items():
        if out_of is not None and not one.returnable and (mine := moved.get((out_of, pk))):
            one.own = mine.taken
    lines = ReservationLine.objects.filter(live(now)).exclude(reservation=out_of)
    besides = frozenset([*begun, *lapsed, *([out_of] if out_of else [])])
    return stock, _Known(now, lines, begun, moved, besides)


def _read_sums(
    stock: dict[int, Stock], known: _Known, starts: datetime, ends: datetime | None, at: datetime | None = None
) -> dict[int, Reach]:
    reach = reaches(stock)
    lots = {pk: one.uses if one.lasts else one.supplies for pk, one in stock.items() if one.wears}
    for pk, demands in summed(lots, reach, now=known.now, besides=known.besides, at=at).items():
        stock[pk].wear.extend(demands)
    of_begun = _rows(known.lines.filter(item__in=list(stock), reservation__in=known.begun)) if known.begun else []
    _take(stock, (row for row in of_begun if row.item in lots), known, worn=True)
    lent = [pk for pk, one in stock.items() if one.returnable]
    away = within(lent, reach, starts, ends or LAST, besides=known.besides)
    away += [row for row in of_begun if stock[row.item].returnable]
    _take(stock, away, known, worn=False, since=starts)
    return reach


def _read_lines(
    stock: dict[int, Stock],
    known: _Known,
    starts: datetime,
    ends: datetime | None = None,
    before: datetime | None = None,
) -> None:
    lines = known.lines if before is None else known.lines.filter(starts__lt=before)
    _take(stock, _rows(lines.filter(item__in=[pk for pk, one in stock.items() if one.wears])), known, worn=True)
    if lent := [pk for pk, one in stock.items() if one.returnable]:
        meets = Q(ends__gt=starts) if ends is None else Q(ends__gt=starts, starts__lt=ends)
        still = Q(reservation__in=known.begun) if known.begun else Q(pk__in=[])
        _take(stock, _rows(lines.filter(meets | still, item__in=lent)), known, worn=False, since=starts)


def _read_lots(stock: dict[int, Stock], now: datetime) -> None:
    """What is there by the ledger, and what is on order and not late."""
    held = ledger.sums(stock)
    wanted = Q(pk__in=held) | Q(item__in=list(stock), received=False, arrives_on__gte=utc_day(now))
    # As plain rows: an object for each lot takes as long as all the rest.
    lots = Lot.objects.filter(wanted).order_by("arrives_on", "pk")
    for pk, item, quantity, arrives, received, use_by, uses_left in lots.values_list(
        "pk", "item_id", "quantity", "arrives_on", "received", "use_by", "uses_left"
    ):
        one = stock[item]
        there = held.get(pk)
        if there is not None:
            one.in_store += there.store
            quantity = there.store + there.out if one.returnable else there.store
        if quantity > 0:
            arrival, spoils = day_start(arrives), spoils_on(use_by)
            one.supplies.append(Supply(quantity, arrival, spoils, not received, pk, uses_left))


def _rows(lines: QuerySet[ReservationLine]) -> list[Row]:
    """In the order in which they began: of two that wait for the same pieces, it must always be the same that lacks."""
    rows = lines.order_by("starts", "pk")
    return [Row(*row) for row in rows.values_list("item_id", "quantity", "starts", "ends", "pk", "reservation_id")]


def _take(
    stock: dict[int, Stock], rows: Iterable[Row], known: _Known, *, worn: bool, since: datetime | None = None
) -> None:
    for row in rows:
        one, gone = stock[row.item], known.moved.get((row.by, row.item))
        if since is not None and row.ends <= since and gone is None:
            # Of an event that is over and was never fetched for it: nothing of it is away any more.
            continue
        to = one.wear if worn else one.demands
        to.extend(_demands(one.returnable, Demand(row.quantity, row.starts, row.ends, row.line), gone, known.now))


def _demands(returnable: bool, promised: Demand, gone: Moved | None, now: datetime) -> list[Demand]:  # noqa: FBT001
    """What of a promise still weighs on the store: of one that has begun from now on, whatever lacked before."""
    if not returnable or promised.ends > now:
        promised = promised._replace(starts=max(promised.starts, now))
    if not returnable:
        rest = promised.quantity - (gone.taken if gone else 0)
        return [promised._replace(quantity=rest)] if rest > 0 else []
    if gone is None:
        return [promised]
    rest = promised.quantity - gone.picked
    # What was not fetched before its event ended is not fetched any more, though the other pieces are still out.
    still = [promised._replace(quantity=rest)] if rest > 0 and promised.ends > now else []
    if gone.out > 0:
        ends = promised.ends if promised.ends > now else balance.NEVER
        still.append(promised._replace(quantity=gone.out, starts=min(promised.starts, now), ends=ends, out=True))
    return still


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
    count: what would be free for the event that holds it. Of a span that has begun the rest counts. ValueError names a
    bad argument."""
    now = now or timezone.now()
    stock = stock_in_sum(item_ids, starts, ends, now=now, exclude=exclude)
    return {pk: free_of(one, starts, ends, now) for pk, one in stock.items()}


def stock_in_sum(
    item_ids: Iterable[int], starts: datetime, ends: datetime, *, now: datetime, exclude: Reservation | None = None
) -> dict[int, Stock]:
    """What `free` is told from."""
    check_span(starts, ends)
    check_aware("now", now)
    ids = list(item_ids)
    return stock_of(ids, now=now, starts=starts, ends=ends, exclude=exclude, in_sum=True) if ids else {}


def free_of(stock: Stock, starts: datetime, ends: datetime, now: datetime) -> int:
    """What came this morning serves an event that is being prepared since yesterday: a piece is taken when it is taken,
    and every promise that has begun counts from now on."""
    return stock.free(now if starts < now < ends else starts, ends)


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
    lacking = stock.lacking()
    last = {d.line_id: d for d in stock.promised if d.ends > now}
    short = [(last[line].starts, lack) for line, lack in lacking.items() if line in last]
    # Two events that share one shortage of a returnable lack the same pieces, so theirs are not added up.
    amounts = [lack for _, lack in short]
    due = [s.arrives.date() for s in stock.supplies if s.expected]
    return Detail(
        in_store=stock.in_store,
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
    return sum(d.quantity for d in stock.wear if d.starts > starts)


def curve(item_id: int, starts: datetime, ends: datetime, *, now: datetime | None = None) -> list[Level]:
    """Corners of the step line: (moment, quantity from then on), the first at `starts`; below zero is a shortage."""
    check_span(starts, ends)
    stock = stock_of([item_id], now=now or timezone.now(), starts=starts, ends=ends)
    return stock[item_id].levels(starts, ends)
