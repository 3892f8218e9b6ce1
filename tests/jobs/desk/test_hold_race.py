"""One event held, confirmed and released by many hands at the same moment, each in its own thread."""

import pytest
from django.urls import reverse

from inventory.models import Reservation
from jobs.crew.models import DayHold
from jobs.desk import services
from jobs.estimates.services import estimate_now
from jobs.events.models import Event
from tests.conftest import signed_in
from tests.jobs.desk.asking import fill_store, hire, piece, save_pieces
from tests.jobs.desk.conftest import coming, make_event
from tests.jobs.desk.test_booking_race import at_once

ROUNDS = 6


@pytest.fixture
def event(transactional_db, studio, ann, hall):
    hire()
    fill_store(coming(0))
    made = make_event(ann, hall, coming(30))
    save_pieces(made, piece())
    estimate_now(event=made)
    return made


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("held", [True, False], ids=["held before", "not held yet"])
def test_held_and_released_at_once_it_has_one_promise_or_none(event, planner, held):
    cookies = signed_in(planner).cookies

    def tap(number):
        from django.test import Client as Browser

        browser = Browser()
        browser.cookies = cookies
        act = "event-release" if held and number % 2 else "event-hold"
        return browser.post(reverse(f"jobs:{act}", args=[event.pk])).status_code

    for _ in range(ROUNDS):
        Reservation.objects.all().delete()
        DayHold.objects.all().delete()
        event.refresh_from_db()
        if held:
            services.event_hold(event=event)
        assert set(at_once(tap)) == {302}
        promise = Event.objects.select_related("reservation").get(pk=event.pk).reservation
        alive = Reservation.objects.exclude(state=Reservation.State.RELEASED)
        assert list(alive) == ([promise] if promise.state != Reservation.State.RELEASED else [])
        assert DayHold.objects.filter(event=event).exists() == alive.exists()
