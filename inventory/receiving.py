"""What came of an order: it goes into the ledger, and the rest is still expected or written off."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from inventory import availability, stocking, unpromised
from inventory.ledger import NOBODY, Act, movement_write
from inventory.models import Lot, Movement, Order, Reservation, ReservationLine
from inventory.ordering import NotNow, expected_lots, order_locked
from inventory.rising import stock_rose
from inventory.services import items_lock
from inventory.stocking import stock_lowered
from inventory.unpromised import NOBODY_WAITED, Served


@dataclass(frozen=True)
class Came:
    """Of one expected lot: how many pieces came. More than were ordered is what it is."""

    lot_id: int
    quantity: int
    use_by: date | None = None
    batch: str = ""
    unit_cost: Decimal | None = None

    def __post_init__(self) -> None:
        if isinstance(self.quantity, bool) or self.quantity < 0:
            raise ValueError("quantity must not be below nought")


@dataclass(frozen=True)
class Receipt:
    """`whole` are events that lacked something of this order and now have all that is promised to them lying in the
    store; `still_short` those that lack less than before, or as much. `waited` are events that needed something of it
    beyond their promise."""

    pieces: int
    rest: int
    whole: tuple[str, ...] = ()
    still_short: tuple[str, ...] = ()
    waited: Served = NOBODY_WAITED


@transaction.atomic
def order_receive(
    *,
    order: Order,
    came: Sequence[Came],
    on: date,
    rest_due: date | None,
    even_if_short: bool = False,
    seen: str = "",
    act: Act = NOBODY,
) -> Receipt:
    """`rest_due` is the new day of all that did not come, None to expect it no longer. The order's row is locked
    first, then the items, so that two who receive the same parcel write it once: the second raises NotNow.
    PromisesBroken where promises counted on what does not come."""
    if on > timezone.localdate():
        raise ValueError("on must not be in the future")
    if rest_due is not None and rest_due < timezone.localdate():
        raise ValueError("rest_due must not be past")
    order_locked(order, Order.State.SENT, seen=seen)
    lots = {lot.pk: lot for lot in expected_lots(order)}
    if unknown := {one.lot_id for one in came} - lots.keys():
        raise NotNow(f"Lot {min(unknown)} of {order.number} came already, or is expected no longer.")
    items = {lot.item_id for lot in lots.values()}
    items_lock(item_ids=items)
    lacked, waited = _lacking_here(items), unpromised.lacking_events(items, now=timezone.now())
    by_lot = {one.lot_id: one for one in came}
    with stock_lowered(item_ids=items, even_if_short=even_if_short):
        rests = [_receive(lot, by_lot.get(lot.pk), on, rest_due, act) for lot in lots.values()]
        rest = sum(rests) if rest_due is not None else 0
        if rest:
            order.due_on = rest_due
        else:
            order.state = Order.State.DONE
        order.save(update_fields=["due_on", "state"])
    stock_rose(item_ids=items)
    whole, still = _events(lacked)
    waited_for = unpromised.served(waited, items, now=timezone.now())
    return Receipt(sum(one.quantity for one in came), rest, whole, still, waited_for)


def _receive(lot: Lot, came: Came | None, on: date, rest_due: date | None, act: Act) -> int:
    """What is still expected of this lot."""
    quantity = came.quantity if came else 0
    rest = max(0, lot.quantity - quantity)
    if came and quantity:
        if rest and rest_due is not None:
            _expect(lot, rest, rest_due)
        lot.quantity, lot.received, lot.arrives_on = quantity, True, on
        lot.use_by, lot.batch = came.use_by, came.batch[:40]
        lot.unit_cost = lot.unit_cost if came.unit_cost is None else came.unit_cost
        lot.save()
        movement_write(lot=lot, kind=Movement.Kind.RECEIVED, store=quantity, act=act)
    elif rest_due is None:
        lot.delete()
    else:
        Lot.objects.filter(pk=lot.pk).update(arrives_on=rest_due)
    return rest


def _expect(lot: Lot, quantity: int, on: date) -> None:
    Lot.objects.create(
        item_id=lot.item_id,
        quantity=quantity,
        arrives_on=on,
        received=False,
        unit_cost=lot.unit_cost,
        note=lot.note,
        order_line_id=lot.order_line_id,
    )


def _lacking_here(item_ids: Iterable[int]) -> dict[int, int]:
    """{line id: what it lacks} of what lies here, as if nothing were on order."""
    now = timezone.now()
    found: dict[int, int] = {}
    ids = list(item_ids)
    for stock in (availability.stock_of(ids, now=now, starts=now) if ids else {}).values():
        stock.supplies = [s for s in stock.supplies if not s.expected]
        found |= stocking.lacking_of(stock, now)
    return found


def _events(lacked: dict[int, int]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Of the events that lacked something before: which are whole now, and which still lack something of anything."""
    promises = set(ReservationLine.objects.filter(pk__in=lacked).values_list("reservation_id", flat=True))
    lines = dict(ReservationLine.objects.filter(reservation__in=promises).values_list("pk", "reservation_id"))
    items = set(ReservationLine.objects.filter(reservation__in=promises).values_list("item_id", flat=True))
    short = {lines[line] for line in _lacking_here(items) if line in lines}
    rows = list(Reservation.objects.filter(pk__in=promises).order_by("starts", "pk").values_list("pk", "label"))
    whole = tuple(label for pk, label in rows if pk not in short)
    return whole, tuple(label for pk, label in rows if pk in short)
