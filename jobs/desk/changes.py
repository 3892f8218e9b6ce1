"""Changing an event after it was booked: what the change means for stock and hours is settled with it, or it is
not made."""

from django.db import transaction
from django.utils import timezone

from inventory.models import Reservation
from inventory.services import reservation_change, reservation_release
from jobs.crew.models import DayHold
from jobs.crew.services import day_hold_set
from jobs.desk.following import follow_later
from jobs.desk.models import Unmet
from jobs.desk.services import event_release
from jobs.events.models import Event, Stage
from jobs.events.services import event_lock, event_save, event_stage_set

CALLED_OFF = (Stage.LOST, Stage.CANCELLED)


@transaction.atomic
def event_change(*, event: Event, version: int) -> Event:
    """`event` carries the new values. Its promise of stock and its hold on the day move with its times. Raises
    Changed, and Shortage when the stock is not free at the new time; then nothing is changed."""
    before = event_lock(event.pk)
    event_save(event=event, version=version)
    moved = (before.load_in, before.strike) != (event.load_in, event.strike)
    if moved:
        _move_stock(before, event)
        _move_hours(before, event)
    return event


def _move_stock(before: Event, event: Event) -> None:
    promise = before.reservation
    if promise is None or promise.state in (Reservation.State.RELEASED, Reservation.State.SETTLED):
        return
    if promise.state == Reservation.State.HOLD and promise.expires <= timezone.now():
        # A lapsed hold could still be confirmed, but for days that are no longer the event's.
        reservation_release(reservation=promise)
        return
    reservation_change(
        reservation=promise,
        lines=list(promise.lines.values_list("item_id", "quantity")),
        starts=promise.starts + (event.load_in - before.load_in),
        ends=promise.ends + (event.strike - before.strike),
    )
    if Unmet.objects.filter(event=event).exists():
        # What it lacks may be free on its new days.
        follow_later(event_id=event.pk)


def _move_hours(before: Event, event: Event) -> None:
    hold = DayHold.objects.filter(event=event).first()
    if hold:
        day_hold_set(
            event=event,
            starts=hold.starts + (event.load_in - before.load_in),
            ends=hold.ends + (event.strike - before.strike),
            people=hold.people,
            skills=hold.skills,
            vans=hold.vans,
            person_minutes=hold.person_minutes,
            expires=hold.expires,
        )


@transaction.atomic
def event_stage_change(*, event: Event, stage: Stage) -> Event:
    """By hand. An event that is lost or cancelled gives its stock and its hours back. Raises NotThatStage, and
    CannotHold in words while pieces are out with it; then its stage stays."""
    event_stage_set(event=event, stage=stage)
    if stage in CALLED_OFF:
        event_release(event=event)
    return event
