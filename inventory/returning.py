"""What came back from an event, in what state; what did not; and when its promise is over."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from django.db import transaction
from django.db.models import Sum

from decor.studio.models import User
from inventory import ledger, picking
from inventory.ledger import Act, movement_write
from inventory.models import Item, Lot, Movement, Reservation, Sheet
from inventory.rising import stock_rose
from inventory.services import items_lock
from inventory.stocking import stock_lowered

K = Movement.Kind
CAME_BACK = (K.BACK, K.USED, K.BURST, K.THROWN, K.LOST, K.WORN)


@dataclass(frozen=True)
class Ways:
    """Pieces by what became of them: `back` in good order, `used` up as meant, `burst`, `thrown` away, `lost`."""

    back: int = 0
    used: int = 0
    burst: int = 0
    thrown: int = 0
    lost: int = 0

    def __post_init__(self) -> None:
        for name, quantity in vars(self).items():
            if quantity < 0:
                raise ValueError(f"{name} must not be below nought")

    @property
    def total(self) -> int:
        return self.back + self.used + self.burst + self.thrown + self.lost

    def gone(self) -> list[tuple[str, int]]:
        return [(K.USED, self.used), (K.BURST, self.burst), (K.THROWN, self.thrown), (K.LOST, self.lost)]


@transaction.atomic
def take_back(
    *,
    reservation: Reservation,
    item: Item,
    ways: Ways,
    done: bool = True,
    by: User | None = None,
    at: datetime | None = None,
) -> list[Movement]:
    """Counts back what is out of one item. With `done` that is all of it: what is still out then is lost (of a
    returnable) or used (of a consumable), and the promise of this item is over; the last one settles the reservation.
    Sheets and whatever else wears out lose a use. Raises ValueError for more than is out."""
    row = _open(reservation, item)
    out = ledger.out_by_lot(reservation, item.pk)
    away = sum(out.values())
    if ways.total > away:
        raise ValueError(f"ways: {ways.total} are more than the {away} that are out")
    act = Act(by, at)
    lines = _counted(reservation, item, out, ways, act)
    if done:
        if rest := away - ways.total:
            lost = Ways(lost=rest) if item.returnable else Ways(used=rest)
            lines += _counted(reservation, item, ledger.out_by_lot(reservation, item.pk), lost, act)
        _line_over(row, item)
        stock_rose(item_ids=[item.pk])
    return lines


@transaction.atomic
def count_back(
    *,
    reservation: Reservation,
    item: Item,
    ways: Ways,
    taken: bool = False,
    by: User | None = None,
    at: datetime | None = None,
) -> list[Movement]:
    """All that is out of one item, of which only what went otherwise than meant is said: the rest of a consumable is
    used, of a returnable back in good order. `taken`: what nobody ticked as picked went out as planned."""
    _open(reservation, item)
    line = reservation.lines.filter(item=item, counts=True).first()
    if line is None:
        raise ValueError("item is counted back already, or it was never promised to this reservation")
    if taken:
        _pick_the_rest(reservation, item, by, at)
    rest = ledger.out_with(reservation).get(item.pk, 0) - ways.total
    if rest < 0:
        raise ValueError(f"ways: {ways.total} are more than the {rest + ways.total} that are out")
    meant = replace(ways, back=ways.back + rest) if item.returnable else replace(ways, used=ways.used + rest)
    return take_back(reservation=reservation, item=item, ways=meant, by=by, at=at)


@transaction.atomic
def count_back_undo(
    *, reservation: Reservation, item: Item, by: User | None = None, at: datetime | None = None
) -> list[Movement]:
    """What was counted back by mistake is out again, by lines the other way round. Raises ValueError when it has
    been taken for something else since, and stocking.PromisesBroken when it is promised elsewhere by now."""
    row = Reservation.objects.select_for_update(no_key=True).get(pk=reservation.pk)
    items_lock(item_ids=[item.pk])
    line = row.lines.filter(item=item, counts=False).first()
    if row.state == Reservation.State.RELEASED or line is None:
        raise ValueError("item is not counted back, so there is nothing to undo")
    with stock_lowered(item_ids=[item.pk], even_if_short=False):
        written = _turned_round(row, item, Act(by, at, "counted back by mistake"))
        row.lines.filter(pk=line.pk).update(counts=True)
        if row.state == Reservation.State.SETTLED:
            row.state = Reservation.State.CONFIRMED
            row.save(update_fields=["state"])
    return written


def _turned_round(row: Reservation, item: Item, act: Act) -> list[Movement]:
    mine = Movement.objects.filter(reservation=row, item=item, kind__in=CAME_BACK).order_by()
    nets = list(mine.values_list("lot_id", "kind").annotate(in_store=Sum("store"), away=Sum("out")))
    here = ledger.on_hand_by_lot(item.pk)
    if any(in_store > here.get(lot, 0) for lot, _, in_store, _ in nets):
        raise ValueError("item was taken for something else since; count the shelf instead")
    return [
        movement_write(
            lot=Lot(pk=lot, item_id=item.pk), kind=kind, store=-in_store, out=-away, act=act, reservation=row
        )
        for lot, kind, in_store, away in nets
        if in_store or away
    ]


def _open(reservation: Reservation, item: Item) -> Reservation:
    # First the reservation, then the item: a promise that is changed meanwhile locks them in the same order.
    row = Reservation.objects.select_for_update(no_key=True).get(pk=reservation.pk)
    items_lock(item_ids=[item.pk])
    if row.state not in ledger.OPEN:
        raise ValueError(f"reservation is {row.get_state_display().lower()}, so nothing is counted back for it")
    return row


def _counted(reservation: Reservation, item: Item, out: Mapping[int, int], ways: Ways, act: Act) -> list[Movement]:
    left = dict(out)
    lines: list[Movement] = []
    for kind, quantity in ways.gone():
        for lot_id, taken in _take(left, quantity):
            lot = Lot(pk=lot_id, item_id=item.pk)
            lines.append(movement_write(lot=lot, kind=kind, out=-taken, act=act, reservation=reservation))
    for lot_id, taken in _take(left, ways.back):
        lines += _back(reservation, item, Lot.objects.get(pk=lot_id), taken, act)
    return lines


def _take(left: dict[int, int], quantity: int) -> list[tuple[int, int]]:
    shares = []
    for lot_id in sorted(left):
        taken = min(quantity, left[lot_id])
        if taken > 0:
            left[lot_id] -= taken
            quantity -= taken
            shares.append((lot_id, taken))
    return shares


def _back(reservation: Reservation, item: Item, lot: Lot, quantity: int, act: Act) -> list[Movement]:
    """Into its lot again; what wears out into the lot of those with a use less, or nowhere after its last."""
    uses = _uses(item, lot)
    if uses is None:
        return [movement_write(lot=lot, kind=K.BACK, store=quantity, out=-quantity, act=act, reservation=reservation)]
    if uses <= 1:
        return [movement_write(lot=lot, kind=K.WORN, out=-quantity, act=act, reservation=reservation)]
    worn = _split(lot, uses - 1)
    return [
        movement_write(lot=lot, kind=K.BACK, out=-quantity, act=act, reservation=reservation),
        movement_write(lot=worn, kind=K.BACK, store=quantity, act=act, reservation=reservation),
    ]


def _uses(item: Item, lot: Lot) -> int | None:
    if not item.returnable or item.kind != Item.Kind.SHEET:
        return None
    if lot.uses_left is not None:
        return lot.uses_left
    uses: int = Sheet.objects.values_list("uses", flat=True).get(pk=item.pk)
    return uses if uses > 1 else None


def _split(lot: Lot, uses_left: int) -> Lot:
    first = lot.split_from or lot
    made, _ = Lot.objects.get_or_create(
        split_from=first,
        uses_left=uses_left,
        defaults={
            "item_id": first.item_id,
            "quantity": 0,
            "arrives_on": first.arrives_on,
            "unit_cost": first.unit_cost,
            "note": first.note,
            "batch": first.batch,
        },
    )
    return made


def _line_over(reservation: Reservation, item: Item) -> None:
    reservation.lines.filter(item=item).update(counts=False)
    if not reservation.lines.filter(counts=True).exists():
        reservation.state = Reservation.State.SETTLED
        reservation.save(update_fields=["state"])


@transaction.atomic
def settle_as_planned(*, reservation: Reservation, by: User | None = None, at: datetime | None = None) -> Reservation:
    """For an event that nobody ticked: all that was promised to it and is there went out; consumables are used,
    returnables came back in good order. What the ledger lacks is left out: nobody can say that it was taken. Raises
    ValueError for one that is not confirmed."""
    row = Reservation.objects.select_for_update(no_key=True).get(pk=reservation.pk)
    if row.state != Reservation.State.CONFIRMED:
        raise ValueError("reservation is not confirmed, so nothing of it can be settled")
    items = list(Item.objects.filter(reserved__reservation=reservation, reserved__counts=True).order_by("pk"))
    items_lock(item_ids=[item.pk for item in items])
    for item in items:
        _pick_the_rest(reservation, item, by, at)
        away = ledger.out_with(reservation).get(item.pk, 0)
        ways = Ways(back=away) if item.returnable else Ways(used=away)
        take_back(reservation=reservation, item=item, ways=ways, by=by, at=at)
    reservation.refresh_from_db()
    return reservation


def _pick_the_rest(reservation: Reservation, item: Item, by: User | None, at: datetime | None) -> None:
    """From the lots that ought to serve it, as any other pick."""
    line = reservation.lines.filter(item=item, counts=True).first()
    if line is None:
        raise ValueError("item is not promised to this reservation any more")
    gone = ledger.moved([item.pk], [reservation.pk]).get((reservation.pk, item.pk))
    picked = gone.picked if gone else 0
    rest = min(line.quantity - picked, ledger.on_hand([item.pk])[item.pk])
    if rest > 0:
        picking.picked_in_all(reservation=reservation, item=item, total=picked + rest, by=by, at=at)
