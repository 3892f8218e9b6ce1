"""When an event has its stock: one span for what is shown as free and for what is held."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from jobs.events.models import Event

PREPARE = timedelta(hours=24)
"""Stock leaves the shelf this long before load-in, to be opened, inflated and loaded (studio default, no source)."""


@dataclass(frozen=True)
class StockSpan:
    """From preparing until what comes back is ready again; half-open."""

    starts: datetime
    ends: datetime


def stock_span(*, load_in: datetime, strike: datetime, turn_round_hours: int) -> StockSpan:
    return StockSpan(load_in - PREPARE, strike + timedelta(hours=turn_round_hours, minutes=1))


def event_stock_span(event: Event, turn_round_hours: int) -> StockSpan:
    return stock_span(load_in=event.load_in, strike=event.strike, turn_round_hours=turn_round_hours)
