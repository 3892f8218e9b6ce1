"""What is taken off the store for an event. The store is real: what somebody holds in the hand is written down, and
what a promise then lacks shows at once."""

from datetime import datetime

from django.db import transaction
from django.utils import timezone

from decor.studio.models import User
from inventory import allocation, counting, ledger
from inventory.ledger import Act, movement_write
from inventory.models import Item, Lot, Movement, Reservation, ReservationLine
from inventory.services import items_lock


class NotThere(ValueError):
    """The ledger knows of fewer pieces than somebody says to have taken. `there` is what it knows of."""

    def __init__(self, there: int) -> None:
        self.there = there
        super().__init__(f"quantity: the ledger says that {there} are here")


@transaction.atomic
def pick(
    *,
    reservation: Reservation,
    item: Item,
    quantity: int,
    lot: Lot | None = None,
    by: User | None = None,
    at: datetime | None = None,
) -> list[Movement]:
    """So many pieces leave the store for this event, from `lot` or from those that `allocation` would take. Raises
    NotThere when the ledger has fewer, and ValueError for more than is still to be picked."""
    line = _line(reservation, item)
    rest = _rest(reservation, line)
    if not 0 < quantity <= rest:
        raise ValueError(f"quantity must be from 1 to {rest}, what is still to be picked")
    shares = [(lot.pk, quantity)] if lot else _shares(reservation, item, quantity)
    store = ledger.on_hand_by_lot(item.pk)
    there = sum(store.get(lot_id, 0) for lot_id, _ in shares)
    if sum(amount for _, amount in shares) < quantity or any(store.get(pk, 0) < n for pk, n in shares):
        raise NotThere(there if lot else sum(store.values()))
    return _write(reservation, item, shares, Act(by, at))


def _line(reservation: Reservation, item: Item) -> ReservationLine:
    """Locks the reservation, then the item, as every promise does, and sees that it still counts."""
    row = Reservation.objects.select_for_update(no_key=True).get(pk=reservation.pk)
    items_lock(item_ids=[item.pk])
    # A hold may lapse with what was picked for it still out, and that would be promised to others.
    if row.state != Reservation.State.CONFIRMED:
        raise ValueError(f"reservation is {row.get_state_display().lower()}, so nothing is picked for it")
    line = row.lines.filter(item=item, counts=True).first()
    if line is None:
        raise ValueError("item is not promised to this reservation, or it is counted back already")
    return line


def _rest(reservation: Reservation, line: ReservationLine) -> int:
    gone = ledger.moved([line.item_id], [reservation.pk]).get((reservation.pk, line.item_id))
    return line.quantity - (gone.picked if gone else 0)


def _shares(reservation: Reservation, item: Item, quantity: int) -> list[tuple[int, int]]:
    planned = allocation.lots_for(reservation=reservation, now=timezone.now(), item_ids={item.pk})[item.pk]
    shares, rest = [], quantity
    for share in planned:
        taken = min(rest, share.quantity)
        if taken:
            shares.append((share.lot_id, taken))
            rest -= taken
    return shares


def _write(reservation: Reservation, item: Item, shares: list[tuple[int, int]], act: Act) -> list[Movement]:
    Reservation.objects.filter(pk=reservation.pk, begun=False).update(begun=True)
    reservation.begun = True
    kind = Movement.Kind.PICKED
    return [
        movement_write(
            lot=Lot(pk=lot_id, item_id=item.pk), kind=kind, store=-n, out=n, act=act, reservation=reservation
        )
        for lot_id, n in shares
    ]


@transaction.atomic
def put_back(
    *, reservation: Reservation, item: Item, quantity: int, by: User | None = None, at: datetime | None = None
) -> list[Movement]:
    """A pick that was a mistake: so many go back to the lots from which they came, the last first, as unused."""
    _line(reservation, item)
    out = ledger.out_by_lot(reservation, item.pk)
    if not 0 < quantity <= sum(out.values()):
        raise ValueError(f"quantity must be from 1 to {sum(out.values())}, what is out")
    shares, rest = [], quantity
    for lot_id in sorted(out, reverse=True):
        taken = min(rest, out[lot_id])
        if taken:
            shares.append((lot_id, -taken))
            rest -= taken
    return _write(reservation, item, shares, Act(by, at))


@transaction.atomic
def picked_in_all(
    *,
    reservation: Reservation,
    item: Item,
    total: int,
    no_more: bool = False,
    by: User | None = None,
    at: datetime | None = None,
) -> None:
    """So many are picked of this item in all, whoever picked them: said twice, or by two people, it is so once. More
    than the ledger knows of were found; with `no_more` there are none left. Raises ValueError for more than is
    promised."""
    line = _line(reservation, item)
    picked = line.quantity - _rest(reservation, line)
    if not 0 <= total <= line.quantity:
        raise ValueError(f"total must be from 0 to {line.quantity}, what is promised")
    if total < picked:
        put_back(reservation=reservation, item=item, quantity=picked - total, by=by, at=at)
    elif total > picked:
        here = ledger.on_hand([item.pk])[item.pk]
        if here < total - picked:
            why = f"found when picking for {reservation.label}"
            # So many more than the ledger knew of, then as now: what others took since, they took as well.
            found = counting.said_at(item, at) + total - picked - here
            counting.count(item=item, found=found, by=by, why=why, at=at)
        _pick_from_any(reservation, item, total - picked, by, at)
    if no_more:
        pick_short(reservation=reservation, item=item, by=by, at=at)


def _pick_from_any(reservation: Reservation, item: Item, quantity: int, by: User | None, at: datetime | None) -> None:
    """From the lots that ought to serve it, then from whatever else is there: it is in somebody's hands already."""
    try:
        pick(reservation=reservation, item=item, quantity=quantity, by=by, at=at)
    except NotThere:
        shares, rest = [], quantity
        for lot_id, there in sorted(ledger.on_hand_by_lot(item.pk).items()):
            taken = min(rest, there)
            if taken > 0:
                shares.append((lot_id, taken))
                rest -= taken
        _write(reservation, item, shares, Act(by, at))


@transaction.atomic
def pick_short(
    *, reservation: Reservation, item: Item, by: User | None = None, at: datetime | None = None
) -> list[Movement]:
    """No more is there, whatever the ledger says: it is set to none, so that what lacks shows now and not on the day.
    Gives the corrections, none where the ledger knew."""
    _line(reservation, item)
    why = f"none left when picking for {reservation.label}"
    return counting.count(item=item, found=0, by=by, why=why, at=at, even_if_short=True)
