"""The stock of one event: what it needs, what is free, and promising it."""

from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from decor.studio.requests import once
from decor.studio.services import audit_add
from decor.studio.templatetags.desk import day_words, money_words
from inventory.forms import FORMS
from inventory.ordering import Drafted
from inventory.services import Shortage
from jobs.crew.words import span_words
from jobs.desk import services
from jobs.desk.closers import check_url, event_gaps
from jobs.desk.stock import EventStock, event_needs, held_until, order_act, order_words, short_words, shortage_words
from jobs.estimates.known import Known
from jobs.estimates.needs import StockLine
from jobs.estimates.store import new_thing
from jobs.events.models import ENDED, Event

NAMES = {"latex": "Balloons", "sheet": "Sheets", "hardware": "Hardware", "cylinder": "Helium"}


def _event(pk: int) -> Event:
    return get_object_or_404(Event.objects.select_related("venue", "client", "reservation"), pk=pk)


@dataclass(frozen=True)
class ToGet:
    """What is short, what to do about it, and where."""

    stands: str
    small: str
    do: str
    href: str
    about: str
    by_order: bool = True
    open: bool = True
    """Not all of it is in a draft order yet."""


def _to_buy(line: StockLine, event: Event, currency: str, drafts: Mapping[int, tuple[Drafted, ...]]) -> ToGet:
    need, back_to = line.need, reverse("jobs:event-stock", args=[event.pk])
    if line.order_by is None:
        kind = need.what if need.what in FORMS else "hardware"
        asked = {"to": back_to} | (new_thing(need.label) if kind == "hardware" else {})
        href = f"{reverse('inventory:item-add', args=[kind])}?{urlencode(asked)}"
        do = f"Add {need.all_of_them} to stock"
        return ToGet(short_words(line), "none in stock yet", do, href, need.label, by_order=False)
    day = day_words(line.order_by)
    by = f"should have been ordered by {day}" if line.late else f"order by {day}"
    cost = f"{money_words(line.cost, currency)}, {by}"
    written = drafts.get(line.buy_id or 0, ())
    do, href = order_act(line, event, written)
    return ToGet(order_words(line), cost, do, href, need.label, open=sum(one.packs for one in written) < line.packs)


@require_safe
def event_stock(request: HttpRequest, event: int) -> HttpResponse:
    return _page(request, _event(event))


def _page(request: HttpRequest, event: Event, refusal: str = "") -> HttpResponse:
    known = Known(event, request.studio)
    stock = event_needs(event, known=known)
    here = reverse("jobs:event-stock", args=[event.pk])
    ended, span = event.stage in ENDED, stock.span
    gaps, check = [], ""
    if span is not None and not ended:
        gaps = event_gaps(
            event,
            stock.short,
            stock.lines,
            span,
            currency=request.studio.currency,
            pieces=known.pieces,
            catalogue=known.background.catalogue,
        )
        called = f"{event.number} {event.title}"
        check = check_url(stock.lines, span, back=here, called=called, promise=event.reservation)
    drafts = {line.item.pk: line.gap.drafts for line in gaps}
    short = [_to_buy(line, event, request.studio.currency, drafts) for line in stock.short]
    context = {
        "tab": "events",
        "event": event,
        "stock": stock,
        "groups": _groups(stock),
        "gaps": gaps,
        "check": check,
        "short": short,
        "get": next((one for one in short if one.open), short[0] if short else None),
        "buying": any(line.order_by for line in stock.short),
        "held_until": held_until(stock, event),
        "day": span_words(stock.day_hold.starts, stock.day_hold.ends, event.zone) if stock.day_hold else "",
        "act": _act(event, stock),
        "ended": ended,
        "refusal": refusal,
        "before_confirmed": services.BEFORE_CONFIRMED,
    }
    return render(request, "jobs/desk/stock.html", context, status=409 if refusal else 200)


def _groups(stock: EventStock) -> list[tuple[str, list[tuple[StockLine, str, str, str]]]]:
    """By what they are: each line with its label and its chip."""
    groups: dict[str, list[tuple[StockLine, str, str, str]]] = {}
    for line in stock.lines:
        label = f"{line.need.label}, {line.need.size}" if line.need.named and line.need.size else line.need.label
        state, words = _chip(stock, line)
        groups.setdefault(NAMES[line.need.what], []).append((line, label[:1].upper() + label[1:], state, words))
    return list(groups.items())


def _chip(stock: EventStock, line: StockLine) -> tuple[str, str]:
    if line.state != "ok":
        words = f"{line.short:,} short"
        return line.state, "Missing" if line.order_by is None else f"{words}, too late" if line.late else words
    open_colour = line.need.what == "latex" and not line.need.named
    if open_colour or not stock.covers:
        return ("wait", "If it arrives") if line.if_it_arrives else ("ok", "Free")
    return ("ok", "Reserved") if stock.standing == "confirmed" else ("wait", "Held")


def _act(event: Event, stock: EventStock) -> str:
    """The one filled button: estimate, order, hold, confirm, or nothing more to do."""
    if event.stage in ENDED or stock.standing == "settled":
        return ""
    if stock.estimate is None:
        return "estimate"
    if stock.short:
        # What is short is known from the pieces as they are now, whatever the estimate says of hours and price.
        # An order that comes too late helps nobody; another colour, another sheet or another event may.
        return "else" if stock.short[0].late and stock.short[0].order_by else "order"
    if not stock.current:
        return "estimate"
    if stock.standing == "confirmed":
        return "" if stock.covers else "confirm"
    if event.stage not in services.BEFORE_CONFIRMED:
        return "confirm"
    return "confirm" if stock.standing == "hold" and stock.covers else "hold"


@require_POST
@once
def event_hold(request: HttpRequest, event: int) -> HttpResponse:
    row = _event(event)
    partly = request.POST.get("partly") == "1"
    try:
        services.event_hold(event=row, partly=partly)
    except Shortage as shortage:
        return _page(request, row, f"Nothing is held: short of {shortage_words(shortage)}.")
    except services.CannotHold as refusal:
        return _page(request, row, str(refusal))
    what = "What is free, its hours and van" if partly else "Stock, hours and van"
    waits = ""
    if row.reservation is not None and not row.reservation.lines.exists():
        what, waits = "Its hours and van", " Nothing that it needs is free: it waits in turn for all of it."
    outcome = f"{what} are held for {request.studio.hold_hours} hours.{waits}"
    return _done(request, row, outcome, "held an event")


@require_POST
@once
def event_confirm(request: HttpRequest, event: int) -> HttpResponse:
    row = _event(event)
    try:
        services.event_confirm(event=row)
    except Shortage as shortage:
        return _page(
            request,
            row,
            f"Not confirmed: short of {shortage_words(shortage)}. Order it or note what is expected, then confirm.",
        )
    except services.CannotHold as refusal:
        return _page(request, row, str(refusal))
    return _done(request, row, "Confirmed. Its stock, hours and van are reserved.", "confirmed an event")


@require_POST
@once
def event_release(request: HttpRequest, event: int) -> HttpResponse:
    row = _event(event)
    try:
        services.event_release(event=row)
    except services.CannotHold as refusal:
        return _page(request, row, str(refusal))
    return _done(request, row, "Released. Its stock, hours and van are free for others.", "released an event")


def _done(request: HttpRequest, event: Event, outcome: str, act: str) -> HttpResponse:
    audit_add(request=request, act=act, subject=f"{event.number} {event}")
    request.session["outcome"] = outcome
    return redirect("jobs:event-stock", event.pk)
