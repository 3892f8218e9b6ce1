"""What can be had only if an order arrives. It counts from the day it is due, so whoever is told that something is
free is told as well how much of it is not here yet."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime

from inventory import availability
from inventory.availability import Stock
from inventory.models import Reservation
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


def free_and_on_order(
    item_ids: Iterable[int], starts: datetime, ends: datetime, *, now: datetime, exclude: Reservation | None = None
) -> tuple[dict[int, int], dict[int, OnOrder]]:
    """What `availability.free` says; and {item id: how much of it is here}, only of what an order makes more."""
    stock = availability.stock_in_sum(item_ids, starts, ends, now=now, exclude=exclude)
    ordered = {pk: on_order_of(one, starts, ends, now) for pk, one in stock.items()}
    return (
        {pk: availability.free_of(one, starts, ends, now) for pk, one in stock.items()},
        {pk: one for pk, one in ordered.items() if one is not None},
    )


def on_order_words(pieces: int, due: date) -> str:
    """20 of them if the order due Thu 3 December arrives"""
    return f"{pieces:,} of them if the order due {day_words(due)} arrives"
