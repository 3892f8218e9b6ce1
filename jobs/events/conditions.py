"""What the venue and the day mean for the arithmetic."""

from datetime import datetime

from decor.calc.work.conditions import Conditions
from jobs.events.models import Event, Venue

ICE_K = 273.15


def conditions_of(*, venue: Venue, load_in: datetime, doors: datetime, ends: datetime) -> Conditions:
    """Also of a venue that is not saved yet, so that the quick answer stands on the same figures."""
    return Conditions(
        altitude_m=venue.altitude_m,
        temperature_k=venue.temperature_c + ICE_K,
        indoors=venue.indoors,
        drive_minutes=venue.drive_minutes,
        distance_km=venue.distance_km,
        load_in_to_doors_min=(doors - load_in).total_seconds() / 60,
        doors_to_end_hours=(ends - doors).total_seconds() / 3600,
        ceiling_m=venue.ceiling_m,
    )


def event_conditions(event: Event) -> Conditions:
    return conditions_of(venue=event.venue, load_in=event.load_in, doors=event.doors, ends=event.ends)
