"""The bins of the store, in the order in which one walks past them."""

from collections import Counter
from dataclasses import dataclass

from django.db import transaction
from django.db.models import F

from inventory.models import Bin, Item


class NameTaken(ValueError):
    """Another bin has that name."""


@dataclass(frozen=True)
class BinRow:
    bin: Bin
    items: int


def bin_rows() -> list[BinRow]:
    counts = Counter(name.casefold() for name in Item.objects.filter(active=True).values_list("bin", flat=True))
    return [BinRow(found, counts[found.name.casefold()]) for found in Bin.objects.order_by("position", "name")]


@transaction.atomic
def bin_move(*, bin_: Bin, to: int) -> None:
    """To that place on the way, counted from 1; the others close up."""
    rows = list(Bin.objects.select_for_update(no_key=True).order_by("position", "name", "pk"))
    order = [row for row in rows if row.pk != bin_.pk]
    order.insert(max(0, min(to - 1, len(order))), next(row for row in rows if row.pk == bin_.pk))
    for position, row in enumerate(order, start=1):
        if row.position != position:
            Bin.objects.filter(pk=row.pk).update(position=position)


@transaction.atomic
def bin_rename(*, bin_: Bin, name: str) -> None:
    """Its items lie in it under the new name at once."""
    name = " ".join(name.split())
    if not name or len(name) > 20:
        raise ValueError("name must have 1 to 20 characters")
    if Bin.objects.filter(name__iexact=name).exclude(pk=bin_.pk).exists():
        raise NameTaken("There is a bin of that name already.")
    Item.objects.filter(bin__iexact=bin_.name).update(bin=name)
    Bin.objects.filter(pk=bin_.pk).update(name=name)
    bin_.name = name


@transaction.atomic
def bin_remove(*, bin_: Bin) -> None:
    """Only an empty one: what lies in it would lie nowhere."""
    if Item.objects.filter(bin__iexact=bin_.name, active=True).exists():
        raise ValueError("bin has items; move them first")
    Item.objects.filter(bin__iexact=bin_.name).update(bin="")
    Bin.objects.filter(position__gt=bin_.position).update(position=F("position") - 1)
    bin_.delete()


def items_in(bin_: Bin) -> list[Item]:
    return list(
        Item.objects.filter(bin__iexact=bin_.name, active=True).select_related("latex").order_by("kind", "name")
    )
