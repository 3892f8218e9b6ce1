"""Moments as pages tell them: in the studio's zone, or in the venue's where they were moved there. Summer and winter
hours of New York by the IANA time zone database, 2026."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from django.template import Context, Template
from django.utils import timezone

LATE = datetime(2026, 7, 2, 1, 30, tzinfo=UTC)


def said(words: str, **given: object) -> str:
    return Template("{% load desk %}" + words).render(Context(given))


@pytest.fixture(autouse=True)
def in_new_york():
    with timezone.override("America/New_York"):
        yield


def test_a_stored_moment_is_told_by_the_studios_clock():
    assert said("{{ at|clock }}", at=LATE) == "21:30"
    assert said("{{ at|day }}", at=LATE).startswith("Wed 1 July")
    assert said("{{ at|clock }}", at=datetime(2026, 12, 2, 1, 30, tzinfo=UTC)) == "20:30"


def test_one_that_was_moved_to_a_venues_zone_stays_there():
    words = "{{ at|in_zone:zone|day }}, {{ at|in_zone:zone|clock }}"
    assert said(words, at=LATE, zone="Europe/Dublin") in {"Thu 2 July, 02:30", "Thu 2 July 2026, 02:30"}
    assert said("{{ at|clock }}", at=LATE.astimezone(ZoneInfo("Asia/Tokyo"))) == "10:30"
    assert said("{{ at|in_zone:zone|clock }}", at=LATE, zone="UTC") == "01:30"


def test_a_day_without_an_hour_is_left_alone():
    assert said("{{ on|day }}", on=date(2026, 7, 2)).startswith("Thu 2 July")
