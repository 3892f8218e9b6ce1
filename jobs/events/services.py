from django.db import transaction

from decor.studio.versions import save_unchanged
from inventory.models import Reservation
from jobs.clients.models import Client
from jobs.events.models import Event, Stage, Venue
from jobs.events.times import Span

VENUE_FIELDS = (
    "name",
    "address",
    "access",
    "contact_name",
    "contact_phone",
    "indoors",
    "ceiling_m",
    "altitude_m",
    "temperature_c",
    "distance_km",
    "drive_minutes",
    "time_zone",
    "cautions",
)
EVENT_FIELDS = ("title", "client", "venue", "load_in", "doors", "ends", "strike", "note")


@transaction.atomic
def venue_add(*, venue: Venue) -> Venue:
    venue.save(force_insert=True)
    return venue


@transaction.atomic
def venue_change(*, venue: Venue, version: int) -> Venue:
    """Raises Changed when somebody else saved since this version."""
    save_unchanged(venue, version=version, fields=VENUE_FIELDS)
    return venue


@transaction.atomic
def event_add(*, title: str, client: Client, venue: Venue, span: Span, note: str = "") -> Event:
    return Event.objects.create(title=title, client=client, venue=venue, note=note, **vars(span))


@transaction.atomic
def event_save(*, event: Event, version: int) -> Event:
    """Only the row itself; what the change means for stock and crew is the desk's to settle. Raises Changed."""
    save_unchanged(event, version=version, fields=EVENT_FIELDS)
    return event


# What may be said by hand; that an event is quoted or confirmed follows from acts that do more.
STEPS: dict[str, tuple[Stage, ...]] = {
    Stage.ENQUIRY: (Stage.LOST,),
    Stage.QUOTED: (Stage.LOST,),
    Stage.CONFIRMED: (Stage.IN_PRODUCTION, Stage.CANCELLED),
    Stage.IN_PRODUCTION: (Stage.INSTALLED, Stage.CONFIRMED, Stage.CANCELLED),
    Stage.INSTALLED: (Stage.STRUCK, Stage.IN_PRODUCTION),
    Stage.STRUCK: (Stage.CLOSED, Stage.INSTALLED),
    Stage.CLOSED: (Stage.STRUCK,),
    Stage.LOST: (Stage.ENQUIRY,),
    Stage.CANCELLED: (Stage.ENQUIRY,),
}


class NotThatStage(ValueError):
    """The stage cannot follow the one that the event is in now."""


def event_lock(event_id: int) -> Event:
    """The event and its promise, locked for the rest of the transaction, as they are now. Never in one statement:
    while it waits for the event, PostgreSQL keeps the promise that it joined to it before."""
    row: Event = Event.objects.select_for_update().get(pk=event_id)
    if row.reservation_id is not None:
        row.reservation = Reservation.objects.select_for_update(no_key=True).filter(pk=row.reservation_id).first()
    return row


@transaction.atomic
def event_stage_set(*, event: Event, stage: Stage, allowed: tuple[Stage, ...] | None = None) -> Event:
    """From a stage in `allowed` (by default one from which this one may be said by hand). The row is locked, so
    that two taps do not skip a stage. Raises NotThatStage."""
    row = Event.objects.select_for_update().get(pk=event.pk)
    fits = row.stage in allowed if allowed is not None else stage in STEPS[row.stage]
    if not fits:
        raise NotThatStage(f"an event that is {row.stage} can't become {stage}")
    # Not the version: no form writes the stage, so nothing can be buried and nobody need be warned.
    Event.objects.filter(pk=event.pk).update(stage=stage)
    event.stage = stage
    return event


def span_of_event(event: Event) -> Span:
    return Span(event.load_in, event.doors, event.ends, event.strike)
