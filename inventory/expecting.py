"""What can be had only if an order arrives. It counts from the day it is due, so whoever is told that something is
free is told as well how much of it is not here yet."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime

from inventory import availability
from inventory.availability import Stock
from inventory.models import Lot, Reservation
from inventory.shown import day_words


@dataclass(frozen=True)
class OnOrder:
    """`sure` can be promised whatever becomes of the orders; more of it when they are here, by `due`."""

    sure: int
    due: date


def on_order_of(stock: Stock, starts: datetime, ends: datetime, now: datetime) -> OnOrder | None:
    """None where no order makes a difference, be it that a later promise counts on it."""
    orders = sorted(s.arrives for s in stock.supplies if s.expected)
    if not orders:
        return None
    here = replace(stock, supplies=[s for s in stock.supplies if not s.expected])
    sure = availability.free_of(here, starts, ends, now)
    if sure >= availability.free_of(stock, starts, ends, now):
        return None
    due = max((moment for moment in orders if moment <= starts), default=orders[0])
    return OnOrder(sure, due.date())


def on_order(
    item_ids: Iterable[int], starts: datetime, ends: datetime, *, now: datetime, exclude: Reservation | None = None
) -> dict[int, OnOrder]:
    """{item id: how much of it is here}, only of what an order makes more; one query where nothing is on order."""
    lots = Lot.objects.filter(item__in=set(item_ids), received=False, arrives_on__gte=availability.utc_day(now))
    ordered = set(lots.values_list("item_id", flat=True))
    if not ordered:
        return {}
    stock = availability.stock_of(ordered, now=now, starts=starts, ends=ends, exclude=exclude, in_sum=True)
    found = {pk: on_order_of(one, starts, ends, now) for pk, one in stock.items()}
    return {pk: one for pk, one in found.items() if one is not None}


def on_order_words(pieces: int, due: date) -> str:
    """20 of them if the order due Thu 3 December arrives"""
    return f"{pieces:,} of them if the order due {day_words(due)} arrives"
