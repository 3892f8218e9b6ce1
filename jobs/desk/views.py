"""Today, and a client with their events."""

from datetime import datetime, timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from decor.studio.models import Role
from decor.studio.templatetags.desk import day_words
from inventory.holds import holds_ending
from inventory.matters import pressing, pressing_words
from inventory.models import Item
from inventory.picks.lists import store_due, store_work
from inventory.unpromised import Weighed, weighed
from jobs.clients.models import Client
from jobs.crew.models import Member
from jobs.day.today import crew_today
from jobs.desk.drafts import draft_client, draft_venue, unfinished
from jobs.desk.matters import Line, lines_of
from jobs.events.models import Event

COMING_DAYS = 7
MOST_LIVE = 300
MOST_TO_SETTLE = 12
MOST_HOLDS = 12
EVENTS_SHOWN = 20


@require_safe
def today(request: HttpRequest) -> HttpResponse:
    now = timezone.now()
    if not request.user.is_staff_role:
        work = store_work(request.user, now)
        shifts = crew_today(request.user, now)
        return render(request, "jobs/day/today.html", {"tab": "today", "shifts": shifts, "store": work.any})
    waited = weighed(now=now)
    lines, ending = _live_lines(now, waited), holds_ending(now=now)
    told = {one.reservation.pk for one in ending}
    any_events = bool(lines) or Event.objects.exists()
    context = {
        "tab": "today",
        "today": timezone.localtime(now),
        "days": _by_day(lines, now),
        "holds": ending[:MOST_HOLDS],
        "settle": sorted((x for x in lines if _waits(x, told)), key=_urgent_first)[:MOST_TO_SETTLE],
        "drafts": [(d, draft_client(d), draft_venue(d)) for d in unfinished(request.user)],
        "any_events": any_events,
        "store": store_due(store_work(request.user, now), now) if any_events else [],
        "needs": pressing_words(pressing(now=now, studio=request.studio, weighed=waited)),
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


def _live_lines(now: datetime, waited: list[Weighed]) -> list[Line]:
    """One look serves both lists; what was forgotten long ago still waits to be closed."""
    rows = Event.objects.live().select_related("venue", "reservation").order_by("doors", "pk")
    return lines_of(list(rows[:MOST_LIVE]), now, waited)


def _waits(line: Line, told: set[int]) -> bool:
    """Something besides a hold that is told above."""
    return any(not (m.of_hold and line.event.reservation_id in told) for m in line.to_settle)


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
