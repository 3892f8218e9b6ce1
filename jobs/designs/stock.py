"""How many balloons of each colour this event could still have."""

from collections.abc import Iterable

from inventory import availability
from jobs.events.models import Event


def free_for(event: Event, item_ids: Iterable[int]) -> dict[int, int]:
    """What can be promised from load-in to strike; what the event itself holds counts as its own."""
    ids = list(item_ids)
    return availability.free(ids, event.load_in, event.strike, exclude=event.reservation) if ids else {}
