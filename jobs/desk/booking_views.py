"""Booking from a phone: who, where, when, what, check. Each screen is its own address and keeps its answer in the
draft, so Back shows what was entered; nothing here needs JavaScript."""

import secrets
from collections.abc import Callable
from functools import wraps
from uuid import UUID

from django.db.models import F, Max
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from decor.studio.numbers import whole
from decor.studio.requests import once
from decor.studio.services import audit_add
from jobs.clients.forms import ClientNewForm
from jobs.clients.models import Client
from jobs.designs.kinds import all_kinds, kind_of
from jobs.desk import booking, drafts
from jobs.desk.answer import draft_answer
from jobs.desk.booking_forms import PieceForms, SaveForm
from jobs.desk.check import check_rows
from jobs.desk.models import BookingDraft
from jobs.events.forms import VenueForm, WhenForm
from jobs.events.models import Venue
from jobs.events.times import to_plain

MOST_OFFERED = 8
USUAL_TIMES = {"load_in": "14:00", "doors": "17:00", "ends": "22:00", "strike": "22:30"}
BACK_TO = {"check": "jobs:book-check", "answer": "jobs:ask-answer"}
DraftView = Callable[[HttpRequest, BookingDraft], HttpResponse]


def on_draft(view: DraftView) -> Callable[[HttpRequest, UUID], HttpResponse]:
    """Only one's own draft; one that was booked leads to its event, however it is reached again."""

    @wraps(view)
    @require_http_methods(["GET", "HEAD", "POST"])
    def wrapper(request: HttpRequest, draft: UUID) -> HttpResponse:
        row = drafts.draft_of(draft, request.user)
        if row is None:
            raise Http404
        if row.event_id:
            return redirect("jobs:event-glance", row.event_id)
        try:
            return view(request, row)
        except drafts.Booked:
            row.refresh_from_db()
            return redirect("jobs:event-glance", row.event_id)

    return wrapper


@require_POST
@once
def book(request: HttpRequest) -> HttpResponse:
    client = _chosen(request, "client", Client)
    data = {"client": {"id": client.pk}} if client else None
    draft = drafts.draft_start(user=request.user, purpose="book", data=data)
    return redirect("jobs:book-where" if client else "jobs:book-who", draft.pk)


@require_POST
def drop(request: HttpRequest, draft: UUID) -> HttpResponse:
    row = drafts.draft_of(draft, request.user)
    if row is None:
        raise Http404
    drafts.draft_drop(draft=row)
    request.session["outcome"] = "That booking is thrown away. Nothing was saved."
    return redirect("jobs:today")


def _page(request: HttpRequest, draft: BookingDraft, step: str, form: object, **extra: object) -> HttpResponse:
    number = drafts.STEPS.index(step)
    before = drafts.STEPS[number - 1] if number else None
    then = _then(request)
    back = then or before
    context = {
        "tab": "events",
        "draft": draft,
        "form": form,
        "step": number + 1,
        "steps": len(drafts.STEPS),
        "back": reverse(BACK_TO.get(back, f"jobs:book-{back}"), args=[draft.pk]) if back else reverse("jobs:events"),
        "back_words": back.capitalize() if back else "Events",
        "then": then,
        **extra,
    }
    status = 422 if request.method == "POST" else 200
    return render(request, f"jobs/desk/book_{step}.html", context, status=status)


def _then(request: HttpRequest) -> str:
    """Whoever came from the last screen, or from a quick answer, to change one answer goes back there."""
    given = (request.POST if request.method == "POST" else request.GET).get("then", "")
    return given if given in BACK_TO else ""


def _onward(request: HttpRequest, draft: BookingDraft, step: str) -> HttpResponse:
    onward = _then(request) or drafts.STEPS[drafts.STEPS.index(step) + 1]
    return redirect(BACK_TO.get(onward, f"jobs:book-{onward}"), draft.pk)


def _chosen(request: HttpRequest, name: str, model: type) -> object | None:
    """The row whose button was pressed."""
    given = request.POST.get(name, "")
    if not given:
        return None
    return get_object_or_404(model, pk=whole(given))


def _untouched(form: object, names: tuple[str, ...]) -> bool:
    return not any(form.data.get(name, "").strip() for name in names)


@once
@on_draft
def who(request: HttpRequest, draft: BookingDraft) -> HttpResponse:
    given = draft.data.get("client") or {}
    words = request.GET.get("q", "").strip()[:80]
    form = ClientNewForm(request.POST or None, initial=given if "name" in given else {"name": _name_in(words)})
    alike: list[Client] = []
    if request.method == "POST":
        picked = _chosen(request, "client", Client)
        if picked:
            drafts.draft_save(draft=draft, client={"id": picked.pk})
            return _onward(request, draft, "who")
        if given.get("id") and _untouched(form, drafts.NEW_CLIENT_KEYS):
            return _onward(request, draft, "who")
        if form.is_valid() and not (alike := _alike(request, form)):
            drafts.draft_save(draft=draft, client=form.cleaned_data)
            return _onward(request, draft, "who")
    found = Client.objects.matching(words) if words else Client.objects.annotate(last=Max("event__doors"))
    order = ["name"] if words else [F("last").desc(nulls_last=True), "-pk"]
    known = drafts.draft_client(draft) if given.get("id") else None
    offered = list(found.order_by(*order)[:MOST_OFFERED])
    return _page(request, draft, "who", form, q=words, found=offered, known=known, alike=alike)


def _alike(request: HttpRequest, form: ClientNewForm) -> list[Client]:
    """Clients who may be the same person; asked once, as two people can share a number."""
    if request.POST.get("different"):
        return []
    given = form.cleaned_data
    return list(Client.objects.reached_by(phone=given["phone"], email=given["email"])[:3])


def _name_in(words: str) -> str:
    return "" if any(c.isdigit() for c in words) else words


@once
@on_draft
def where(request: HttpRequest, draft: BookingDraft) -> HttpResponse:
    given = draft.data.get("venue") or {}
    words = request.GET.get("q", "").strip()[:80]
    start = {"time_zone": request.studio.time_zone, "name": words}
    form = VenueForm(request.POST or None, initial={**start, **given})
    if request.method == "POST":
        picked = _chosen(request, "venue", Venue)
        if picked:
            drafts.draft_save(draft=draft, venue={"id": picked.pk})
            return _onward(request, draft, "where")
        if given.get("id") and _untouched(form, ("name", "address", "access")):
            return _onward(request, draft, "where")
        if form.is_valid():
            drafts.draft_save(draft=draft, venue=form.cleaned_data)
            return _onward(request, draft, "where")
    client = drafts.draft_client(draft)
    found = list(Venue.objects.offered(client, words)[:MOST_OFFERED])
    known = drafts.draft_venue(draft) if given.get("id") else None
    return _page(request, draft, "where", form, q=words, found=found, known=known, client=client)


@once
@on_draft
def when(request: HttpRequest, draft: BookingDraft) -> HttpResponse:
    venue = drafts.draft_venue(draft)
    if venue is None:
        return redirect("jobs:book-where", draft.pk)
    today = timezone.localdate(timezone=venue.zone)
    form = WhenForm(request.POST or None, zone=venue.zone, today=today, initial=draft.data.get("when") or USUAL_TIMES)
    if request.method == "POST" and form.is_valid():
        drafts.draft_save(draft=draft, when=to_plain(form.wanted))
        return _onward(request, draft, "when")
    return _page(request, draft, "when", form, venue=venue, span=drafts.draft_span(draft, venue))


@once
@on_draft
def what(request: HttpRequest, draft: BookingDraft) -> HttpResponse:
    pieces = draft.data.get("what") or []
    if request.method == "POST":
        return _what_sent(request, draft, pieces)
    piece = next((p for p in pieces if p.get("key") == request.GET.get("piece")), None)
    key = piece["kind"] if piece else request.GET.get("add") or ("" if pieces else next(iter(all_kinds())))
    forms = PieceForms(kind_of(key), piece=piece) if key else None
    return _what_page(request, draft, forms, piece)


def _what_sent(request: HttpRequest, draft: BookingDraft, pieces: list[dict]) -> HttpResponse:
    if request.POST.get("act") == "later":
        drafts.draft_save(draft=draft, what=[], what_later=True)
        return _onward(request, draft, "what")
    if not request.POST.get("kind"):
        return _onward(request, draft, "what") if pieces else redirect("jobs:book-what", draft.pk)
    forms = PieceForms(kind_of(request.POST["kind"]), request.POST)
    piece = next((p for p in pieces if p.get("key") == request.POST.get("piece")), None)
    if not forms.is_valid():
        return _what_page(request, draft, forms, piece)
    piece_put(draft, forms.piece(piece["key"] if piece else secrets.token_hex(4)))
    if request.POST.get("act") == "more":
        return redirect(_what_url(draft, _then(request)))
    return _onward(request, draft, "what")


def _what_url(draft: BookingDraft, then: str) -> str:
    return reverse("jobs:book-what", args=[draft.pk]) + (f"?then={then}" if then else "")


def piece_put(draft: BookingDraft, piece: dict) -> None:
    def change(data: dict) -> None:
        pieces = data.get("what") or []
        known = any(p.get("key") == piece["key"] for p in pieces)
        data["what"] = [piece if p.get("key") == piece["key"] else p for p in pieces] if known else [*pieces, piece]
        data["what_later"] = False

    drafts.draft_change(draft=draft, change=change)


def _what_page(request: HttpRequest, draft: BookingDraft, forms: PieceForms | None, piece: dict | None) -> HttpResponse:
    lines = [
        {**p, "name": kind_of(p["kind"]).NAME, "words": kind_of(p["kind"]).rough_words(p["measures"])}
        for p in draft.data.get("what") or []
    ]
    return _page(
        request, draft, "what", forms, pieces=lines, piece=piece, kinds=all_kinds().values(),
        open_kind=forms.kind if forms else None,
    )  # fmt: skip


@require_POST
@once
@on_draft
def piece_remove(request: HttpRequest, draft: BookingDraft) -> HttpResponse:
    gone = request.POST.get("piece")
    drafts.draft_change(
        draft=draft,
        change=lambda data: data.update(what=[p for p in data.get("what") or [] if p.get("key") != gone]),
    )
    return redirect(_what_url(draft, _then(request)))


@once
@on_draft
def check(request: HttpRequest, draft: BookingDraft) -> HttpResponse:
    if step := drafts.first_missing(draft):
        return redirect(f"jobs:book-{step}", draft.pk)
    kept = {"title": draft.data.get("title") or drafts.suggested_title(draft), "note": draft.data.get("note", "")}
    form = SaveForm(request.POST or None, initial=kept)
    if request.method == "POST" and form.is_valid():
        event = booking.event_book(draft=draft, **form.cleaned_data)
        audit_add(request=request, act="booked an event", subject=f"{event.number} {event}")
        request.session["outcome"] = "Saved."
        return redirect("jobs:event-glance", event.pk)
    rows = check_rows(draft)
    return _page(request, draft, "check", form, rows=rows, answer=draft_answer(draft))
