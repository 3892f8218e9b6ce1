"""What the forms make of days and times in the venue's zone."""

from datetime import UTC, datetime, time

import pytest
from django.utils import timezone

from jobs.crew.forms import AbsenceForm, ShiftForm, first_guess
from jobs.crew.services import day_hold_set
from tests.jobs.crew.makers import at, event, member, venue

pytestmark = pytest.mark.django_db


def shift_form(on, **given):
    who = member("Ada Fenn", "load")
    data = {"member": who.pk, "task": "load", "day": "2027-06-12", "starts": "09:30", "ends": "13:40"}
    return ShiftForm(data | given, event=on)


def test_times_are_those_of_the_venue(studio):
    form = shift_form(event(hall=venue(time_zone="America/Halifax")))
    assert form.is_valid()
    assert form.span == (datetime(2027, 6, 12, 12, 30, tzinfo=UTC), datetime(2027, 6, 12, 16, 40, tzinfo=UTC))


def test_an_end_before_the_start_says_how_to_go_past_midnight(studio):
    form = shift_form(event(), starts="22:00", ends="01:00")
    assert form.errors["ends"] == ["It ends before it starts. If it goes past midnight, give that day too."]
    assert shift_form(event(), starts="22:00", ends="01:00", ends_day="2027-06-13").is_valid()


def test_a_time_that_the_clocks_skip(studio):
    form = shift_form(event(), day="2027-03-28", starts="01:30", ends="05:00")
    assert "Clocks go forward on 28 March" in form.errors["starts"][0]


def test_an_hour_that_comes_twice_counts_whole(studio):
    form = shift_form(event(), day="2027-10-31", starts="00:30", ends="01:30")
    assert form.is_valid()
    starts, ends = form.span
    assert (ends - starts).total_seconds() == 2 * 3600


def test_whoever_left_is_not_offered(studio):
    gone = member("Bo Sallow", active=False)
    assert "member" in shift_form(event(), member=gone.pk).errors


def test_the_first_guess_is_load_in_to_doors_or_the_hold(studio):
    on = event()
    assert (first_guess(on)["starts"].hour, first_guess(on)["ends"].hour) == (12, 17)
    day_hold_set(
        event=on, starts=at("09:29"), ends=at("23:00"), people=1, skills=[], vans=1, person_minutes=0, expires=None
    )
    assert first_guess(on)["starts"] == time(9, 15)


def away_form(**given):
    with timezone.override("Europe/Dublin"):
        form = AbsenceForm(given)
        form.is_valid()
    return form


def test_days_away_end_with_the_last_day(studio):
    form = away_form(first_day="2027-06-12", last_day="2027-06-14")
    assert form.cleaned_data["starts"] == datetime(2027, 6, 11, 23, tzinfo=UTC)
    assert form.cleaned_data["ends"] == datetime(2027, 6, 14, 23, tzinfo=UTC)


def test_part_of_a_day_away(studio):
    form = away_form(first_day="2027-06-12", away_from="09:00", until="13:00")
    assert form.cleaned_data["starts"] == datetime(2027, 6, 12, 8, tzinfo=UTC)
    assert form.cleaned_data["ends"] == datetime(2027, 6, 12, 12, tzinfo=UTC)


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({}, "first_day"),
        ({"first_day": "2027-06-12", "last_day": "2027-06-11"}, "last_day"),
        ({"first_day": "2027-06-12", "away_from": "13:00", "until": "09:00"}, "until"),
        ({"first_day": "2027-02-30"}, "first_day"),
    ],
)
def test_days_away_that_cannot_be(studio, given, field):
    assert list(away_form(**given).errors) == [field]
