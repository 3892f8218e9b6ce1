"""Two planners at the same moment: one person is never promised twice."""

import threading

import pytest
from django.db import connection, connections

from jobs.crew import services
from jobs.crew.models import Absence, Shift
from tests.jobs.crew.makers import at, day_ahead, event, member

pytestmark = pytest.mark.django_db(transaction=True)
PLANNERS = 8


def at_once(*acts):
    """Each act in its own thread and connection, let go together; gives what each raised, or None."""
    gate, outcomes = threading.Barrier(len(acts)), [None] * len(acts)

    def run(number, act):
        try:
            connection.ensure_connection()
            gate.wait(timeout=20)
            act()
        except Exception as error:
            outcomes[number] = error
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    assert not any(thread.is_alive() for thread in threads)
    return outcomes


def add(on, who, starts="12:30", ends="16:00"):
    return lambda: services.shift_add(event=on, member=who, task="load", starts=at(starts), ends=at(ends))


def test_of_eight_clashing_shifts_one_stands(studio):
    ada = member("Ada Fenn", "load")
    events = [event(f"Event {number}") for number in range(PLANNERS)]
    outcomes = at_once(*(add(on, ada) for on in events))
    assert Shift.objects.count() == 1
    assert outcomes.count(None) == 1
    assert sum(isinstance(error, services.Clashes) for error in outcomes) == PLANNERS - 1, outcomes


def test_eight_people_on_one_event_do_not_hinder_each_other(studio):
    on = event()
    outcomes = at_once(*(add(on, member(f"Member {number}", "load")) for number in range(PLANNERS)))
    assert outcomes == [None] * PLANNERS
    assert Shift.objects.count() == PLANNERS


def test_two_shifts_moved_into_each_other(studio):
    ada = member("Ada Fenn", "load")
    first, second = add(event("One"), ada, "08:00", "10:00")(), add(event("Two"), ada, "14:00", "16:00")()

    def move(shift):
        moved = Shift.objects.get(pk=shift.pk)
        moved.starts, moved.ends = at("11:00"), at("13:00")
        return lambda: services.shift_change(shift=moved, version=1)

    outcomes = at_once(move(first), move(second))
    assert outcomes.count(None) == 1
    assert sum(isinstance(error, services.Clashes) for error in outcomes) == 1


def test_a_shift_and_a_day_away_at_the_same_moment(studio):
    ada = member("Ada Fenn", "load")

    def go():
        services.absence_add(member=ada, starts=at("00:00"), ends=at("00:00", day=day_ahead(31)))

    outcomes = at_once(add(event(), ada), go)
    assert outcomes.count(None) == 1
    assert Shift.objects.count() + Absence.objects.count() == 1
