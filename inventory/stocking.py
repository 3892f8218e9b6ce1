"""What the studio has: its items, and the lots in which they come."""

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from inventory import availability, ledger
from inventory.ledger import NOBODY, Act, movement_write
from inventory.models import Item, Latex, Lot, Movement, Reservation, ReservationLine
from inventory.places import places_keep
from inventory.rising import stock_rose
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


def lacking_of(stock: availability.Stock, now: datetime, *, shared: bool = False) -> dict[int, int]:
    coming = {d.line_id for d in stock.promised if d.ends > now}
    return {line: lacking for line, lacking in stock.lacking(shared=shared).items() if line in coming}


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
    places_keep(item)
    item.save()
    # It may serve for something else than before, or stand more uses.
    stock_rose(item_ids=[item.pk])
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


@transaction.atomic
def item_restore(*, item: Item) -> Item:
    Item.objects.filter(pk=item.pk).update(active=True)
    stock_rose(item_ids=[item.pk])
    item.active = True
    return item


@transaction.atomic
def lot_add(
    *,
    item: Item,
    quantity: int,
    arrives_on: date,
    received: bool = True,
    use_by: date | None = None,
    unit_cost: Decimal | None = None,
    note: str = "",
    batch: str = "",
    uses_left: int | None = None,
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
        batch=batch,
        uses_left=uses_left,
    )
    _check_lot(lot)
    lot.save()
    stock_rose(item_ids=[item.pk])
    return lot


def _check_lot(lot: Lot) -> None:
    if lot.quantity < 1:
        raise ValueError("quantity must be above zero")
    if lot.use_by and lot.use_by < lot.arrives_on:
        raise ValueError("use_by must not come before arrives_on")
    if lot.received and lot.arrives_on > timezone.localdate():
        raise ValueError("arrives_on must not be in the future when received")


def lot_receive(
    *, lot: Lot, on: date, quantity: int | None = None, even_if_short: bool = False, act: Act = NOBODY
) -> Lot:
    """The order is here: on that day, and that many when not all of it came."""
    lot.received, lot.arrives_on = True, on
    lot.quantity = lot.quantity if quantity is None else quantity
    _check_lot(lot)

    def write() -> None:
        # Two who receive it at once: the second finds it received.
        if not Lot.objects.filter(pk=lot.pk, received=False).update(received=True):
            raise ValueError("lot was received already")
        lot.save()
        movement_write(lot=lot, kind=Movement.Kind.RECEIVED, store=lot.quantity, act=act)
        stock_rose(item_ids=[lot.item_id])

    return _lot_write(lot, write, even_if_short)


def lot_change(*, lot: Lot, even_if_short: bool = False, act: Act = NOBODY) -> Lot:
    """Saves a changed lot; what it differs in quantity goes into the ledger as a correction. Raises `PromisesBroken`
    when promises that were whole would be short, unless told that it is so: what is lost is lost, and the count must
    say so. ValueError when fewer than are used already."""
    _check_lot(lot)

    def write() -> None:
        # Under the lock: what is picked while we wait for it is used as well.
        before = _as_kept(lot)
        used = _gone(before)
        if lot.quantity < used:
            raise ValueError(f"quantity must not be below {used}: so many are used already")
        lot.save()
        if lot.received and not before.received:
            movement_write(lot=lot, kind=Movement.Kind.RECEIVED, store=lot.quantity, act=act)
        elif lot.received and lot.quantity != before.quantity:
            movement_write(lot=lot, kind=Movement.Kind.CORRECTED, store=lot.quantity - before.quantity, act=act)
        elif before.received and not lot.received:
            raise ValueError("received must stay: what came in is in the ledger; take it away and note the order anew")
        # More of it, sooner, or for longer; where it is none of these nobody is served, and no harm is done.
        stock_rose(item_ids=[lot.item_id])

    return _lot_write(lot, write, even_if_short)


def lot_remove(*, lot: Lot, even_if_short: bool = False, act: Act = NOBODY) -> int:
    """Takes what is left of a lot out of stock, and gives how many that was. What past events used stays on record:
    without it they would seem to have used other lots. An order that did not come is forgotten."""
    left = lot.quantity

    def write() -> None:
        nonlocal left
        before = _as_kept(lot)
        if before.received != lot.received:
            raise ValueError("received must be as it was: it came in meanwhile")
        if not before.received:
            lot.delete()
            return
        there = ledger.on_hand_by_lot(lot.item_id).get(lot.pk, 0)
        used = lot_used(lot=before, now=timezone.now())
        # Of what the ledger says is here, some went to events that are over or under way and not counted back.
        left = max(0, there - max(0, used - (before.quantity - there)))
        if left:
            movement_write(lot=before, kind=Movement.Kind.THROWN, store=-left, act=act)

    _lot_write(lot, write, even_if_short)
    return left


def _as_kept(lot: Lot) -> Lot:
    found = Lot.objects.filter(pk=lot.pk).first()
    if found is None:
        raise ValueError("lot is no longer in the books")
    return found


def _gone(lot: Lot) -> int:
    """How many of it are not in the store any more, or went to events that nobody counted back: no correction can take
    these away once more."""
    if not lot.received:
        return 0
    there = ledger.on_hand_by_lot(lot.item_id).get(lot.pk, 0)
    return max(lot_used(lot=lot, now=timezone.now()), lot.quantity - there)


def lot_used(*, lot: Lot, now: datetime) -> int:
    """How many of it, as the database has it, past and present events used up or have with them."""
    if not lot.received:
        return 0
    stock = availability.stock_of([lot.item_id], now=now, starts=now)[lot.item_id]
    for supply, left in zip(stock.supplies, stock.left(now), strict=True):
        if supply.lot_id == lot.pk:
            return lot.quantity - left
    return lot.quantity


def _lot_write(lot: Lot, write: Callable[[], object], even_if_short: bool) -> Lot:  # noqa: FBT001
    with stock_lowered(item_ids=[lot.item_id], even_if_short=even_if_short):
        write()
    return lot


@contextmanager
def stock_lowered(*, item_ids: Iterable[int], even_if_short: bool) -> Iterator[None]:
    """One transaction around what may leave promises short. Raises `PromisesBroken`, and then nothing was written,
    unless told that it is so."""
    ids = list(item_ids)
    with transaction.atomic():
        items_lock(item_ids=ids)
        now = timezone.now()
        _, before = _lacking(ids, now)
        yield
        own, after = _lacking(ids, now)
        # Two that share the last piece lack one each; without it they still lack one each, and yet one more.
        worse = [line for line, lacking in after.items() if lacking > before.get(line, 0)]
        if worse and not even_if_short:
            lines = ReservationLine.objects.filter(pk__in=worse).select_related("reservation").order_by("starts")
            # Raised inside the transaction: what was written is undone.
            raise PromisesBroken([_broken(line, own[line.pk]) for line in lines])


def _lacking(item_ids: list[int], now: datetime) -> tuple[dict[int, int], dict[int, int]]:
    """What each line lacks, and what it lacks with those that share its worst moment."""
    own: dict[int, int] = {}
    shared: dict[int, int] = {}
    for stock in availability.stock_of(item_ids, now=now, starts=now).values():
        mine = lacking_of(stock, now)
        own |= mine
        shared |= lacking_of(stock, now, shared=True) if stock.returnable else mine
    return own, shared


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
    return list(items.select_related("latex", "sheet", "hardware", "cylinder", "foil"))
