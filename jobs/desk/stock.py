"""How one event stands with the store: what it needs beside what is free, and what is promised to it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from django.urls import reverse
from django.utils import timezone

from decor.studio.templatetags.desk import day_words, plural
from inventory.gap_words import Asker, order_address, send_act
from inventory.models import Item, Reservation
from inventory.ordering import Drafted, drafts_of
from inventory.services import Shortage
from jobs.crew.models import DayHold
from jobs.desk.unmet import Beyond, beyond_now
from jobs.estimates.known import Known
from jobs.estimates.models import Estimate
from jobs.estimates.needs import StockLine, needs_of_input, needs_of_result, stock_lines
from jobs.events.models import ENDED, Event, Stage
from jobs.events.rows import Row
from jobs.events.shelf import StockSpan, event_stock_span

PROMISED = (Stage.CONFIRMED, Stage.IN_PRODUCTION)
LATE, SHORT, UNHELD, LAPSED, OPEN_HOLD = 90, 70, 25, 55, 10


@dataclass(frozen=True)
class EventStock:
    """`standing` is what the event's promise is now: none, hold, lapsed, confirmed, released or settled. `covers` tells
    whether it promises all that the lines ask for, over the event's present span; `beyond` how that stands which it
    needs and could not be promised."""

    estimate: Estimate | None
    lines: list[StockLine]
    standing: str
    expires: datetime | None
    day_hold: DayHold | None
    current: bool = False
    covers: bool = False
    beyond: Beyond | None = None
    span: StockSpan | None = None

    @property
    def short(self) -> list[StockLine]:
        """The most urgent first."""
        found = [line for line in self.lines if line.short]
        return sorted(found, key=lambda line: (not line.late, line.order_by or timezone.now().date()))

    @property
    def on_order(self) -> str:
        """What it counts on that is not here yet: 33 sky, due Mon 14 December, and 2 other things."""
        waiting = [line for line in self.lines if line.if_it_arrives and line.due]
        if not waiting:
            return ""
        first = max(waiting, key=lambda line: line.due or timezone.localdate())
        told = f"{short_words(replace(first, short=first.if_it_arrives))}, due {day_words(first.due)}"
        others = len(waiting) - 1
        return told + (f", and {others} other {'thing' if others == 1 else 'things'}" if others else "")

    @property
    def open_balloons(self) -> int:
        return sum(line.need.quantity for line in self.lines if not line.need.named and line.need.what == "latex")


def event_needs(event: Event, *, now: datetime | None = None, known: Known | None = None) -> EventStock:
    """What its pieces need as they are now, once they were estimated. What the event itself holds counts as free for
    it."""
    now = now or timezone.now()
    known = known or Known(event)
    estimate = known.finished
    standing, expires = _standing(event.reservation, now)
    day_hold = DayHold.objects.filter(event=event).first()
    if estimate is None or estimate.result is None:
        return EventStock(None, [], standing, expires, day_hold)
    background = known.background
    if not known.pieces:
        needs = []
    elif known.bare is not None:
        needs = needs_of_input(known.bare, background.catalogue, background.store)
    else:
        needs = needs_of_result(estimate.result, background.catalogue, background.store)
    span = event_stock_span(event, background.studio.turn_round_hours)
    beyond = beyond_now([event.pk], now=now).get(event.pk)
    spoken_for = beyond.spoken_for if beyond else None
    lines = stock_lines(needs, span, now=now, exclude=event.reservation, spoken_for=spoken_for)
    covers = standing in {"hold", "confirmed"} and _covers(event.reservation, lines, span.starts, span.ends)
    return EventStock(
        estimate,
        lines,
        standing,
        expires,
        day_hold,
        current=known.is_current,
        covers=covers,
        beyond=beyond,
        span=span,
    )


def _standing(reservation: Reservation | None, now: datetime) -> tuple[str, datetime | None]:
    if reservation is None:
        return "none", None
    if reservation.state == Reservation.State.HOLD and reservation.expires and reservation.expires <= now:
        return "lapsed", reservation.expires
    return str(reservation.state), reservation.expires


def _covers(reservation: Reservation | None, lines: Sequence[StockLine], starts: datetime, ends: datetime) -> bool:
    if reservation is None or reservation.starts > starts or reservation.ends < ends:
        return False
    held = dict(reservation.lines.values_list("item_id", "quantity"))
    for line in sorted(lines, key=lambda line: not line.need.named):
        if line.need.what == "latex" and not line.need.named:
            continue
        wanted = line.need.quantity
        for choice in line.need.choices:
            taken = min(wanted, held.get(choice.id, 0))
            held[choice.id] = held.get(choice.id, 0) - taken
            wanted -= taken
        if wanted:
            return False
    return True


def event_pages(reservation_ids: Iterable[int]) -> dict[int, str]:
    """Where the stock of each promise's event is told; the store's own pages link there."""
    rows = Event.objects.filter(reservation__in=list(reservation_ids)).values_list("reservation_id", "pk")
    return {promise: reverse("jobs:event-stock", args=[event]) for promise, event in rows}


def order_words(line: StockLine) -> str:
    """1 pack of sky; 2 more of Net 13 wide, 22 high; 3 poles"""
    need = line.need
    if need.what == "latex":
        return f"{plural(line.packs, 'pack,packs')} of {need.label}"
    if need.what == "sheet":
        return f"{line.packs * line.pack_size} more of {need.label}"
    return need.things(line.packs * line.pack_size).replace(" ", " more ", 1)


def order_act(line: StockLine, event: Event, drafts: Sequence[Drafted]) -> tuple[str, str]:
    """What to do about what is short and can still come in time: put it into a draft order and come back, or send the
    draft that it is in already."""
    assert line.buy_id is not None
    rest = line.packs - sum(draft.packs for draft in drafts)
    if rest <= 0:
        return send_act(drafts)
    asker = asker_of(event, reverse("jobs:event-stock", args=[event.pk]))
    address = order_address(line.buy_id, rest, asker, short=line.short)
    return f"Order {order_words(replace(line, packs=rest))}", address


def asker_of(event: Event, back: str) -> Asker:
    return Asker(back, f"{event.number} {event.title}"[:120], timezone.localdate(event.doors, event.zone))


def short_words(line: StockLine) -> str:
    """36 sky; 1 of Net 13 wide, 22 high"""
    need = line.need
    if need.what == "latex" and not need.named:
        return f"{line.short:,} balloons of {need.size}"
    if need.what in {"hardware", "cylinder"}:
        return need.things(line.short)
    return f"{line.short:,} of {need.label}" if need.what == "sheet" else f"{line.short:,} {need.label}"


def shortage_words(shortage: Shortage) -> str:
    """What a refused promise lacked: 36 of 5 in sky, 2 of Pole."""
    names = Item.objects.in_bulk([line.item_id for line in shortage.lines])
    return ", ".join(f"{line.short:,} of {names[line.item_id]}" for line in shortage.lines)


def stock_row(event: Event, known: Known | None = None) -> Row:
    """For the event's page."""
    url = reverse("jobs:event-stock", args=[event.pk])
    if event.stage in ENDED:
        return Row("Stock", "Nothing is kept for it", url=url, state="off", state_words=event.get_stage_display())
    stock = event_needs(event, known=known)
    if stock.standing == "settled":
        return Row("Stock", "Counted back", "nothing is out with it", "off", "Settled", url)
    if stock.estimate is None:
        return Row("Stock", "Not known yet", "the estimate tells what it takes", url=url)
    if stock.short:
        return _short_row(event, stock, url)
    return _whole_row(event, stock, url)


def _short_row(event: Event, stock: EventStock, url: str) -> Row:
    first = stock.short[0]
    others = len(stock.short) - 1
    kept = f"; {stock.beyond.kept}" if stock.beyond and stock.beyond.lacks else ""
    more = f" and {others} other {'thing' if others == 1 else 'things'}" if others else ""
    stands, see = f"Short of {short_words(first)}{more}", ("See what is short", url)
    if first.order_by is None:
        return Row("Stock", stands, "none in stock yet", "no", "Missing", url, see, LATE)
    day = day_words(first.order_by)
    if first.late:
        return Row("Stock", stands, f"should have been ordered by {day}{kept}", "no", "Late", url, see, LATE)
    drafts = drafts_of([first.buy_id]).get(first.buy_id, ()) if first.buy_id else ()
    buy = order_act(first, event, drafts)
    return Row("Stock", stands, f"last day to order: {day}{kept}", "warn", "Short", url, buy, SHORT)


def _whole_row(event: Event, stock: EventStock, url: str) -> Row:
    small = f"{stock.open_balloons:,} balloons have no colour yet" if stock.open_balloons else ""
    what = "What has a colour is" if small else "All"
    if stock.on_order:
        small = "; ".join(filter(None, [f"counts on an order: {stock.on_order}", small]))
    if stock.standing == "confirmed" and stock.covers:
        return Row("Stock", f"{what} reserved", small, "ok", "Reserved", url)
    if stock.standing == "hold" and stock.covers:
        act, until = ("Confirm or release", url), f"until {held_until(stock, event)}"
        small = f"{until}; {small}" if small else until
        return Row("Stock", f"{what} held", small, "wait", "On hold", url, act, OPEN_HOLD)
    if stock.standing == "lapsed":
        again = ("Hold it again", url)
        return Row("Stock", "The hold lapsed", small or "all is still free", "warn", "Lapsed", url, again, LAPSED)
    if stock.standing in {"hold", "confirmed"}:
        act = ("Bring the stock up to date", url)
        small = "the event needs something else now"
        return Row("Stock", "Held for what it was before", small, "warn", "Older", url, act, LAPSED)
    act, promised = ("Hold its stock and hours", url), event.stage in PROMISED
    state, words, urgency = ("warn", "Not kept", LAPSED) if promised else ("none", "Not held", UNHELD)
    return Row("Stock", "All free, not held", small, state, words, url, act, urgency)


def held_until(stock: EventStock, event: Event) -> str:
    if stock.expires is None:
        return ""
    local = timezone.localtime(stock.expires, event.zone)
    return f"{day_words(local)}, {local:%H:%M}"
