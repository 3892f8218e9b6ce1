"""When something that is short would be free for as long."""

from bisect import bisect_left, bisect_right
from datetime import datetime, timedelta

from inventory.availability import Stock

LOOK_AHEAD = timedelta(weeks=8)


def first_later(stock: Stock, quantity: int, starts: datetime, ends: datetime) -> datetime | None:
    """The first later moment from which so many are free for as long, None where there is none within eight weeks.

    `stock` knows its lines until eight weeks after `ends`. More can only become free when something arrives, or when
    a promised returnable comes back: what is free at any other moment was free at the last of these just the same, as
    the very pieces that serve a span then lie there all the time between."""
    last, length = starts + LOOK_AHEAD, ends - starts
    moments = {s.arrives for s in stock.supplies} | ({d.ends for d in stock.demands} if stock.returnable else set())
    coming = sorted(moment for moment in moments if starts < moment <= last)
    if not coming:
        return None
    if stock.returnable:
        coming = _high_enough(stock, quantity, coming, length)
    return next((moment for moment in coming if stock.free(moment, moment + length) >= quantity), None)


def _high_enough(stock: Stock, quantity: int, moments: list[datetime], length: timedelta) -> list[datetime]:
    """The cheap look first: where the step line stays high enough."""
    levels = stock.levels(moments[0], moments[-1] + length)
    corners = [corner for corner, _ in levels]
    heights = [height for _, height in levels]
    return [
        moment
        for moment in moments
        if min(heights[bisect_right(corners, moment) - 1 : bisect_left(corners, moment + length)]) >= quantity
    ]
