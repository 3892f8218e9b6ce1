"""Deliveries at the same moment, and the worker in the middle of them: nobody's rise goes unseen."""

import pytest

from decor.studio.models import BackgroundJob
from inventory import stocking
from inventory.models import ReservationLine
from jobs import tasks
from jobs.desk.models import Unmet
from jobs.desk.waiting import KIND
from tests.jobs.desk.asking import fill_store, hire, stock
from tests.jobs.desk.conftest import coming
from tests.jobs.desk.test_booking_race import TAPS, at_once
from tests.jobs.desk.waiters import booked, grow, held, work

EVENTS = 5


@pytest.fixture
def wanting(transactional_db, studio, ann, hall):
    """Five events of one day hold a pole each, of six, and each wants four."""
    hire()
    store = fill_store(coming(0))
    for name in ("base", "red 11", "white 11"):
        stock(store[name], 5000, coming(0))
    events = [booked(ann, hall, title=f"Event {number}") for number in range(EVENTS)]
    for event in events:
        grow(event, 4)
    assert Unmet.objects.count() == EVENTS
    return store, events


@pytest.mark.django_db(transaction=True)
def test_ten_deliveries_and_a_worker_at_once_leave_nobody_waiting(wanting):
    """Twenty are wanted of six: twenty come, two at a time, and every second hand runs what is queued."""
    store, events = wanting

    def deliver(number):
        stocking.lot_add(item=store["pole"], quantity=2, arrives_on=coming(0))
        if number % 2:
            for pk in BackgroundJob.objects.filter(kind=KIND).values_list("pk", flat=True):
                tasks.background_run(pk)

    assert at_once(deliver) == [None] * TAPS
    # Only what was asked for is run: a rise that no queued job will see would leave somebody waiting.
    work(most=2 * TAPS)
    assert [held(event) for event in events] == [4] * EVENTS and not Unmet.objects.exists()
    poles = ReservationLine.objects.filter(item__name="Pole").values_list("quantity", flat=True)
    assert sum(poles) == 4 * EVENTS <= 6 + 2 * TAPS
    assert not BackgroundJob.objects.filter(kind=KIND, state=BackgroundJob.State.FAILED).exists()
