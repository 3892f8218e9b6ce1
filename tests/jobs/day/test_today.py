"""Today for crew: their own coming shifts and nothing else."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from jobs.crew.models import Shift
from jobs.day.today import crew_today
from jobs.events.models import Event, Stage
from tests.jobs.crew.makers import at, event, member, shift, venue

pytestmark = pytest.mark.django_db


def test_own_shifts_only_the_next_first(as_crew, crew_user, cory):
    later, sooner = event("Later", day=at("12:00").date() + timedelta(days=3)), event("Sooner")
    shift(later, cory)
    shift(sooner, cory)
    shift(event("Somebody else's"), member("Bo Sallow"))
    assert [one.title for one in crew_today(crew_user, timezone.now())] == ["Sooner", "Later"]
    page = as_crew.get(reverse("jobs:today")).content.decode()
    assert "Sooner" in page and "Later" in page and "Somebody else" not in page
    assert reverse("jobs:day-sheet", args=[sooner.pk]) in page


def test_over_is_over_and_running_is_not(crew_user, cory):
    mine = shift(event(), cory)
    assert len(crew_today(crew_user, mine.ends - timedelta(seconds=1))) == 1
    assert crew_today(crew_user, mine.ends) == []


def test_today_and_tomorrow_by_the_venues_clock(crew_user, cory):
    """At 02:00 in Dublin it is still the evening before in Halifax."""
    far = event(hall=venue("Long Pier", time_zone="America/Halifax"))
    mine = shift(far, cory, "load", "21:30", "23:30")
    [found] = crew_today(crew_user, mine.starts)
    assert (found.soon, found.times) == ("Today", "21:30 to 23:30")
    [found] = crew_today(crew_user, mine.starts - timedelta(days=1))
    assert found.soon == "Tomorrow"


def test_a_called_off_event_is_marked(as_crew, crew_user, cory):
    off = event(stage=Stage.CANCELLED)
    shift(off, cory)
    assert crew_today(crew_user, timezone.now())[0].called_off == "cancelled"
    assert "Cancelled" in as_crew.get(reverse("jobs:today")).content.decode()


def test_nothing_coming_says_so(as_crew):
    assert "No shift is coming." in as_crew.get(reverse("jobs:today")).content.decode()
    assert not Shift.objects.exists() and not Event.objects.exists()
