"""How the crew stands on an event, in one row and in the summary."""

import pytest

from jobs.crew.coverage import coverage_of
from jobs.crew.models import Shift
from jobs.crew.rows import glance_row
from jobs.crew.services import day_hold_set
from jobs.estimates.models import Estimate
from jobs.events.models import Stage
from tests.jobs.crew.makers import at, event, member, shift

pytestmark = pytest.mark.django_db


def hold(on, people=2, skills=("lead", "drive")):
    day_hold_set(
        event=on, starts=at("09:00"), ends=at("18:00"), people=people, skills=skills, vans=1, person_minutes=680,
        expires=None,
    )  # fmt: skip


def covered(on):
    return coverage_of(on, list(Shift.objects.filter(event=on).select_related("member")))


def test_nobody_yet(studio):
    on = event()
    hold(on)
    row = glance_row(on)
    assert (row.stands, row.state, row.state_words) == ("11 h 20 for 2 people", "none", "Not yet")
    assert row.act[0] == "Put 2 people on it" and row.urgency > 0


def test_an_enquiry_without_crew_is_not_pressing(studio):
    row = glance_row(event(stage=Stage.ENQUIRY))
    assert row.act is None and row.urgency == 0 and row.stands == "Nobody yet"


def test_short_then_leaderless_then_complete(studio):
    on = event()
    hold(on)
    ada, bo = member("Ada Fenn", "lead", "load"), member("Bo Sallow", "drive")
    shift(on, ada, "load")
    assert (glance_row(on).state, glance_row(on).state_words) == ("warn", "1 more")
    driving = shift(on, bo, "drive")
    row = glance_row(on)
    assert (row.state, row.state_words, row.act[0]) == ("warn", "No lead", "Name a lead")
    assert "Ada Fenn could" in row.small
    Shift.objects.filter(pk=driving.pk).update(task="load")
    shift(on, ada, "lead", "14:00", "17:00")
    row = glance_row(on)
    assert (row.state, row.state_words, row.act) == ("ok", "Fits", None)
    lines = {line.skill: line for line in covered(on).lines}
    assert lines["drive"].says == "Bo Sallow, with another task"
    assert lines["rig"].state_words == "Not asked"


def test_who_takes_it_down_is_told_but_not_urged(studio):
    on = event()
    ada = member("Ada Fenn", "lead")
    shift(on, ada, "lead")
    strike = covered(on).lines[-1]
    assert (strike.what, strike.state, strike.says) == ("Strike", "none", "nobody is there at 22:30")
    assert glance_row(on).state == "ok"
    shift(on, member("Bo Sallow"), "load", "22:00", "23:30")
    assert (covered(on).lines[-1].state, covered(on).lines[-1].says) == ("ok", "Bo Sallow")


def test_a_missing_driver_is_told_when_asked_for(studio):
    on = event()
    hold(on, people=1)
    shift(on, member("Ada Fenn", "lead"), "lead")
    assert [line.what for line in covered(on).missing] == ["Driver"]


def test_the_estimate_tells_where_nothing_is_held(studio):
    on = event()
    Estimate.objects.create(
        event=on,
        input_key="k",
        inputs={},
        result={"people": 3, "skills": ["ladder", "lead"], "person_minutes_middle": 300.4},
    )
    wanted = covered(on).wanted
    assert (wanted.people, wanted.person_minutes, wanted.skills) == (3, 300, frozenset({"rig", "lead"}))


def test_a_closed_event_asks_for_nothing(studio):
    on = event(stage=Stage.CLOSED)
    hold(on)
    assert glance_row(on).act is None
