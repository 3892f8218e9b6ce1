"""Promises of stock: hold, confirm, change, release, and what to buy for what is short.

Every promise locks its items' rows in primary-key order and counts what is free only then, so that two at once can't
both be given the last piece, and can't wait for each other for ever.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import NamedTuple

from django.db import transaction
from django.utils import timezone

from inventory import availability, ledger
from inventory.models import Item, Reservation, ReservationLine
from inventory.rising import stock_rose

Asked = Iterable[tuple[int, int]]


class ShortLine(NamedTuple):
    item_id: int
    asked: int
    free: int
    short: int


class Shortage(Exception):
    """Nothing was promised. `lines` says for each item that is short what was asked, what is free, what is missing."""

    def __init__(self, lines: list[ShortLine]) -> None:
        self.lines = lines
        super().__init__("; ".join(f"item {x.item_id}: {x.asked} asked, {x.free} free" for x in lines))


class StillOut(ValueError):
    """A promise can't end while pieces are out with it: they would be counted as free though nobody has them."""

    def __init__(self, pieces: int) -> None:
        self.pieces = pieces
        super().__init__(f"reservation has {pieces} pieces out; count them back first")


def lines_summed(lines: Asked) -> dict[int, int]:
    """{item id: quantity}; an item that is asked for twice is asked for once, with both quantities."""
    asked: dict[int, int] = {}
    for item_id, quantity in lines:
        if isinstance(quantity, bool) or not isinstance(quantity, int) or quantity < 1:
            raise ValueError(f"lines: the quantity of item {item_id} must be a whole number above zero")
        asked[item_id] = asked.get(item_id, 0) + quantity
    return asked


def items_lock(*, item_ids: Iterable[int]) -> None:
    """Holds these items for the rest of the transaction. Only in key order: two that lock the same items in other
    orders wait for each other until the database kills one."""
    ids = set(item_ids)
    rows = Item.objects.select_for_update(no_key=True).filter(pk__in=ids).order_by("pk")
    if missing := ids - set(rows.values_list("pk", flat=True)):
        raise ValueError(f"lines: there is no item {min(missing)}")


def _check_free(
    asked: dict[int, int], starts: datetime, ends: datetime, now: datetime, besides: Reservation | None = None
) -> None:
    if not asked:
        return
    free = availability.free(asked, starts, ends, now=now, exclude=besides)
    short = [ShortLine(pk, q, free[pk], q - free[pk]) for pk, q in sorted(asked.items()) if q > free[pk]]
    if short:
        raise Shortage(short)


def _lines_write(reservation: Reservation, asked: dict[int, int], done: Collection[int] = ()) -> None:
    ReservationLine.objects.bulk_create(
        ReservationLine(
            reservation=reservation,
            item_id=item_id,
            quantity=quantity,
            starts=reservation.starts,
            ends=reservation.ends,
            counts=item_id not in done,
        )
        for item_id, quantity in sorted(asked.items())
    )


@transaction.atomic
def reservation_hold(
    *,
    lines: Asked,
    starts: datetime,
    ends: datetime,
    label: str,
    expires: datetime,
    now: datetime | None = None,
    waits: bool = False,
) -> Reservation:
    """All of it until `expires`, or nothing and a `Shortage`. One that `waits` for things of which none is free may
    hold nothing yet."""
    availability.check_span(starts, ends)
    availability.check_aware("expires", expires)
    asked = lines_summed(lines)
    if not asked and not waits:
        raise ValueError("lines must name at least one item")
    items_lock(item_ids=asked)
    # Without a clock given it is read under the lock: who waited for it must not go by an hour that is past.
    _check_free(asked, starts, ends, now or timezone.now())
    reservation = Reservation.objects.create(label=_label(label), starts=starts, ends=ends, expires=expires)
    _lines_write(reservation, asked)
    return reservation


def _label(label: str) -> str:
    if not label.strip() or len(label) > 120:
        raise ValueError("label must have 1 to 120 characters")
    return label.strip()


def _open(reservation: Reservation) -> Reservation:
    """The same object, locked and as the database has it now."""
    reservation.refresh_from_db(from_queryset=Reservation.objects.select_for_update(no_key=True))
    if reservation.state == Reservation.State.RELEASED:
        raise ValueError("reservation was released; make a new one")
    if reservation.state == Reservation.State.SETTLED:
        raise ValueError("reservation is counted back; make a new one")
    return reservation


def _lines_of(reservation: Reservation) -> dict[int, int]:
    return dict(reservation.lines.values_list("item_id", "quantity"))


def _counts(reservation: Reservation, now: datetime) -> bool:
    return reservation.state == Reservation.State.CONFIRMED or (
        reservation.expires is not None and reservation.expires > now
    )


@transaction.atomic
def reservation_confirm(*, reservation: Reservation, now: datetime | None = None) -> Reservation:
    """A hold that is alive is always confirmed. One that lapsed is promised anew, or raises `Shortage`."""
    _open(reservation)
    if reservation.state == Reservation.State.CONFIRMED:
        return reservation
    asked = _lines_of(reservation)
    items_lock(item_ids=asked)
    # Under the lock as well: a hold that lapses while we wait may have been promised to somebody else.
    now = now or timezone.now()
    if not _counts(reservation, now):
        _check_free(asked, reservation.starts, reservation.ends, now, reservation)
    reservation.state = Reservation.State.CONFIRMED
    reservation.save(update_fields=["state"])
    return reservation


@transaction.atomic
def reservation_release(*, reservation: Reservation) -> Reservation:
    """Its stock is free from now on. Its lines stay, to be read. Releasing twice is releasing once. Raises StillOut
    while something is out with it."""
    reservation.refresh_from_db(from_queryset=Reservation.objects.select_for_update(no_key=True))
    if reservation.state == Reservation.State.SETTLED:
        return reservation
    if reservation.begun and (out := ledger.out_with(reservation)):
        raise StillOut(sum(out.values()))
    reservation.state = Reservation.State.RELEASED
    reservation.save(update_fields=["state"])
    reservation.lines.update(counts=False)
    stock_rose(item_ids=_lines_of(reservation))
    return reservation


@transaction.atomic
def reservation_change(
    *,
    reservation: Reservation,
    lines: Asked,
    starts: datetime,
    ends: datetime,
    label: str | None = None,
    expires: datetime | None = None,
    now: datetime | None = None,
) -> Reservation:
    """Other lines, another span, at once; or a `Shortage`, and the old promise stays whole. To ask for no more of an
    item, no longer, never fails while the promise is alive. `expires` gives a hold a new end. What is counted back
    already stays over, unless more of it is asked for."""
    availability.check_span(starts, ends)
    asked = lines_summed(lines)
    new_label = _label(label) if label is not None else None
    if expires is not None:
        availability.check_aware("expires", expires)
    _open(reservation)
    before = _lines_of(reservation)
    items_lock(item_ids=asked.keys() | before.keys())
    if reservation.begun:
        _keep_taken(reservation, asked)
    now = now or timezone.now()
    within = _counts(reservation, now) and reservation.starts <= starts and ends <= reservation.ends
    grown = {pk: q for pk, q in asked.items() if not within or q > before.get(pk, 0)}
    _check_free(grown, starts, ends, now, reservation)
    same_span = (reservation.starts, reservation.ends) == (starts, ends)
    reservation.starts, reservation.ends = starts, ends
    reservation.label = new_label or reservation.label
    if expires is not None:
        reservation.expires, reservation.end_set = expires, now
    reservation.save(update_fields=["starts", "ends", "label", "expires", "end_set"])
    over = reservation.lines.filter(counts=False).values_list("item_id", "quantity")
    done = {pk for pk, quantity in over if asked.get(pk, 0) <= quantity}
    reservation.lines.all().delete()
    _lines_write(reservation, asked, done)
    stock_rose(item_ids=[pk for pk, n in before.items() if not same_span or n > asked.get(pk, 0)])
    return reservation


def _keep_taken(reservation: Reservation, asked: dict[int, int]) -> None:
    """What it used up is gone, and what is out with it has to come back, whether it still needs it or not."""
    moved = ledger.moved_for(reservation)
    lent = set(Item.objects.filter(pk__in=moved, returnable=True).values_list("pk", flat=True))
    for item_id, one in moved.items():
        if least := one.out if item_id in lent else one.taken:
            asked[item_id] = max(asked.get(item_id, 0), least)


@dataclass(frozen=True)
class ToBuy:
    """One line of a buy list, in whole packs. `order_by` is the last day on which an order still comes in time."""

    item_id: int
    name: str
    supplier: str
    short: int
    packs: int
    quantity: int
    cost: Decimal
    order_by: date
    too_late: bool


def packs_to_buy(
    lines: Iterable[ShortLine], *, needed_on: date, today: date, items: Mapping[int, Item] | None = None
) -> list[ToBuy]:
    """What to order so that nothing is short on `needed_on`; the most urgent first. Lead times are calendar days.
    `items` by their ids, if they are at hand."""
    short: dict[int, int] = {}
    for line in lines:
        if line.short < 1:
            raise ValueError(f"lines: item {line.item_id} is short of {line.short}, which is no shortage")
        short[line.item_id] = short.get(line.item_id, 0) + line.short
    items = Item.objects.in_bulk(short) if items is None else items
    if missing := short.keys() - items.keys():
        raise ValueError(f"lines: there is no item {min(missing)}")
    bought = [_to_buy(items[pk], quantity, needed_on, today) for pk, quantity in short.items()]
    return sorted(bought, key=lambda b: (b.order_by, b.name))


def _to_buy(item: Item, short: int, needed_on: date, today: date) -> ToBuy:
    packs = -(-short // item.pack_size)
    order_by = needed_on - timedelta(days=item.lead_days)
    return ToBuy(
        item_id=item.pk,
        name=item.name,
        supplier=item.supplier,
        short=short,
        packs=packs,
        quantity=packs * item.pack_size,
        cost=packs * item.pack_price,
        order_by=order_by,
        too_late=order_by < today,
    )
