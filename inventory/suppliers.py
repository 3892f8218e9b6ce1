"""Whom things are bought from. Items and orders name a supplier by its name, so a new name is theirs at once."""

from collections import Counter
from dataclasses import dataclass

from django.db import transaction

from inventory.models import Item, Order, Supplier

FIELDS = ("name", "email", "phone", "our_number", "note")
OPEN = (Order.State.DRAFT, Order.State.SENT)


class NameTaken(ValueError):
    """Another supplier has that name."""


@dataclass(frozen=True)
class SupplierRow:
    supplier: Supplier
    items: int
    orders: int
    """Drafts, and what is on its way."""


def supplier_rows() -> list[SupplierRow]:
    items = Counter(name.casefold() for name in Item.objects.filter(active=True).values_list("supplier", flat=True))
    orders = Counter(
        name.casefold() for name in Order.objects.filter(state__in=OPEN).values_list("supplier", flat=True)
    )
    rows = sorted(Supplier.objects.all(), key=lambda row: row.name.casefold())
    return [SupplierRow(row, items[row.name.casefold()], orders[row.name.casefold()]) for row in rows]


def items_of(supplier: Supplier) -> list[Item]:
    return list(
        Item.objects.filter(supplier__iexact=supplier.name, active=True)
        .select_related("latex")
        .order_by("kind", "name")
    )


def orders_of(supplier: Supplier) -> list[Order]:
    return list(Order.objects.filter(supplier__iexact=supplier.name).order_by("-pk"))


def _name(name: str, besides: int = 0) -> str:
    name = " ".join(name.split())
    if not name or len(name) > 80:
        raise ValueError("name must have 1 to 80 characters")
    if Supplier.objects.filter(name__iexact=name).exclude(pk=besides).exists():
        raise NameTaken("There is a supplier of that name already.")
    return name


@transaction.atomic
def supplier_add(*, name: str, email: str = "", phone: str = "", our_number: str = "", note: str = "") -> Supplier:
    told = {"email": email, "phone": phone, "our_number": our_number, "note": note}
    row, made = Supplier.objects.get_or_create(name=_name(name), defaults=told)
    if not made:
        raise NameTaken("There is a supplier of that name already.")
    return row


@transaction.atomic
def supplier_change(
    *, supplier: Supplier, name: str, email: str = "", phone: str = "", our_number: str = "", note: str = ""
) -> Supplier:
    """With a new name, what is bought from it and every order go by it as well."""
    supplier.refresh_from_db(from_queryset=Supplier.objects.select_for_update(no_key=True))
    before, name = supplier.name, _name(name, supplier.pk)
    if name != before:
        Item.objects.filter(supplier__iexact=before).update(supplier=name)
        Order.objects.filter(supplier__iexact=before).update(supplier=name)
    supplier.name, supplier.email, supplier.phone = name, email, phone
    supplier.our_number, supplier.note = our_number, note
    supplier.save(update_fields=FIELDS)
    return supplier


@transaction.atomic
def supplier_remove(*, supplier: Supplier) -> None:
    """Only one that nothing is bought from and no order waits for: those would have nobody to ask."""
    bought = Item.objects.filter(supplier__iexact=supplier.name, active=True).exists()
    if bought or Order.objects.filter(supplier__iexact=supplier.name, state__in=OPEN).exists():
        raise ValueError("supplier is still bought from")
    supplier.delete()
