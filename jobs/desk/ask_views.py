"""The quick answer: what the caller says on one page, then whether it can be done and for about how much. Nothing
is saved but the draft until somebody says hold or no."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from decor.studio.requests import once
from decor.studio.services import audit_add
from decor.studio.templatetags.desk import day
from inventory.services import Shortage
from jobs.designs.catalogue import catalogue_now
from jobs.designs.kinds import kind_of
from jobs.desk import drafts
from jobs.desk.answer import draft_answer
from jobs.desk.ask_forms import SOMEWHERE, AskForms
from jobs.desk.booking import event_book
from jobs.desk.booking_views import on_draft
from jobs.desk.changes import event_stage_change
from jobs.desk.models import BookingDraft
from jobs.desk.services import event_hold
from jobs.desk.stock import shortage_words
from jobs.estimates.services import estimate_now
from jobs.events.models import Event, Stage

EARLIER = 3


@require_http_methods(["GET", "HEAD", "POST"])
@once
def ask(request: HttpRequest) -> HttpResponse:
    return _ask(request, None)


@once
@on_draft
def ask_change(request: HttpRequest, draft: BookingDraft) -> HttpResponse:
    return _ask(request, draft)


def _ask(request: HttpRequest, draft: BookingDraft | None) -> HttpResponse:
    forms = AskForms(
        studio=request.studio,
        catalogue=catalogue_now(),
        data=request.POST if request.method == "POST" else None,
        draft=draft.data if draft else None,
    )
    more = request.POST.get("more", "")
    if request.method == "POST" and not more and forms.is_valid():
        if draft is None:
            draft = drafts.draft_start(user=request.user, purpose="ask", data=forms.json())
        else:
            drafts.draft_save(draft=draft, **forms.json())
        return redirect("jobs:ask-answer", draft.pk)
    context = {
        "tab": "ask",
        "forms": forms,
        "errors": [] if more else forms.errors(),
        "draft": draft,
        "earlier": _earlier(request) if draft is None else [],
        "more": more,
    }
    status = 422 if request.method == "POST" and not more else 200
    return render(request, "jobs/desk/ask.html", context, status=status)


def _earlier(request: HttpRequest) -> list[tuple[BookingDraft, str]]:
    found = BookingDraft.objects.filter(user=request.user, purpose="ask", event=None).exclude(data={})
    return [(draft, heading_words(draft)) for draft in found.order_by("-updated")[:EARLIER]]


def heading_words(draft: BookingDraft) -> str:
    """Sat 13 June, Quay Hall"""
    venue = drafts.draft_venue(draft)
    span = drafts.draft_span(draft, venue)
    if venue is None or span is None:
        return "Not finished"
    when = day(timezone.localtime(span.doors, venue.zone))
    return when if venue.name == SOMEWHERE else f"{when}, {venue.name}"


def pieces_words(draft: BookingDraft) -> str:
    """1 picture panel about 3 × 2.5 m, 2 columns of clusters about 1.8 m, spiral"""
    words = []
    for piece in drafts.draft_pieces(draft):
        kind = kind_of(piece["kind"])
        name = (kind.NAME if piece["count"] == 1 else kind.PLURAL).lower()
        words.append(f"{piece['count']} {name} {kind.rough_words(piece['measures'])}")
    return "; ".join(words)


@on_draft
def ask_answer(request: HttpRequest, draft: BookingDraft) -> HttpResponse:
    answer = draft_answer(draft)
    if answer is None:
        return redirect("jobs:ask-change", draft.pk)
    context = {
        "tab": "ask",
        "draft": draft,
        "answer": answer,
        "heading": heading_words(draft),
        "pieces": pieces_words(draft),
        "client": drafts.draft_client(draft),
    }
    return render(request, "jobs/desk/ask_answer.html", context)


@require_POST
@once
@on_draft
def ask_hold(request: HttpRequest, draft: BookingDraft) -> HttpResponse:
    """Books what was asked about and holds stock, hours and van for it."""
    event = _booked(request, draft)
    if event is None:
        return _who_first(request, draft)
    partly = request.POST.get("partly") == "1"
    try:
        estimate_now(event=event)
        event_hold(event=event, partly=partly)
    except Shortage as shortage:
        request.session["outcome"] = f"Kept as an enquiry. Nothing is held: short of {shortage_words(shortage)}."
        return redirect("jobs:event-stock", event.pk)
    except ValueError as refusal:
        request.session["outcome"] = f"Kept as an enquiry. Nothing is held: {refusal}"
        return redirect("jobs:event-glance", event.pk)
    words = "What is free, hours and van" if partly else "Stock, hours and van"
    request.session["outcome"] = f"{words} are held for {request.studio.hold_hours} hours."
    audit_add(request=request, act="held an event", subject=f"{event.number} {event}")
    return redirect("jobs:event-glance", event.pk)


@require_POST
@once
@on_draft
def ask_no(request: HttpRequest, draft: BookingDraft) -> HttpResponse:
    """The answer was no; who asked for what stays known."""
    event = _booked(request, draft)
    if event is None:
        return _who_first(request, draft)
    event_stage_change(event=event, stage=Stage.LOST)
    request.session["outcome"] = "Kept as a lost enquiry. Nothing is held for it."
    return redirect("jobs:event-glance", event.pk)


def _booked(request: HttpRequest, draft: BookingDraft) -> Event | None:
    """None while it is not known who asks."""
    if drafts.first_missing(draft):
        return None
    event = event_book(draft=draft)
    audit_add(request=request, act="booked an event", subject=f"{event.number} {event}")
    return event


def _who_first(request: HttpRequest, draft: BookingDraft) -> HttpResponse:
    request.session["outcome"] = "First say who it is for; then you are back at the answer."
    missing: Any = drafts.first_missing(draft)
    return redirect(reverse(f"jobs:book-{missing}", args=[draft.pk]) + "?then=answer")
