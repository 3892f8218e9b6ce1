"""What was counted in the store, and how the ledger follows."""

from datetime import datetime

from django.db import transaction
from django.db.models import F, Sum
from django.utils import timezone

from decor.studio.models import User
from inventory import ledger
from inventory.ledger import Act, movement_write
from inventory.models import Count, Item, Lot, Movement
from inventory.rising import stock_rose
from inventory.services import items_lock
from inventory.stocking import stock_lowered


def count(
    *,
    item: Item,
    found: int,
    by: User | None = None,
    why: str = "",
    at: datetime | None = None,
    even_if_short: bool = False,
) -> list[Movement]:
    """So many pieces lay in the store at that moment. What the ledger said then is compared, so that whatever was
    moved since counts as well. Fewer are taken off the oldest lots; more are added to the youngest. Raises
    stocking.PromisesBroken when promises that were whole would be short, unless told that it is so."""
    if found < 0:
        raise ValueError("found must not be below nought")
    moment = at or timezone.now()
    act = Act(by, moment, why)
    with stock_lowered(item_ids=[item.pk], even_if_short=even_if_short):
        said = said_at(item, at)
        Count.objects.create(item_id=item.pk, at=moment, by=by, found=found, said=said, why=why[:200])
        return _write(item, found - said, act, Movement.Kind.COUNTED)


def said_at(item: Item, at: datetime | None) -> int:
    """What lay in the store then, by the ledger as it is known now; without a moment, now."""
    lines = Movement.objects.filter(item=item).order_by()
    if at is not None:
        lines = lines.filter(at__lte=at)
    said: int = lines.aggregate(said=Sum("store", default=0))["said"]
    return said


@transaction.atomic
def told_late(*, item: Item, at: datetime, by: User | None = None) -> list[Movement]:
    """After something of that moment was written: where the shelf was counted since, the counter saw what it did, and
    without this it would count twice. The newest count stays what was found."""
    items_lock(item_ids=[item.pk])
    newest = Count.objects.filter(item=item).order_by("-at", "-pk").first()
    # A count of the very same moment is the one by which what a tick found was first written down: it came before.
    if newest is None or newest.at <= at:
        return []
    change = newest.found - said_at(item, newest.at)
    return _write(item, change, Act(by, newest.at, "told after the count that saw it"), Movement.Kind.COUNTED)


def correct(
    *,
    item: Item,
    change: int,
    why: str,
    by: User | None = None,
    at: datetime | None = None,
    even_if_short: bool = False,
) -> list[Movement]:
    """Another line for one that was wrong: nothing in the ledger is ever changed. Raises PromisesBroken as `count`
    does, and ValueError that names the argument."""
    if not change:
        raise ValueError("change must not be nought")
    if not why.strip():
        raise ValueError("why must say what was wrong")
    with stock_lowered(item_ids=[item.pk], even_if_short=even_if_short):
        here = said_at(item, None)
        if here + change < 0:
            raise ValueError(f"change must not take more than the {here} that are here")
        return _write(item, change, Act(by, at, why.strip()), Movement.Kind.CORRECTED)


def _write(item: Item, change: int, act: Act, kind: str) -> list[Movement]:
    if change < 0:
        return _fewer(item, -change, act, kind)
    if not change:
        return []
    lines = _more(item, change, act, kind)
    stock_rose(item_ids=[item.pk])
    return lines


def _fewer(item: Item, missing: int, act: Act, kind: str) -> list[Movement]:
    """Never more than is there now: what was carried off since the count was really there."""
    lines, store = [], ledger.on_hand_by_lot(item.pk)
    for lot in Lot.objects.filter(pk__in=store).order_by(F("use_by").asc(nulls_last=True), "arrives_on", "pk"):
        taken = min(missing, store[lot.pk])
        if taken > 0:
            lines.append(movement_write(lot=lot, kind=kind, store=-taken, act=act))
            missing -= taken
    return lines


def _more(item: Item, surplus: int, act: Act, kind: str) -> list[Movement]:
    """Onto the youngest lot, of which most is left; without any lot, a new one that came today."""
    lot = Lot.objects.filter(item=item, received=True).order_by("-arrives_on", "-pk").first()
    if lot is None:
        cost = round(item.unit_cost, 4)
        lot = Lot(item_id=item.pk, quantity=surplus, arrives_on=timezone.localdate(), unit_cost=cost, received=False)
        # Its first line is this one, signed; a lot saved as received writes one that nobody signed.
        lot.save()
        Lot.objects.filter(pk=lot.pk).update(received=True)
    return [movement_write(lot=lot, kind=kind, store=surplus, act=act)]
