"""Today, and a client with their events."""

from datetime import datetime, timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from decor.studio.models import Role
from decor.studio.templatetags.desk import day_words
from inventory.models import Item
from jobs.clients.models import Client
from jobs.crew.models import Member
from jobs.day.today import crew_today
from jobs.desk.drafts import draft_client, draft_venue, unfinished
from jobs.desk.matters import Line, lines_of
from jobs.events.models import Event

COMING_DAYS = 7
MOST_LIVE = 300
MOST_TO_SETTLE = 12
EVENTS_SHOWN = 20


@require_safe
def today(request: HttpRequest) -> HttpResponse:
    now = timezone.now()
    if not request.user.is_staff_role:
        return render(request, "jobs/day/today.html", {"tab": "today", "shifts": crew_today(request.user, now)})
    lines = _live_lines(now)
    any_events = bool(lines) or Event.objects.exists()
    context = {
        "tab": "today",
        "today": timezone.localtime(now),
        "days": _by_day(lines, now),
        "settle": sorted((x for x in lines if x.to_settle), key=_urgent_first)[:MOST_TO_SETTLE],
        "drafts": [(d, draft_client(d), draft_venue(d)) for d in unfinished(request.user)],
        "any_events": any_events,
        "first_steps": [] if any_events else first_steps(request),
        "coming_days": COMING_DAYS,
    }
    return render(request, "jobs/desk/today.html", context)


def first_steps(request: HttpRequest) -> list[tuple[str, str, bool, str]]:
    """Of a studio that has no event yet: what, why, whether it is done, and where."""
    studio = request.studio
    steps = [
        ("Stock", "balloons, sheets, poles: what is free on a day", Item.objects.exists(), reverse("inventory:stock")),
        ("Crew", "who works, and who can lead, rig and drive", Member.objects.exists(), reverse("jobs:crew")),
    ]
    if request.user.role == Role.OWNER:
        reached = bool(studio.phone or studio.email)
        steps.append(("The studio", "telephone, tax, wages, vans, terms", reached, reverse("studio:settings")))
    return steps


def _live_lines(now: datetime) -> list[Line]:
    """One look serves both lists; what was forgotten long ago still waits to be closed."""
    rows = Event.objects.live().select_related("venue", "reservation").order_by("doors", "pk")
    return lines_of(list(rows[:MOST_LIVE]), now)


def _urgent_first(line: Line) -> tuple[int, datetime]:
    return -line.to_settle[0].urgency, line.event.doors


def _by_day(lines: list[Line], now: datetime) -> list[tuple[str, list[Line]]]:
    """Each event under every coming day of its own that it touches at the venue, from load-in to strike."""
    days: list[tuple[str, list[Line]]] = []
    for ahead in range(COMING_DAYS + 1):
        on_it = [line for line in lines if _touches(line, now, ahead)]
        if on_it or ahead == 0:
            day = timezone.localdate() + timedelta(days=ahead)
            days.append(({0: "Today", 1: "Tomorrow"}.get(ahead, "") or day_words(day), on_it))
    return days


def _touches(line: Line, now: datetime, ahead: int) -> bool:
    zone = line.event.zone
    day = timezone.localdate(now, zone) + timedelta(days=ahead)
    first, last = (timezone.localdate(at, zone) for at in (line.event.load_in, line.event.strike))
    return first <= day <= last


@require_safe
def client(request: HttpRequest, client: int) -> HttpResponse:
    row = get_object_or_404(Client, pk=client)
    held = Event.objects.filter(client=row).select_related("venue").order_by("-doors")[:EVENTS_SHOWN]
    return render(request, "jobs/clients/client.html", {"tab": "more", "client": row, "events": held})
