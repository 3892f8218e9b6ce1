"""What the studio has: its items, and the lots in which they come."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from inventory import availability
from inventory.models import Item, Latex, Lot, Reservation, ReservationLine
from inventory.services import items_lock


@dataclass(frozen=True)
class Broken:
    """A promise that would lack `short` pieces."""

    label: str
    starts: datetime
    ends: datetime
    short: int
    on_hold: bool


class PromisesBroken(Exception):
    """Nothing was changed, because these promises would be short."""

    def __init__(self, promises: list[Broken]) -> None:
        self.promises = promises
        super().__init__("; ".join(f"{p.label}: {p.short} short" for p in promises))


def live_lines(*, item: Item, now: datetime) -> list[ReservationLine]:
    """Promises of this item that are not over, the next one first."""
    lines = ReservationLine.objects.filter(availability.live(now), item=item, ends__gt=now)
    return list(lines.select_related("reservation").order_by("starts", "pk"))


def lacking_by_line(*, item_id: int, now: datetime) -> dict[int, int]:
    """{line id: what it lacks}, only lines that lack something and are not over."""
    return lacking_of(availability.stock_of([item_id], now=now, starts=now)[item_id], now)


def lacking_of(stock: availability.Stock, now: datetime) -> dict[int, int]:
    pairs = zip(stock.demands, stock.lacking(), strict=True)
    return {d.line_id: lacking for d, lacking in pairs if lacking and d.ends > now}


def latex_name(*, nominal_in: Decimal, shape: str, colour: str, finish: str) -> str:
    """5 in sky; 11 in pearl white; 6 in double-ended red."""
    size = f"{nominal_in.normalize():f} in"
    shape = "" if shape == Latex.Shape.ROUND else shape
    finish = "" if finish == Latex.Finish.PLAIN else finish
    return " ".join(word for word in (size, shape, finish, colour.strip()) if word)


@transaction.atomic
def item_save(*, item: Item) -> Item:
    """Saves a new or changed item. Whether it comes back can't change under a promise: a span that was promised
    would become a lasting loss, or the other way round."""
    if item.pk:
        items_lock(item_ids=[item.pk])
        lines = live_lines(item=item, now=timezone.now())
        if lines and Item.objects.filter(pk=item.pk).exclude(returnable=item.returnable).exists():
            raise PromisesBroken([_broken(line, line.quantity) for line in lines])
    item.save()
    return item


@transaction.atomic
def item_retire(*, item: Item) -> Item:
    """No longer offered. Refused while it is promised, for its promises would be forgotten."""
    items_lock(item_ids=[item.pk])
    lines = live_lines(item=item, now=timezone.now())
    if lines:
        raise PromisesBroken([_broken(line, line.quantity) for line in lines])
    Item.objects.filter(pk=item.pk).update(active=False)
    item.active = False
    return item


def item_restore(*, item: Item) -> Item:
    Item.objects.filter(pk=item.pk).update(active=True)
    item.active = True
    return item


def lot_add(
    *,
    item: Item,
    quantity: int,
    arrives_on: date,
    received: bool = True,
    use_by: date | None = None,
    unit_cost: Decimal | None = None,
    note: str = "",
) -> Lot:
    """More stock never breaks a promise, so nothing is locked. The cost is the item's own unless given."""
    cost = round(item.unit_cost, 4) if unit_cost is None else unit_cost
    lot = Lot(
        item=Item(pk=item.pk),
        quantity=quantity,
        arrives_on=arrives_on,
        received=received,
        use_by=use_by,
        unit_cost=cost,
        note=note,
    )
    _check_lot(lot)
    lot.save()
    return lot


def _check_lot(lot: Lot) -> None:
    if lot.quantity < 1:
        raise ValueError("quantity must be above zero")
    if lot.use_by and lot.use_by < lot.arrives_on:
        raise ValueError("use_by must not come before arrives_on")
    if lot.received and lot.arrives_on > timezone.localdate():
        raise ValueError("arrives_on must not be in the future when received")


def lot_receive(*, lot: Lot, on: date, quantity: int | None = None, even_if_short: bool = False) -> Lot:
    """The order is here: on that day, and that many when not all of it came."""
    lot.received, lot.arrives_on = True, on
    lot.quantity = lot.quantity if quantity is None else quantity
    return lot_change(lot=lot, even_if_short=even_if_short)


def lot_change(*, lot: Lot, even_if_short: bool = False) -> Lot:
    """Saves a changed lot. Raises `PromisesBroken` when promises that were whole would be short, unless told that
    it is so: what is lost is lost, and the count must say so. ValueError when fewer than are used already."""
    _check_lot(lot)
    used = lot_used(lot=lot, now=timezone.now())
    if lot.quantity < used:
        raise ValueError(f"quantity must not be below {used}: so many are used already")
    return _lot_write(lot, lot.save, even_if_short)


def lot_remove(*, lot: Lot, even_if_short: bool = False) -> int:
    """Takes what is left of a lot out of stock, and gives how many that was. What past events used stays on record:
    without it they would seem to have used other lots."""
    used = lot_used(lot=lot, now=timezone.now())
    left = lot.quantity - used
    if used:
        lot.quantity = used
        _lot_write(lot, lot.save, even_if_short)
    else:
        _lot_write(lot, lot.delete, even_if_short)
    return left


def lot_used(*, lot: Lot, now: datetime) -> int:
    """How many of it, as the database has it, past and present events used up."""
    stock = availability.stock_of([lot.item_id], now=now, starts=now)[lot.item_id]
    for supply, left in zip(stock.supplies, stock.left(now), strict=True):
        if supply.lot_id == lot.pk:
            return supply.quantity - left
    return 0


def _lot_write(lot: Lot, write: Callable[[], object], even_if_short: bool) -> Lot:  # noqa: FBT001
    with transaction.atomic():
        items_lock(item_ids=[lot.item_id])
        now = timezone.now()
        before = lacking_by_line(item_id=lot.item_id, now=now)
        write()
        after = lacking_by_line(item_id=lot.item_id, now=now)
        worse = {pk: lacking for pk, lacking in after.items() if lacking > before.get(pk, 0)}
        if worse and not even_if_short:
            lines = ReservationLine.objects.filter(pk__in=worse).select_related("reservation").order_by("starts")
            # Raised inside the transaction: what was written is undone.
            raise PromisesBroken([_broken(line, worse[line.pk]) for line in lines])
    return lot


def _broken(line: ReservationLine, short: int) -> Broken:
    held = line.reservation.state == Reservation.State.HOLD
    return Broken(line.reservation.label, line.starts, line.ends, short, held)


def items_found(*, kind: str = "", words: str = "") -> list[Item]:
    """Active items of a kind, or of all, whose name, supplier or bin has every one of the words."""
    items = Item.objects.filter(active=True)
    if kind:
        items = items.filter(kind=kind)
    for word in words.split():
        items = items.filter(Q(name__icontains=word) | Q(supplier__icontains=word) | Q(bin__icontains=word))
    return list(items.select_related("latex", "sheet", "cylinder"))
