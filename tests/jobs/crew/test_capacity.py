"""Who and what is free, beside shifts, days away and holds."""

from datetime import timedelta

import pytest
from django.utils import timezone

from jobs.crew import services
from jobs.crew.capacity import day_load, people_free, staffing, vans_free
from jobs.events.models import Stage
from tests.jobs.crew.makers import at, away, day_ahead, event, member, shift, venue

pytestmark = pytest.mark.django_db


@pytest.fixture
def crew(studio):
    timezone.activate(studio.time_zone)
    yield {
        "lead": member("Ada Fenn", "lead", "drive"),
        "rig": member("Bo Sallow", "rig"),
        "load": member("Cass Teal", "load"),
    }
    timezone.deactivate()


def hold(on, people=2, skills=(), vans=1, expires=None, starts="09:00", ends="18:00", minutes=680):
    return services.day_hold_set(
        event=on,
        starts=at(starts),
        ends=at(ends),
        people=people,
        skills=skills,
        vans=vans,
        person_minutes=minutes,
        expires=expires,
    )


def free_names(starts="09:00", ends="18:00", **given):
    return {one.member.name for one in people_free(at(starts), at(ends), **given) if one.free}


def test_a_shift_and_a_day_away_are_said(crew):
    shift(event(), crew["lead"], "lead", "09:30", "13:40")
    away(crew["rig"], day_ahead())
    why = {one.member.name: one.why for one in people_free(at("13:00"), at("18:00"))}
    assert why["Ada Fenn"] == "on Harbour library centenary 09:30 to 13:40"
    assert why["Bo Sallow"].startswith("away ")
    assert why["Cass Teal"] == ""


def test_spans_are_half_open(crew):
    shift(event(), crew["lead"], "lead", "09:00", "13:00")
    assert "Ada Fenn" in free_names("13:00", "18:00")
    assert "Ada Fenn" not in free_names("12:59", "18:00")


def test_who_no_longer_works_here_is_not_counted(crew):
    crew["load"].active = False
    crew["load"].save()
    assert free_names() == {"Ada Fenn", "Bo Sallow"}


def test_a_called_off_event_keeps_nobody(crew):
    off = event(stage=Stage.CANCELLED)
    shift(off, crew["lead"], "lead", "09:00", "18:00")
    hold(off)
    assert len(free_names()) == 3
    assert vans_free(at("09:00"), at("18:00")) == 1


def test_a_hold_counts_people_and_van_until_it_lapses(crew):
    now = timezone.now()
    hold(event(), people=2, expires=now + timedelta(hours=72))
    assert len(free_names(now=now)) == 1
    assert vans_free(at("09:00"), at("18:00"), now=now) == 0
    later = now + timedelta(hours=72)
    assert len(free_names(now=later)) == 3
    assert vans_free(at("09:00"), at("18:00"), now=later) == 1


def test_a_confirmed_hold_does_not_lapse(crew):
    now, held = timezone.now(), event()
    hold(held, expires=now + timedelta(hours=1))
    services.day_hold_confirm(event=held)
    assert vans_free(at("09:00"), at("18:00"), now=now + timedelta(days=400)) == 0


def test_a_dropped_hold_frees_the_day(crew):
    held = event()
    hold(held)
    services.day_hold_drop(event=held)
    assert vans_free(at("09:00"), at("18:00")) == 1
    assert len(free_names()) == 3


def test_ones_own_hold_and_shifts_do_not_stand_in_the_way(crew):
    mine = event()
    hold(mine, people=3)
    shift(mine, crew["lead"], "lead", "09:00", "18:00")
    assert len(free_names(exclude_event=mine)) == 3
    assert vans_free(at("09:00"), at("18:00"), exclude_event=mine) == 1


def test_those_already_on_a_shift_are_not_asked_for_twice(crew):
    held = event()
    hold(held, people=2)
    shift(held, crew["lead"], "lead", "09:00", "18:00")
    assert len(free_names()) == 1


def test_a_hold_for_a_skill_takes_whoever_has_it(crew):
    hold(event(), people=1, skills=["lead"])
    assert free_names() == {"Bo Sallow", "Cass Teal"}
    found = staffing(at("09:00"), at("18:00"), people=1, skills=["lead"])
    assert not found.fits and found.missing == ("lead",) and "no lead that day" in found.says


def test_one_after_the_other_is_not_at_once(crew):
    hold(event("Morning"), people=2, starts="08:00", ends="12:00")
    hold(event("Evening"), people=2, starts="12:00", ends="18:00")
    found = staffing(at("08:00"), at("18:00"), people=1)
    assert found.fits and found.free == 1
    assert not staffing(at("08:00"), at("18:00"), people=2).fits
    assert vans_free(at("08:00"), at("18:00")) == 0


def test_a_hold_may_use_whom_the_span_cannot(crew):
    """Who is away in the evening can still serve a hold in the morning."""
    other = event("Regatta")
    shift(other, crew["load"], "load", "16:00", "18:00")
    hold(event(), people=1, starts="08:00", ends="12:00")
    assert staffing(at("08:00"), at("18:00"), people=2).fits


def test_staffing_in_words(crew):
    away(crew["load"], day_ahead())
    assert staffing(at("09:00"), at("18:00"), people=2, skills=["rig"]).says == "2 of 3 people free, 1 can rig"


def test_a_ladder_is_the_riggers(crew):
    assert staffing(at("09:00"), at("18:00"), people=1, skills=["ladder"]).fits
    away(crew["rig"], day_ahead())
    assert staffing(at("09:00"), at("18:00"), people=1, skills=["ladder"]).missing == ("rig",)


def test_more_vans_than_there_are(crew):
    hold(event("One"))
    hold(event("Two"))
    assert vans_free(at("09:00"), at("18:00")) == -1


def test_the_load_of_a_day(crew):
    held = event()
    hold(held, people=3, minutes=680)
    shift(held, crew["lead"], "lead", "09:00", "18:00")
    away(crew["load"], day_ahead())
    load = day_load(day_ahead())
    assert (load.people, load.away, load.people_out) == (3, 1, 3)
    assert (load.vans, load.vans_out, load.person_minutes) == (1, 1, 680)
    assert [s.member.name for s in load.shifts] == ["Ada Fenn"]
    empty = day_load(day_ahead(31))
    assert (empty.people_out, empty.vans_out, empty.person_minutes) == (0, 0, 0)


def test_a_day_is_the_studios_day(crew):
    """22:30 in Halifax is half past two of the next day in Dublin, five hours ahead in February."""
    far = venue("Long Pier", time_zone="America/Halifax")
    day = timezone.localdate().replace(month=2, day=10) + timedelta(days=366)
    late = event(hall=far, day=day, times=("18:00", "19:00", "22:00", "22:30"))
    shift(late, crew["load"], "load", "22:30", "23:30")
    assert not day_load(day).shifts
    assert len(day_load(day + timedelta(days=1)).shifts) == 1


@pytest.mark.parametrize(
    ("wrong", "named"),
    [
        ({"ends": at("08:00", day=day_ahead())}, "ends"),
        ({"people": -1}, "people"),
        ({"vans": -1}, "vans"),
        ({"person_minutes": -1}, "person_minutes"),
        ({"skills": ["juggle"]}, "skills"),
    ],
)
def test_a_hold_refuses_what_cannot_be(crew, wrong, named):
    given = {"starts": at("09:00"), "ends": at("18:00"), "people": 1, "skills": [], "vans": 1, "person_minutes": 0}
    with pytest.raises(ValueError, match=named):
        services.day_hold_set(event=event(), expires=None, **(given | wrong))


def test_questions_refuse_a_span_that_ends_before_it_starts(crew):
    for ask in (people_free, vans_free):
        with pytest.raises(ValueError, match="ends"):
            ask(at("10:00"), at("10:00"))
    with pytest.raises(ValueError, match="people"):
        staffing(at("10:00"), at("11:00"), people=-1)


def test_a_second_hold_takes_the_place_of_the_first(crew):
    held = event()
    hold(held, vans=1)
    hold(held, vans=0)
    assert vans_free(at("09:00"), at("18:00")) == 1


def test_capacity_reads_little(crew, django_assert_max_num_queries):
    for number in range(6):
        shift(event(f"Event {number}"), crew["load"], "load", f"{6 + 2 * number:02d}:00", f"{8 + 2 * number:02d}:00")
    hold(event())
    with django_assert_max_num_queries(5):
        people_free(at("09:00"), at("18:00"))
