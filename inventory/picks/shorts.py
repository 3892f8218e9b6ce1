"""Which promises lack an item, in words that whoever picks may read."""

from collections import defaultdict
from collections.abc import Mapping
from datetime import datetime

from decor.studio.models import User
from inventory import availability, stocking, unpromised, whose
from inventory.availability import Stock
from inventory.models import Reservation, ReservationLine
from inventory.shown import short_day


def lacking_lines(stock: Mapping[int, Stock], now: datetime) -> dict[int, int]:
    """{line id: what it lacks}, over all these items."""
    found: dict[int, int] = {}
    for one in stock.values():
        found |= stocking.lacking_of(one, now)
    return found


def shorts_of(stock: Mapping[int, Stock], user: User, now: datetime) -> dict[int, str]:
    """{item id: "60 short for Harbour fair (12 Jun)"}, only items of which a promise that is not over lacks something.
    Of events that are not theirs, crew learn only that there are some."""
    lacking = lacking_lines(stock, now)
    parts = lines_named(lacking, user) if lacking else {}
    return {item: "Short: " + ", ".join(words) for item, words in parts.items()}


def lines_named(lacking: Mapping[int, int], user: User) -> dict[int, list[str]]:
    """{item id: ["60 for Harbour fair (12 Jun)"]} of {line id: what it lacks}."""
    lines = ReservationLine.objects.filter(pk__in=lacking).select_related("reservation").order_by("starts", "pk")
    known = whose.openable(user, [line.reservation_id for line in lines])
    parts: dict[int, list[str]] = defaultdict(list)
    for line in lines:
        name = line.reservation.label if line.reservation_id in known else "another event"
        parts[line.item_id].append(f"{lacking[line.pk]:,} for {name} ({short_day(line.starts)})")
    return parts


def short_words(item_id: int, user: User, now: datetime) -> str:
    stock = availability.stock_of([item_id], now=now, starts=now)
    return shorts_of(stock, user, now).get(item_id, "")


def beyond_words(reservation: Reservation, now: datetime) -> str:
    """What its event needs and this list does not have, because it could not be promised: for the head of the list."""
    asked = unpromised.needs(now=now)
    if not any(need.promise == reservation.pk for need in asked):
        return ""
    told = [one for one in unpromised.weighed(now=now, asked=asked) if one.need.promise == reservation.pk]
    lacks = [f"{one.lacks:,} of {one.need.name}" for one in told if one.lacks]
    if lacks:
        return f"Lacks {'; '.join(lacks)}: not promised to it, so not on this list."
    more = [f"{one.need.quantity:,} of {one.need.name}" for one in told]
    return f"It needs {'; '.join(more)} more: free now, and not promised to it yet." if more else ""
