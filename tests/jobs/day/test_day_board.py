"""The day board: a day's events and shifts, who is used twice, what the day takes."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from jobs.crew.models import Absence
from jobs.crew.services import day_hold_set
from jobs.day.board import board_of
from jobs.events.models import Event, Stage
from tests.jobs.crew.makers import at, away, day_ahead, event, member, shift, venue

pytestmark = pytest.mark.django_db
BOARD = "jobs:day-board"


@pytest.fixture(autouse=True)
def dublin(studio):
    with timezone.override(studio.time_zone):
        yield


def board(day=None):
    return board_of(day or day_ahead(), timezone.now())


def test_only_planners(as_planner, as_owner, as_crew, as_nobody):
    assert as_planner.get(reverse(BOARD)).status_code == 200
    assert as_owner.get(reverse(BOARD)).status_code == 200
    assert as_crew.get(reverse(BOARD)).status_code == 403
    assert as_nobody.get(reverse(BOARD)).status_code == 302


def test_events_shifts_and_who_is_free(as_planner):
    on = event()
    shift(on, member("Ada Fenn", "lead"), "lead", "09:30", "13:40")
    member("Bo Sallow")
    away(member("Cass Teal"), day_ahead())
    found = board()
    [row] = found.events
    assert [(s.name, s.times) for s in row.shifts] == [("Ada Fenn", "09:30 to 13:40")]
    assert found.free == ("Bo Sallow",) and found.away[0].startswith("Cass Teal, ")
    page = as_planner.get(reverse(BOARD), {"date": str(day_ahead())}).content.decode()
    for said in ("Harbour library centenary", "Ada Fenn, lead", "09:30 to 13:40", "Bo Sallow", "Cass Teal"):
        assert said in page
    assert "style=" not in page


def test_bars_stand_where_the_times_are():
    """09:00 to 22:30 needs sixteen hours, the last of the day: 12:00 is four hours in."""
    on = event()
    shift(on, member("Ada Fenn"), "load", "09:00", "13:40")
    found = board()
    assert found.axis.labels == ["08:00", "12:00", "16:00", "20:00"] and found.axis.minutes == 960
    [row] = found.events
    assert (row.bar.x, row.bar.width) == (240, 630)
    assert (row.doors.x, row.doors.width) == (540, 300)
    assert (row.shifts[0].bar.x, row.shifts[0].bar.width) == (60, 280)


def test_nobody_is_used_twice_unseen(as_planner):
    """Saving refuses it; an event that was called off and is taken up again can still bring it about."""
    ada = member("Ada Fenn")
    off = event("Regatta", stage=Stage.CANCELLED)
    shift(off, ada, "load", "12:00", "15:00")
    shift(event(), ada, "load", "14:00", "16:00")
    assert board().twice == ()
    Event.objects.filter(pk=off.pk).update(stage=Stage.CONFIRMED)
    assert board().twice == ("Ada Fenn is on Regatta and on Harbour library centenary at once",)
    page = as_planner.get(reverse(BOARD), {"date": str(day_ahead())}).content.decode()
    assert page.count("In two places") == 2


def test_a_shift_on_a_day_away_is_told():
    ada = member("Ada Fenn")
    shift(event(), ada)
    Absence.objects.create(member=ada, starts=at("00:00"), ends=at("23:00"))
    assert board().twice == ("Ada Fenn is away and on Harbour library centenary",)


def test_work_on_the_day_before_is_on_the_board():
    on = event()
    before = day_ahead(29)
    one = shift(on, member("Ada Fenn"))
    one.starts, one.ends = at("09:00", day=before), at("12:00", day=before)
    one.save()
    [row] = board(before).events
    assert row.title == on.title and len(row.shifts) == 1


def test_what_the_day_takes():
    for title in ("One", "Two"):
        day_hold_set(
            event=event(title), starts=at("09:00"), ends=at("18:00"), people=2, skills=[], vans=1,
            person_minutes=300, expires=None,
        )  # fmt: skip
    member("Ada Fenn")
    found = board()
    assert (found.load.people_out, found.short_of_people) == (4, 3)
    assert (found.load.vans_out, found.short_of_vans) == (2, 1)
    assert found.load.person_minutes == 600


def test_a_hold_says_until_when():
    until = timezone.now() + timedelta(hours=30)
    day_hold_set(
        event=event(), starts=at("09:00"), ends=at("18:00"), people=2, skills=[], vans=1, person_minutes=0,
        expires=until,
    )  # fmt: skip
    [row] = board().events
    assert row.hold == f"2 people, 1 van held until {timezone.localtime(until):%a %H:%M}"
    assert row.hold_state == "wait"


def test_another_zone_is_told():
    event(hall=venue("Long Pier", time_zone="America/Halifax"), times=("09:00", "12:00", "16:00", "17:00"))
    [row] = board().events
    assert row.zone_note == "their clock says doors 12:00"
    assert "doors 12:00" not in row.times


def test_days_on_which_clocks_change():
    for day in ("2027-03-28", "2027-10-31"):
        found = board(timezone.datetime.fromisoformat(day).date())
        assert found.events == () and found.axis.minutes == 720


def test_strange_days(as_planner):
    for wrong in ("2027-02-30", "someday", ""):
        page = as_planner.get(reverse(BOARD), {"date": wrong})
        assert page.status_code == 200 and page.context["form"].errors
    assert as_planner.get(reverse(BOARD), {"date": "0001-01-01"}).status_code == 200
    assert as_planner.get(reverse(BOARD), {"date": "9999-12-31"}).status_code == 200


def test_the_boards_work_does_not_grow_with_its_shifts(as_planner, django_assert_max_num_queries):
    on = event()
    for number in range(12):
        shift(on, member(f"Member {number}"))
    with django_assert_max_num_queries(20):
        as_planner.get(reverse(BOARD), {"date": str(day_ahead())})
