from datetime import timedelta

import pytest
from django.utils import timezone

from decor.studio.models import AuditLine
from inventory.models import Lot, Reservation
from inventory.services import Shortage, reservation_hold
from jobs.crew.models import Member, Shift
from jobs.crew.services import day_hold_set
from jobs.desk.changes import event_change
from jobs.events.models import Event, Venue
from tests.jobs.desk.conftest import at, coming, make_event


def filled(event: Event, **given) -> dict[str, str]:
    local = {n: timezone.localtime(getattr(event, n), event.zone) for n in ("load_in", "doors", "ends", "strike")}
    values = {n: f"{t:%H:%M}" for n, t in local.items()}
    return {
        "version": str(event.version), "title": event.title, "client": str(event.client_id),
        "venue": str(event.venue_id), "note": event.note, "date": f"{local['doors']:%Y-%m-%d}",
        "load_in_date": "", "ends_date": "", "strike_date": "", "second": "", **values, **given,
    }  # fmt: skip


def url(event: Event) -> str:
    return f"/events/{event.pk}/change/"


def test_the_form_shows_what_was_booked(as_planner, event):
    page = as_planner.get(url(event)).content.decode()
    assert 'value="17:00"' in page and f'value="{coming().isoformat()}"' in page and 'name="version" value="1"' in page


def test_another_day(as_planner, event):
    answer = as_planner.post(url(event), filled(event, date=coming(40).isoformat(), doors="18:30", note="Later"))
    assert answer.url == f"/events/{event.pk}/"
    event.refresh_from_db()
    assert event.doors == at(coming(40), 18, 30) and event.note == "Later" and event.version == 2
    assert AuditLine.objects.filter(act="changed an event").exists()


def test_another_venue_reads_the_times_in_its_zone(as_planner, event):
    far = Venue.objects.create(name="Pier 9", time_zone="America/New_York")
    as_planner.post(url(event), filled(event, venue=str(far.pk)))
    event.refresh_from_db()
    assert event.doors == at(coming(), 17, zone=far.zone)


@pytest.mark.parametrize(
    "given, field, words",
    [
        ({"ends": "16:00"}, "ends", "ends before doors"),
        ({"load_in": "18:00"}, "load_in", "after doors open"),
        ({"date": coming(-3).isoformat()}, "date", "is past"),
        ({"title": ""}, "title", "Give the event a name"),
        ({"client": "999999"}, "client", ""),
    ],
)
def test_slips_are_said_and_nothing_is_saved(as_planner, event, given, field, words):
    answer = as_planner.post(url(event), filled(event, **given))
    assert answer.status_code == 422 and words in str(answer.context["form"].errors[field])
    event.refresh_from_db()
    assert event.version == 1


def test_a_past_event_keeps_its_day(as_planner, ann, hall):
    old = make_event(ann, hall, coming(-10))
    assert as_planner.post(url(old), filled(old, note="Two poles came back bent")).status_code == 302


def test_the_second_of_two_saves_is_told_and_keeps_its_words(as_planner, as_owner, event):
    stale = filled(event, note="Mine", doors="18:00")
    assert as_owner.post(url(event), filled(event, note="Theirs")).status_code == 302
    answer = as_planner.post(url(event), stale)
    assert answer.status_code == 409
    page = answer.content.decode()
    assert "Mine" in page and "Theirs" in page and "Somebody else saved this" in page
    assert ("Notes", "Mine", "Theirs") in answer.context["differences"]
    assert ("Doors", "18:00", "17:00") in answer.context["differences"]
    event.refresh_from_db()
    assert event.note == "Theirs", "nothing was buried"
    assert 'name="version" value="2"' in page, "to save again is to decide"
    assert as_planner.post(url(event), {**stale, "version": "2"}).status_code == 302
    event.refresh_from_db()
    assert event.note == "Mine"


@pytest.fixture
def promised(event, stock):
    """Stock and hours held from the morning of load-in to the day after strike."""
    sheet, _ = stock
    Lot.objects.create(item=sheet, quantity=5, arrives_on=coming(-5))
    starts, ends = event.load_in - timedelta(hours=6), event.strike + timedelta(days=1)
    expires = timezone.now() + timedelta(hours=72)
    hold = reservation_hold(lines=[(sheet.pk, 3)], starts=starts, ends=ends, label="held", expires=expires)
    Event.objects.filter(pk=event.pk).update(reservation=hold)
    day_hold_set(
        event=event, starts=starts, ends=event.strike, people=3, skills=["rig"], vans=1, person_minutes=600,
        expires=expires,
    )  # fmt: skip
    event.refresh_from_db()
    return event


def test_what_is_promised_moves_with_the_times(as_planner, promised):
    as_planner.post(url(promised), filled(promised, date=coming(40).isoformat()))
    promised.refresh_from_db()
    hold, hours = promised.reservation, promised.dayhold
    assert hold.starts == promised.load_in - timedelta(hours=6)
    assert hold.ends == promised.strike + timedelta(days=1)
    assert hold.lines.get().starts == hold.starts
    assert (hours.starts, hours.ends) == (hold.starts, promised.strike)


def test_a_move_that_would_promise_twice_is_refused_whole(as_planner, promised, stock, ann, hall):
    """Another event has 3 of the 5 sheets on the new day."""
    sheet, _ = stock
    reservation_hold(
        lines=[(sheet.pk, 3)], starts=at(coming(40), 0), ends=at(coming(41), 0), label="other",
        expires=timezone.now() + timedelta(hours=72),
    )  # fmt: skip
    answer = as_planner.post(url(promised), filled(promised, date=coming(40).isoformat(), note="moved"))
    assert answer.status_code == 422 and "1 of Sheet 13 × 22" in answer.content.decode()
    fresh = Event.objects.get(pk=promised.pk)
    assert (fresh.doors, fresh.note, fresh.version) == (at(coming(), 17), "", 1)
    assert fresh.reservation.starts == at(coming(), 8)
    fresh.load_in += timedelta(days=10)
    fresh.doors, fresh.ends, fresh.strike = (t + timedelta(days=10) for t in (fresh.doors, fresh.ends, fresh.strike))
    with pytest.raises(Shortage):
        event_change(event=fresh, version=1)


def test_a_lapsed_hold_does_not_follow(as_planner, promised):
    Reservation.objects.update(expires=timezone.now() - timedelta(minutes=1))
    as_planner.post(url(promised), filled(promised, date=coming(40).isoformat()))
    promised.refresh_from_db()
    assert promised.reservation.state == Reservation.State.RELEASED


def test_shifts_stay_and_it_is_said(as_planner, event):
    Shift.objects.create(
        event=event, member=Member.objects.create(name="Cory"), task="rig", starts=event.load_in, ends=event.doors
    )
    page = as_planner.post(url(event), filled(event, date=coming(40).isoformat()), follow=True).content.decode()
    assert "the shifts keep their times" in page


def test_who_may_change_it(as_crew, as_nobody, event):
    assert as_crew.post(url(event), filled(event)).status_code == 403
    assert as_nobody.post(url(event), filled(event)).url.startswith("/sign-in/")
    event.refresh_from_db()
    assert event.version == 1


def test_no_such_event(as_planner):
    assert as_planner.get("/events/999999/change/").status_code == 404
    assert as_planner.get("/events/999999/stage/").status_code == 404
