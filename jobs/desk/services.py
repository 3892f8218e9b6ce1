"""Acts on one event that touch its stock, its day and its stage together."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction
from django.utils import timezone

from decor.studio.models import Studio
from decor.studio.templatetags.desk import plural
from inventory.models import Reservation
from inventory.services import (
    StillOut,
    reservation_change,
    reservation_confirm,
    reservation_hold,
    reservation_release,
)
from jobs.crew.services import day_hold_confirm, day_hold_drop, day_hold_set
from jobs.desk.models import Unmet
from jobs.desk.unmet import beyond, others_of, unmet_note
from jobs.desk.workday import Workday, workday_of
from jobs.estimates.inputs import background_now
from jobs.estimates.needs import hold_lines, needs_of_result
from jobs.estimates.services import estimate_is_current, finished_estimate
from jobs.events.models import ENDED, Event, Stage
from jobs.events.services import event_lock, event_stage_set
from jobs.events.shelf import StockSpan, event_stock_span

BEFORE_CONFIRMED = (Stage.ENQUIRY, Stage.QUOTED)


class CannotHold(ValueError):
    """Why the event can't be held or confirmed as it is, in words for people."""


@dataclass(frozen=True)
class Wanted:
    """What is promised to an event: stock by item over a span, people and a van over the workday. `others` are items
    that would serve as well, by the item."""

    lines: tuple[tuple[int, int], ...]
    span: StockSpan
    workday: Workday
    others: Mapping[int, list[int]]


def event_hold(*, event: Event, partly: bool = False) -> datetime:
    """Stock, hours and van, until the moment that is given back. All of the stock or none and inventory's
    `Shortage`; with `partly` as much of it as is free, for what is short to be bought; were that nothing, it waits in
    its turn as the others do. Held again, it lasts longer and follows what the event has become. Raises CannotHold."""
    studio = _studio()
    wanted = _wanted(event, studio, partly=partly)
    more = beyond(_wanted(event, studio, partly=False).lines, dict(wanted.lines)) if partly else {}
    expires = timezone.now() + timedelta(hours=studio.hold_hours)
    with transaction.atomic():
        row = _open(event)
        if row.stage not in BEFORE_CONFIRMED:
            raise CannotHold(f"This event is {row.stage}: what it needs is confirmed, not held.")
        _promise(row, wanted, expires, waits=bool(more))
        unmet_note(event=row, beyond=more, others=wanted.others)
        _day_set(row, wanted.workday, expires)
    event.refresh_from_db()
    return expires


def event_confirm(*, event: Event) -> Event:
    """The client said yes: all that the event needs is promised for good, and its hours and van with it. Raises
    inventory's `Shortage`, or CannotHold; then nothing has changed."""
    studio = _studio()
    wanted = _wanted(event, studio, partly=False)
    with transaction.atomic():
        row = _open(event)
        # A lapsed hold is alive again for as long as this takes, or what it held may be somebody else's by now.
        reservation = _promise(row, wanted, timezone.now() + timedelta(hours=1))
        if reservation is not None:
            reservation_confirm(reservation=reservation)
        Unmet.objects.filter(event=row).delete()
        _day_set(row, wanted.workday, None)
        day_hold_confirm(event=row)
        if row.stage in BEFORE_CONFIRMED:
            event_stage_set(event=row, stage=Stage.CONFIRMED, allowed=BEFORE_CONFIRMED)
    event.refresh_from_db()
    return event


@transaction.atomic
def event_release(*, event: Event) -> Event:
    """Its stock, hours and van are free for others. Released twice is released once. Raises CannotHold while pieces
    are out with it."""
    row = event_lock(event.pk)
    if row.reservation is not None:
        try:
            reservation_release(reservation=row.reservation)
        except StillOut as out:
            are = "piece is,pieces are"
            raise CannotHold(
                f"{plural(out.pieces, are)} out with it. Count back what was picked first; then it can be given up."
            ) from out
    day_hold_drop(event=row)
    Unmet.objects.filter(event=row).delete()
    event.refresh_from_db()
    return event


def _studio() -> Studio:
    studio = Studio.objects.order_by("pk").first()
    if studio is None:
        raise CannotHold("The studio must be opened first.")
    return studio


def _open(event: Event) -> Event:
    """Locked, so that two taps do not both make a promise for one event."""
    row = event_lock(event.pk)
    if row.stage in ENDED:
        raise CannotHold(f"This event is {row.stage}. Nothing can be held for it.")
    if row.version != event.version:
        # What is to be promised was reckoned from the times it had before.
        raise CannotHold("Somebody changed this event just now. Look at it again, then hold or confirm.")
    return row


def _wanted(event: Event, studio: Studio, *, partly: bool) -> Wanted:
    estimate = finished_estimate(event)
    if estimate is None or estimate.result is None:
        raise CannotHold("Estimate the event first: its stock and hours follow from that.")
    background = background_now(studio)
    if not estimate_is_current(estimate, background):
        raise CannotHold("The event, a price or a rate changed since its estimate. Estimate it again first.")
    needs = needs_of_result(estimate.result, background.catalogue, background.store)
    span = event_stock_span(event, studio.turn_round_hours)
    promise = event.reservation
    held = dict(promise.lines.values_list("item_id", "quantity")) if promise else {}
    lines = hold_lines(needs, span, now=timezone.now(), exclude=promise, partly=partly, held=held)
    workday = workday_of(estimate.result, doors=event.doors, strike=event.strike)
    return Wanted(tuple(lines), span, workday, others_of(needs))


def _promise(event: Event, wanted: Wanted, expires: datetime, *, waits: bool = False) -> Reservation | None:
    """None where nothing can be named yet: only balloons whose colours are open. One that `waits` may hold nothing."""
    reservation, label = event.reservation, f"{event.number} {event.title}"[:120]
    starts, ends = wanted.span.starts, wanted.span.ends
    if reservation is not None and reservation.state == Reservation.State.SETTLED:
        raise CannotHold("What it had is counted back already, so nothing more is kept for it.")
    if reservation is not None and reservation.state != Reservation.State.RELEASED:
        if wanted.lines or waits:
            return reservation_change(
                reservation=reservation, lines=wanted.lines, starts=starts, ends=ends, label=label, expires=expires
            )
        event_release(event=event)
        return None
    if not wanted.lines and not waits:
        return None
    made = reservation_hold(lines=wanted.lines, starts=starts, ends=ends, label=label, expires=expires, waits=waits)
    Event.objects.filter(pk=event.pk).update(reservation=made)
    event.reservation = made
    return made


def _day_set(event: Event, workday: Workday, expires: datetime | None) -> None:
    starts, ends = workday.spans[0]
    day_hold_set(
        event=event,
        starts=starts,
        ends=ends,
        people=workday.people,
        skills=workday.skills,
        vans=workday.vans,
        person_minutes=workday.person_minutes,
        expires=expires,
    )
