"""A promise that belongs to no event's page: what it holds, until when, and confirming it or letting go."""

from datetime import timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from decor.studio.requests import once
from decor.studio.services import audit_add
from decor.studio.templatetags.desk import clock, plural
from inventory import availability, links
from inventory.gap_words import name_of, rgb_of
from inventory.models import Item, Reservation
from inventory.services import (
    Shortage,
    StillOut,
    reservation_change,
    reservation_confirm,
    reservation_release,
)
from inventory.shown import Chip, day_words, short_day, span_words
from inventory.stocking import lacking_of

State = Reservation.State


def _found(reservation: int) -> Reservation:
    return get_object_or_404(Reservation, pk=reservation)


@require_safe
def promise(request: HttpRequest, reservation: int) -> HttpResponse:
    found = _found(reservation)
    if event := links.events_of([found.pk]).get(found.pk):
        # Its hours and van hang on it as well; that page has the acts for all of it.
        return redirect(event)
    return _page(request, found)


def _lapsed(found: Reservation) -> bool:
    return found.state == State.HOLD and found.expires is not None and found.expires <= timezone.now()


def _page(request: HttpRequest, found: Reservation, refusal: str = "") -> HttpResponse:
    context = {
        "tab": "stock",
        "reservation": found,
        "span": span_words(found.starts, found.ends),
        "lines": _lines(found),
        "chip": _chip(found),
        "verdict": _verdict(found),
        "open": found.state in {State.HOLD, State.CONFIRMED},
        "on_hold": found.state == State.HOLD,
        "lapsed": _lapsed(found),
        "refusal": refusal,
    }
    return render(request, "inventory/promise.html", context, status=409 if refusal else 200)


def _lines(found: Reservation) -> list[tuple[Item, str, str, int, int]]:
    """(item, its name, its colour, how many, how many of these are lacking)"""
    rows = list(found.lines.select_related("item__latex").order_by("item__kind", "item__name"))
    now, ids = timezone.now(), [row.item_id for row in rows if row.counts]
    stock = availability.stock_of(ids, now=now, starts=now) if ids else {}
    lacking = {line: n for one in stock.values() for line, n in lacking_of(one, now).items()}
    return [(r.item, name_of(r.item), rgb_of(r.item), r.quantity, lacking.get(r.pk, 0)) for r in rows]


def _moment(found: Reservation) -> str:
    return f"{day_words(found.expires)}, {clock(timezone.localtime(found.expires))}" if found.expires else ""


def _chip(found: Reservation) -> Chip:
    if _lapsed(found):
        return "warn", "Lapsed"
    if found.state == State.HOLD and found.expires:
        return "wait", f"Hold to {short_day(found.expires)}"
    return {"confirmed": ("ok", "Reserved"), "settled": ("off", "Counted back"), "released": ("off", "Let go")}[
        found.state
    ]


def _verdict(found: Reservation) -> str:
    if _lapsed(found):
        return f"The hold lapsed {_moment(found)}. What it held is free for others."
    if found.state == State.HOLD:
        return f"Held until {_moment(found)}. Then it is free for others, unless it is confirmed."
    return {
        "confirmed": "All of it is reserved.",
        "settled": "It is counted back, so nothing is kept for it any more.",
        "released": "It was let go, so nothing is kept for it any more.",
    }[found.state]


def _short(refusal: Shortage, found: Reservation) -> str:
    names = Item.objects.in_bulk([line.item_id for line in refusal.lines])
    listed = ", ".join(f"{line.short:,} of {names[line.item_id]}" for line in refusal.lines)
    return f"Nothing is changed: short of {listed}."


def _done(request: HttpRequest, found: Reservation, act: str, outcome: str) -> HttpResponse:
    audit_add(request=request, act=act, subject=found.label)
    request.session["outcome"] = outcome
    return redirect("inventory:promise", reservation=found.pk)


@require_POST
@once
def promise_confirm(request: HttpRequest, reservation: int) -> HttpResponse:
    found = _own(reservation)
    if found is None:
        return redirect("inventory:promise", reservation=reservation)
    try:
        reservation_confirm(reservation=found)
    except Shortage as refusal:
        return _page(request, _found(reservation), _short(refusal, found))
    except ValueError:
        # Somebody let it go meanwhile: the page says how it stands now.
        return redirect("inventory:promise", reservation=reservation)
    return _done(request, found, "confirmed a promise", "Confirmed. All of it is reserved.")


@require_POST
@once
def promise_longer(request: HttpRequest, reservation: int) -> HttpResponse:
    found = _own(reservation)
    if found is None or found.state != State.HOLD:
        return redirect("inventory:promise", reservation=reservation)
    hours = request.studio.hold_hours  # type: ignore[attr-defined]
    lines = list(found.lines.values_list("item_id", "quantity"))
    until = timezone.now() + timedelta(hours=hours)
    try:
        reservation_change(reservation=found, lines=lines, starts=found.starts, ends=found.ends, expires=until)
    except Shortage as refusal:
        return _page(request, _found(reservation), _short(refusal, found))
    except ValueError:
        return redirect("inventory:promise", reservation=reservation)
    return _done(request, found, "held longer", f"Held for {plural(hours, 'hour,hours')} from now.")


@require_POST
@once
def promise_release(request: HttpRequest, reservation: int) -> HttpResponse:
    found = _own(reservation)
    if found is None:
        return redirect("inventory:promise", reservation=reservation)
    try:
        reservation_release(reservation=found)
    except StillOut as out:
        words = f"{plural(out.pieces, 'piece is,pieces are')} out with it. Count back what was picked first."
        return _page(request, _found(reservation), words)
    return _done(request, found, "let a promise go", "Let go. What it held is free for others.")


def _own(reservation: int) -> Reservation | None:
    """Of an event's promise the event's page acts, with its hours and its van."""
    found = _found(reservation)
    return None if links.events_of([found.pk]) else found
