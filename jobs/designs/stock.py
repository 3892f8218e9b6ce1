"""How many balloons of each colour this event could still have."""

from collections.abc import Iterable

from decor.studio.models import Studio
from inventory import availability
from jobs.events.models import Event
from jobs.events.shelf import event_stock_span


def free_for(event: Event, item_ids: Iterable[int]) -> dict[int, int]:
    """What can be promised over the event's whole time with its stock, as the stock page has it; what the event
    itself holds counts as its own."""
    ids = list(item_ids)
    if not ids:
        return {}
    hours = Studio.objects.order_by("pk").values_list("turn_round_hours", flat=True).first()
    span = event_stock_span(event, hours or 0)
    return availability.free(ids, span.starts, span.ends, exclude=event.reservation)
