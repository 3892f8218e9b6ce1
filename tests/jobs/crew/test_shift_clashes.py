"""What speaks against a shift, and what saving refuses."""

from datetime import timedelta

import pytest

from decor.studio.versions import Changed
from jobs.crew import services
from jobs.crew.clashes import clashes_for
from jobs.crew.models import Shift
from jobs.events.models import Stage
from tests.jobs.crew.makers import at, away, day_ahead, event, member, shift, venue

pytestmark = pytest.mark.django_db


@pytest.fixture
def ada(studio):
    return member("Ada Fenn", "lead", "load")


def clashes(on, who, task="load", starts="12:30", ends="16:00", **given):
    return clashes_for(event=on, member=who, task=task, starts=at(starts), ends=at(ends), **given)


def test_a_good_shift_has_nothing_against_it(ada):
    assert clashes(event(), ada) == []


def test_another_event_at_the_same_time_is_named_with_its_times(ada):
    shift(event("Regatta prize-giving", hall=venue("Boat House")), ada, "load", "09:30", "13:40")
    [found] = clashes(event(), ada)
    assert found.weight == "no"
    assert found.says.startswith("Ada Fenn is on Regatta prize-giving at Boat House, ")
    assert "09:30 to 13:40" in found.says


def test_two_tasks_on_one_event_at_once(ada):
    here = event()
    shift(here, ada, "lead", "12:00", "14:00")
    [found] = clashes(here, ada)
    assert found.weight == "no" and "already on this event, lead," in found.says


def test_the_end_of_one_may_be_the_start_of_the_next(ada):
    shift(event("Regatta"), ada, "load", "09:30", "12:30")
    assert clashes(event(), ada) == []


def test_a_shift_does_not_clash_with_itself(ada):
    here = event()
    mine = shift(here, ada, "load", "12:30", "16:00")
    assert clashes(here, ada, shift=mine) == []


def test_a_day_away(ada):
    away(ada, day_ahead(29), day_ahead(31))
    [found] = clashes(event(), ada)
    assert found.weight == "no" and found.says.startswith("Ada Fenn is away ")


def test_a_missing_skill_only_warns(ada):
    [found] = clashes(event(), ada, "drive")
    assert (found.weight, found.says) == ("warn", "Ada Fenn has no tick at “Drive the van”.")


def test_outside_the_events_span_is_a_notice(ada):
    [early] = clashes(event(), ada, starts="09:00", ends="12:00")
    assert early.weight == "off" and early.says.startswith("Begins before load-in") and "12:00" in early.says
    [late] = clashes(event(), ada, starts="21:00", ends="23:00")
    assert late.weight == "off" and "22:30" in late.says
    strike = clashes(event(), ada, starts="22:30", ends="23:59")
    assert strike == []


def test_a_whole_day_without_a_break_warns(ada):
    found = clashes_for(event=event(), member=ada, task="load", starts=at("05:00"), ends=at("22:00"))
    assert [c.kind for c in found] == ["long", "span"]


def test_an_ended_event_takes_nobody(ada):
    [found] = clashes(event(stage=Stage.CLOSED), ada)
    assert found.weight == "no" and "closed" in found.says


def test_who_is_gone_is_put_on_nothing(ada):
    ada.active = False
    ada.save()
    assert clashes(event(), ada)[0].says == "Ada Fenn no longer works here."


def test_a_called_off_event_keeps_nobody_busy(ada):
    shift(event("Regatta", stage=Stage.CANCELLED), ada, "load", "12:00", "16:00")
    assert clashes(event(), ada) == []


def test_the_other_events_times_are_told_in_this_events_zone(ada):
    far = venue("Long Pier", time_zone="America/Halifax")
    other = event("Far away", hall=far, day=day_ahead())
    starts = at("12:30")
    Shift.objects.create(event=other, member=ada, task="load", starts=starts, ends=starts + timedelta(hours=1))
    [found] = clashes(event(), ada)
    assert "12:30 to 13:30" in found.says


def add(on, who, task="load", starts="12:30", ends="16:00", **given):
    return services.shift_add(event=on, member=who, task=task, starts=at(starts), ends=at(ends), **given)


def test_saving_refuses_two_places_even_with_the_tick(ada):
    add(event("Regatta"), ada)
    with pytest.raises(services.Clashes) as refused:
        add(event(), ada, anyway=True)
    assert [c.kind for c in refused.value.hard] == ["place"]
    assert Shift.objects.count() == 1


def test_a_warning_needs_the_tick(ada):
    with pytest.raises(services.Clashes) as refused:
        add(event(), ada, "drive")
    assert refused.value.hard == []
    assert add(event(), ada, "drive", anyway=True).pk


def test_saving_checks_its_arguments(ada):
    with pytest.raises(ValueError, match="ends"):
        add(event(), ada, starts="16:00", ends="16:00")
    with pytest.raises(ValueError, match="task"):
        add(event(), ada, "juggle")


def test_moving_a_shift_checks_again_and_keeps_the_old_on_refusal(ada):
    here = event()
    add(event("Regatta"), ada, starts="17:00", ends="19:00")
    mine = add(here, ada)
    mine.ends = at("18:00")
    with pytest.raises(services.Clashes):
        services.shift_change(shift=mine, version=1)
    mine.refresh_from_db()
    assert mine.ends == at("16:00") and mine.version == 1
    mine.ends = at("17:00")
    services.shift_change(shift=mine, version=1)
    mine.refresh_from_db()
    assert mine.ends == at("17:00") and mine.version == 2


def test_a_stale_version_changes_and_removes_nothing(ada):
    mine = add(event(), ada)
    Shift.objects.filter(pk=mine.pk).update(version=2)
    with pytest.raises(Changed):
        services.shift_change(shift=mine, version=1)
    with pytest.raises(Changed):
        services.shift_remove(shift=mine, version=1)
    services.shift_remove(shift=mine, version=2)
    assert not Shift.objects.exists()
    with pytest.raises(Changed):
        services.shift_remove(shift=mine, version=2)


def test_away_on_a_day_with_a_shift_is_refused_and_says_which(ada):
    add(event(), ada)
    with pytest.raises(services.Clashes, match=r"Ada Fenn is on Harbour library centenary.*12:30 to 16:00"):
        services.absence_add(member=ada, starts=at("00:00"), ends=at("00:00", day=day_ahead(31)))
    services.absence_add(member=ada, starts=at("16:00"), ends=at("20:00"))


def test_members_are_checked(studio):
    with pytest.raises(ValueError, match="name"):
        services.member_add(name="  ")
    with pytest.raises(ValueError, match="skills"):
        services.member_add(name="Bo Sallow", skills=["juggle"])
    bo = services.member_add(name="Bo Sallow", skills=["ladder", "lead", "rig"])
    assert bo.skills == ["rig", "lead"]
    bo.name = "Bo Rush"
    services.member_change(member=bo, version=1)
    with pytest.raises(Changed):
        services.member_change(member=bo, version=1)
