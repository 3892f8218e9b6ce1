"""Events of which one wants more than is promised to it, and the worker that looks after them."""

from datetime import timedelta

from django.utils import timezone

from decor.studio.models import BackgroundJob
from inventory.models import Reservation
from inventory.services import reservation_confirm, reservation_hold
from jobs import tasks
from jobs.designs.models import Piece
from jobs.desk import services
from jobs.desk.following import event_follow
from jobs.desk.waiting import KIND
from jobs.estimates.services import estimate_now
from jobs.events.models import Event
from tests.jobs.desk.asking import piece, save_pieces, stock
from tests.jobs.desk.conftest import coming, make_event

State = BackgroundJob.State


def booked(ann, hall, *, days: int = 30, title: str = "Harbour fair", columns: int = 1) -> Event:
    """Confirmed, with so many columns: a pole and a base for each."""
    event = make_event(ann, hall, coming(days), title=title)
    save_pieces(event, piece("column", count=columns))
    estimate_now(event=event)
    return services.event_confirm(event=event)


def grow(event: Event, columns: int) -> None:
    """Its design is changed; its promise follows, or what is missing is noted."""
    row = Piece.objects.get(event=event, kind="column")
    Piece.objects.filter(pk=row.pk).update(count=columns, version=row.version + 1)
    event_follow(event=again(event))


def again(event: Event) -> Event:
    return Event.objects.select_related("venue", "reservation", "client").get(pk=event.pk)


def held(event: Event, name: str = "Pole") -> int:
    event = again(event)
    return sum(event.reservation.lines.filter(item__name=name).values_list("quantity", flat=True))


def taken(item, quantity: int, event: Event, *, label: str = "Somebody else") -> Reservation:
    """Promised to another for the same days."""
    promise = again(event).reservation
    made = reservation_hold(
        lines=[(item.pk, quantity)], starts=promise.starts, ends=promise.ends, label=label,
        expires=timezone.now() + timedelta(days=3),
    )  # fmt: skip
    return reservation_confirm(reservation=made)


def grown_fair(store, ann, hall) -> Event:
    """Two columns are promised and eight are wanted: of six more poles, four are free. Bases there are enough."""
    stock(store["base"], 50, coming(0))
    event = booked(ann, hall, columns=2)
    grow(event, 8)
    return event


def work(most: int = 9) -> int:
    """Runs what waits for the worker, and what that asks for, and tells how many jobs there were."""
    done = 0
    while jobs := list(BackgroundJob.objects.filter(kind=KIND, state=State.QUEUED).values_list("pk", flat=True)):
        for pk in jobs:
            done += 1
            assert done <= most, "it goes round"
            tasks.background_run(pk)
            assert BackgroundJob.objects.filter(pk=pk, state=State.FAILED).count() == 0
    return done
