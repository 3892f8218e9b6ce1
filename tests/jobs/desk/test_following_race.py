"""Events that grow at the same moment over the last poles, through their pages, each in its own thread."""

import pytest
from django.urls import reverse

from inventory.models import ReservationLine
from jobs.designs.models import Piece
from jobs.desk import services
from jobs.desk.models import Unmet
from jobs.estimates.services import estimate_now
from tests.conftest import signed_in
from tests.jobs.desk.asking import fill_store, hire, piece, save_pieces, stock
from tests.jobs.desk.conftest import coming, make_event
from tests.jobs.desk.test_booking_race import TAPS, at_once


@pytest.fixture
def growing(transactional_db, studio, ann, hall):
    """Ten events of one day with a column each; of sixteen poles six are left."""
    hire()
    store = fill_store(coming(0))
    stock(store["pole"], 10, coming(0))
    for name in ("base", "red 11", "white 11"):
        stock(store[name], 5000, coming(0))
    events = []
    for number in range(TAPS):
        event = make_event(ann, hall, coming(30), title=f"Event {number}")
        save_pieces(event, piece("column"))
        estimate_now(event=event)
        events.append(services.event_confirm(event=event))
    return events


def poles(event=None) -> int:
    lines = ReservationLine.objects.filter(item__name="Pole")
    return sum((lines.filter(reservation=event.reservation_id) if event else lines).values_list("quantity", flat=True))


@pytest.mark.django_db(transaction=True)
def test_who_grows_first_gets_the_last_ones_and_nobody_loses_any(growing, planner):
    cookies = signed_in(planner).cookies

    def grow(number):
        from django.test import Client as Browser

        browser = Browser()
        browser.cookies = cookies
        row = Piece.objects.get(event=growing[number])
        given = {"title": row.title, "count": "3", "built_at": "workshop", "fill": "air", "version": "1"}
        given |= {"height": "1.8", "unit": "m", "balloons": "4", "pattern": "spiral", "colours": ["red", "white"]}
        return browser.post(reverse("jobs:piece-edit", args=[row.event_id, row.pk]), given)

    assert {answer.status_code for answer in at_once(grow)} == {302}
    # Each asked for two more; six were left.
    assert sorted(poles(event) for event in growing) == [1] * 7 + [3] * 3
    assert poles() == 16 and Unmet.objects.count() == 7
