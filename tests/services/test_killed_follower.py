"""The worker makes promises follow changed designs. Killed while it does, whatever was promised is there, and what it
was at is done once in the end. With real processes: on SQLite with the server that comes with the program, on
PostgreSQL with Redis."""

import os
import random
import time

import pytest
from django.db import connection, transaction
from django.db.models import F
from django.utils import timezone

from decor.studio.background import WORKER_LOST, job_retry
from decor.studio.models import BackgroundJob
from inventory.availability import stock_of
from inventory.models import Item, Reservation, ReservationLine
from jobs.crew.models import DayHold
from jobs.designs.models import Piece
from jobs.desk.following import follow_later
from jobs.desk.models import Unmet
from jobs.desk.services import event_confirm, event_hold, event_release
from jobs.estimates.services import estimate_now
from jobs.events.models import Event
from tests.jobs.desk.asking import fill_store, hire, piece, save_pieces, stock
from tests.jobs.desk.conftest import ann, coming, hall, make_event  # noqa: F401
from tests.services.test_killed_worker import BROKERS, WORKER, House, kill, wait_for

pytestmark = [pytest.mark.services, pytest.mark.django_db(transaction=True)]

KILLS = 20 if os.environ.get("KNOTBOOK_THOROUGH") else 2
LINES = 6
"""Of an event's promise."""
State = BackgroundJob.State
Lines = dict[str, int]


@pytest.fixture
def house(tmp_path):
    var = tmp_path / "var"
    var.mkdir()
    broker = BROKERS["redis" if connection.vendor == "postgresql" else "embedded"](tmp_path)
    made = House(var, next(broker))
    yield made
    made.stop()
    next(broker, None)


@pytest.fixture
def make(studio, ann, hall):  # noqa: F811
    hire()
    store = fill_store(coming(0), sky=5 * 525 + 40, sheets=60)
    for name, quantity in (("pole", 40), ("base", 40), ("red 11", 2000), ("white 11", 2000)):
        stock(store[name], quantity, coming(0))
    weeks = iter(range(1, 40))

    def made(columns: int) -> Event:
        number = next(weeks)
        event = make_event(ann, hall, coming(20 + 7 * number), title=f"Fair {number}")
        save_pieces(event, piece(), piece("column", count=columns))
        estimate_now(event=event)
        return event

    return made


def promise_of(event: Event) -> Reservation:
    found = Event.objects.select_related("reservation").get(pk=event.pk).reservation
    assert found is not None
    return found


def lines_of(event: Event) -> Lines:
    return dict(promise_of(event).lines.filter(counts=True).values_list("item__name", "quantity"))


def columns_now(event: Event, count: int) -> None:
    Piece.objects.filter(event=event, kind="column").update(count=count, version=F("version") + 1)


def all_done() -> bool:
    return not BackgroundJob.objects.exclude(state__in=(State.DONE, State.FAILED)).exists()


def changed_in_the_house(house: House, event: Event, then: str) -> None:
    """A page's process changes the design and asks the worker for what follows from it."""
    house.run(
        "from django.db import transaction; from django.db.models import F; from jobs.designs.models import Piece; "
        "from jobs.events.models import Event; from jobs.desk.following import follow_later; "
        "from jobs.estimates.services import estimate_request; "
        f"event = Event.objects.get(pk={event.pk}); pieces = Piece.objects.filter(event=event, kind='column'); "
        f"transaction.atomic()(lambda: (pieces.update(count=3, version=F('version') + 1), {then}))()"
    )


def nothing_is_promised_twice() -> None:
    now = timezone.now()
    for item in Item.objects.all():
        assert not stock_of([item.pk], now=now, starts=now)[item.pk].lacking(), item.name
    assert Reservation.objects.count() == Event.objects.exclude(reservation=None).count()


def done_once(house: House, event: Event, attempts: int) -> None:
    """More messages for the same jobs change nothing, not even the lines' own numbers."""
    jobs = list(BackgroundJob.objects.order_by("pk").values_list("pk", "state", "attempts"))
    assert {state for _, state, _ in jobs} == {State.DONE} and max(tries for _, _, tries in jobs) == attempts, jobs
    lines, hours = list(ReservationLine.objects.order_by("pk").values_list()), list(DayHold.objects.values_list())
    for pk, _, _ in jobs:
        house.send_again(pk, times=3)
    time.sleep(2)
    assert list(ReservationLine.objects.order_by("pk").values_list()) == lines
    assert list(DayHold.objects.values_list()) == hours
    assert list(BackgroundJob.objects.order_by("pk").values_list("pk", "state", "attempts")) == jobs


@pytest.mark.parametrize(
    ("moment", "asked", "attempts"),
    [
        ("half written", "follow_later(event_id=event.pk)", 2),
        ("not yet acknowledged", "follow_later(event_id=event.pk)", 1),
        ("estimated", "estimate_request(event=event)", 2),
    ],
)
def test_killed_while_a_promise_follows(house, make, tmp_path, moment, asked, attempts):
    changed, held, later, twin = make(2), make(2), make(1), make(3)
    event_confirm(event=changed)
    event_hold(event=held)
    told = {event.pk: lines_of(event) for event in (changed, held)}
    here = tmp_path / "here"
    house.celery("beat", "--loglevel", "WARNING", "--pidfile=")
    first = house.start("-m", "tests.services.halting_worker", moment, str(here), *WORKER)
    changed_in_the_house(house, changed, asked)
    assert wait_for(here.exists), house.logs()
    kill(first)
    if moment != "not yet acknowledged":
        assert lines_of(changed) == told[changed.pk], "the old promise is whole until the new one is"
    event_hold(event=later)
    told[later.pk] = lines_of(later)
    house.celery(*WORKER)
    assert wait_for(all_done), house.logs()
    event_hold(event=twin)  # what the same design is promised at once
    assert lines_of(changed) == lines_of(twin) != told[changed.pk], house.logs()
    assert lines_of(changed)["Pole"] == 3
    hours = {hold.event_id: hold.person_minutes for hold in DayHold.objects.all()}
    if moment == "estimated":
        assert hours[changed.pk] == hours[twin.pk] > hours[held.pk]
    assert promise_of(changed).state == "confirmed"
    assert [lines_of(held), lines_of(later)] == [told[held.pk], told[later.pk]]
    nothing_is_promised_twice()
    done_once(house, changed, attempts)


def test_killed_again_and_again_while_designs_change(house, make, tmp_path):
    dice, here, twins = random.Random(7), tmp_path / "here", {count: make(count) for count in (1, 2, 3)}
    events = [make(2) for _ in range(4)]
    for event in events:
        event_confirm(event=event)
    columns = dict.fromkeys((event.pk for event in events), 2)
    house.celery("beat", "--loglevel", "WARNING", "--pidfile=")
    caught = 0
    for _ in range(KILLS):
        here.unlink(missing_ok=True)
        worker = house.start("-m", "tests.services.halting_worker", "dawdling", str(here), *WORKER)
        for event in dice.sample(events, 3):
            columns[event.pk] = count = dice.choice([1, 2, 3])
            with transaction.atomic():
                columns_now(event, count)
                follow_later(event_id=event.pk)
        assert wait_for(here.exists), house.logs()
        time.sleep(dice.uniform(0, 0.5))
        kill(worker)
        caught += BackgroundJob.objects.filter(state=State.RUNNING).exists()
        # Whatever the worker was at: each promise is whole, the old one or the new one.
        assert {len(lines_of(event)) for event in events} == {LINES}
    house.celery(*WORKER)
    assert wait_for(all_done), house.logs()
    for job in BackgroundJob.objects.filter(state=State.FAILED):
        # Five times killed over one job it stops by itself, and somebody has to say that it may go on.
        assert job.reason == WORKER_LOST
        job_retry(job=job)
    assert wait_for(all_done), house.logs()
    print(f"{caught} of {KILLS} kills were in the middle of a job")
    for count, twin in twins.items():
        event_hold(event=twin)
        alike = [event for event in events if columns[event.pk] == count]
        assert all(lines_of(event) == lines_of(twin) for event in alike), house.logs()
        event_release(event=twin)
    assert not Unmet.objects.exists()
    assert {promise_of(event).state for event in events} == {"confirmed"}
    nothing_is_promised_twice()
