"""Events: the list, one at a glance, and what is changed by hand."""

from datetime import datetime

from django.core.paginator import Paginator
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from decor.studio.numbers import whole
from decor.studio.requests import once
from decor.studio.services import audit_add
from decor.studio.versions import Changed
from inventory.services import Shortage
from jobs.crew.models import Shift
from jobs.designs import changed
from jobs.designs.models import Piece
from jobs.desk.changes import CALLED_OFF, event_change, event_stage_change
from jobs.desk.glance import glance_of, month_lines
from jobs.desk.matters import lines_of, things_words
from jobs.desk.services import CannotHold
from jobs.desk.stock import shortage_words
from jobs.events.change_form import EventForm
from jobs.events.models import ENDED, Event, Stage
from jobs.events.services import STEPS, NotThatStage

PAGE = 40
SHOWN = [("coming", "Coming"), ("past", "Past")]


@require_safe
def events(request: HttpRequest) -> HttpResponse:
    now = timezone.now()
    q, stage = request.GET.get("q", "").strip()[:80], request.GET.get("stage", "")
    show = "past" if request.GET.get("show") == "past" else "coming"
    found = _found(q, stage if stage in Stage.values else "", show, now)
    page = Paginator(found, PAGE).get_page(request.GET.get("page"))
    context = {
        "tab": "events",
        "lines": lines_of(list(page.object_list), now),
        "page": page,
        "q": q,
        "stage": stage,
        "show": show,
        "stages": Stage.choices,
        "shown": SHOWN,
        "filtered": bool(q or stage),
        "any_events": bool(page.object_list) or Event.objects.exists(),
    }
    return render(request, "jobs/desk/events.html", context)


def _found(q: str, stage: str, show: str, now: datetime) -> QuerySet[Event]:
    rows = Event.objects.select_related("venue", "reservation")
    if q:
        rows = rows.filter(
            Q(title__icontains=q)
            | Q(client__name__icontains=q)
            | Q(client__organisation__icontains=q)
            | Q(venue__name__icontains=q)
            | Q(pk=whole(q))
        )
    if stage:
        rows = rows.filter(stage=stage)
    elif show == "coming" and not q:
        rows = rows.live()
    if show == "past":
        return rows.filter(strike__lt=now).order_by("-doors", "-pk")
    # Who searches means the event wherever it stands, but the coming ones first all the same.
    return (rows if q else rows.filter(strike__gte=now)).order_by("doors", "pk")


@require_safe
def event_glance(request: HttpRequest, event: int) -> HttpResponse:
    row = get_object_or_404(Event.objects.select_related("client", "venue", "reservation"), pk=event)
    glance = glance_of(row, request.studio)
    context = {
        "tab": "events",
        "event": row,
        "glance": glance,
        "things": things_words(range(glance.to_settle)) if glance.to_settle else "",
        "doors": timezone.localtime(row.doors, row.zone),
        "lines": month_lines(row, timezone.now()),
        "ended": row.stage in ENDED,
    }
    return render(request, "jobs/desk/glance.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@once
def event_edit(request: HttpRequest, event: int) -> HttpResponse:
    row = get_object_or_404(Event.objects.select_related("client", "venue"), pk=event)
    span = (row.load_in, row.strike)
    form = EventForm(request.POST or None, event=row)
    differences, status = None, 422
    if request.method == "POST" and form.is_valid():
        try:
            event_change(event=form.changed_event(), version=form.cleaned_data["version"])
        except Changed as theirs:
            differences, status = form.meet(theirs.now), 409
        except Shortage as shortage:
            short = shortage_words(shortage)
            form.add_error(
                None,
                f"Not saved: at the new time its promised stock is not free (short of {short}). "
                "Release it first, or keep the time.",
            )
        else:
            audit_add(request=request, act="changed an event", subject=f"{row.number} {row}")
            words = _saved_words(row, moved=span != (row.load_in, row.strike))
            request.session["outcome"] = words
            if Piece.objects.filter(event=row).exists():
                # Another place or another time of year asks for other gas.
                changed.say(request, event, words)
            return redirect("jobs:event-glance", event)
    context = {"tab": "events", "event": row, "form": form, "differences": differences}
    return render(request, "jobs/desk/event_change.html", context, status=status if request.method == "POST" else 200)


def _saved_words(event: Event, *, moved: bool) -> str:
    if moved and Shift.objects.filter(event=event).exists():
        return "Saved. What was promised moved with it; the shifts keep their times, so look at the crew."
    return "Saved."


STAGE_WORDS = {
    Stage.ENQUIRY: ("Take it up again", "It is an enquiry once more; nothing is held for it."),
    Stage.CONFIRMED: ("Back to confirmed", "Work in the workshop has not begun after all."),
    Stage.IN_PRODUCTION: ("In production", "Work in the workshop has begun."),
    Stage.INSTALLED: ("Installed", "All of it stands at the venue."),
    Stage.STRUCK: ("Struck", "It is down and cleared away."),
    Stage.CLOSED: ("Closed", "Everything is counted and settled."),
    Stage.LOST: ("Lost", "The client went elsewhere. Its stock and hours are free for others."),
    Stage.CANCELLED: ("Cancelled", "The client called it off. Its stock and hours are free for others."),
}


@require_http_methods(["GET", "HEAD", "POST"])
@once
def event_stage(request: HttpRequest, event: int) -> HttpResponse:
    row = get_object_or_404(Event.objects.select_related("venue"), pk=event)
    status, refusal = 200, ""
    if request.method == "POST":
        try:
            event_stage_change(event=row, stage=Stage(request.POST.get("stage", "")))
        except CannotHold as out:
            status, refusal = 409, str(out)
            row.refresh_from_db(fields=["stage"])
        except (NotThatStage, ValueError):
            status = 409
            row.refresh_from_db(fields=["stage"])
        else:
            audit_add(request=request, act=f"set the stage {row.stage}", subject=f"{row.number} {row}")
            request.session["outcome"] = f"{row.title} is now: {row.stage}."
            return redirect("jobs:event-glance", event)
    steps = [(stage, *STAGE_WORDS[stage], stage in CALLED_OFF) for stage in STEPS[row.stage]]
    context = {"tab": "events", "event": row, "steps": steps, "refused": status == 409, "refusal": refusal}
    return render(request, "jobs/desk/event_stage.html", context, status=status)
