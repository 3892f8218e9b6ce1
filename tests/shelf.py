"""What lies in the store, made what a test needs it to be, by lines of the ledger."""

from datetime import timedelta

from django.db import models
from django.utils import timezone

from inventory.ledger import on_hand, on_hand_by_lot
from inventory.models import Item, Lot, Movement


def came_earlier(**ago: float) -> None:
    """All that came in did so that long ago; behind the ledger's back, for what a test needs to have been."""
    models.QuerySet.update(Movement.objects.filter(kind="received"), at=timezone.now() - timedelta(**ago))


def never_was() -> None:
    """No ledger, as in a studio that begins."""
    models.QuerySet(Movement)._raw_delete("default")


def lost(lot: Lot, quantity: int) -> None:
    """So many are gone from the store, whatever that does to promises."""
    Movement(lot=lot, item_id=lot.item_id, kind=Movement.Kind.LOST, store=-quantity).save()


def only(item: Item, quantity: int) -> None:
    """So many lie in the store, all in the item's first lot."""
    lot = Lot.objects.filter(item=item.pk).earliest("pk")
    if change := quantity - on_hand([item.pk])[item.pk]:
        Movement(lot=lot, item_id=item.pk, kind=Movement.Kind.CORRECTED, store=change).save()


def empty(*items: Item) -> None:
    """Nothing of these items, or of any, is left."""
    for item in items or Item.objects.all():
        for lot_id, quantity in on_hand_by_lot(item.pk).items():
            Movement(lot_id=lot_id, item_id=item.pk, kind=Movement.Kind.CORRECTED, store=-quantity).save()
