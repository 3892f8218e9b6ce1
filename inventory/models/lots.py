"""What came in, and every movement since. On hand is the ledger's sum, and nothing else says it."""

from collections.abc import Iterable
from decimal import Decimal
from typing import Any, NoReturn

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from inventory.models.items import Item
from inventory.models.promises import Reservation


class LotQuerySet(models.QuerySet["Lot"]):
    def bulk_create(self, objs: Iterable["Lot"], *args: object, **kwargs: object) -> list["Lot"]:
        made = super().bulk_create(objs, *args, **kwargs)
        Movement.objects.bulk_create([came_in(lot) for lot in made if lot.received], batch_size=2000)
        return made


class Lot(models.Model):
    """One delivery of `quantity` pieces. One that is not `received` is on order and counts from `arrives_on`, if it
    arrives. What is left of it is the sum of its movements; the first is written with it.

    Sheets of one delivery that were used more often than others become a lot of their own, `split_from` the first,
    with fewer `uses_left`. `batch` is the maker's number: shades differ from batch to batch."""

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="lots")
    quantity = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    arrives_on = models.DateField()
    received = models.BooleanField(default=True)
    use_by = models.DateField(null=True, blank=True)
    unit_cost = models.DecimalField(
        max_digits=10, decimal_places=4, default=Decimal(0), validators=[MinValueValidator(0)]
    )
    note = models.CharField(max_length=120, blank=True)
    batch = models.CharField(max_length=40, blank=True)
    uses_left = models.PositiveSmallIntegerField(null=True, blank=True)
    split_from = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="splits")
    order_line = models.ForeignKey(
        "inventory.OrderLine", null=True, blank=True, on_delete=models.PROTECT, related_name="lots"
    )

    objects = LotQuerySet.as_manager()

    class Meta:
        ordering = ["arrives_on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(quantity__gt=0) | Q(split_from__isnull=False), name="lot_quantity_positive"
            ),
            models.CheckConstraint(
                condition=Q(use_by__isnull=True) | Q(use_by__gte=F("arrives_on")),
                name="lot_usable_after_arrival",
            ),
            models.UniqueConstraint(fields=["split_from", "uses_left"], name="one_split_for_each_use"),
        ]
        indexes = [
            models.Index(fields=["item", "arrives_on"], name="lot_item_arrives"),
            models.Index(fields=["item", "arrives_on"], condition=Q(received=False), name="lot_on_order"),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} × {self.item}"

    def save(self, *args: object, **kwargs: object) -> None:
        new = self._state.adding
        super().save(*args, **kwargs)
        if new and self.received and self.quantity:
            came_in(self).save()


class MovementQuerySet(models.QuerySet["Movement"]):
    """Lines are added and read. What would change or remove one says so instead of doing it."""

    def _never(self, *args: object, **kwargs: object) -> NoReturn:
        raise TypeError("a line of the ledger is never changed nor removed; write another one")

    update = bulk_update = update_or_create = aupdate = abulk_update = aupdate_or_create = _never
    delete = adelete = _raw_delete = _update = _never

    def bulk_create(self, objs: Iterable["Movement"], *args: Any, **kwargs: Any) -> list["Movement"]:
        if kwargs.get("update_conflicts"):
            self._never()
        return super().bulk_create(objs, *args, **kwargs)

    def take_back_import(self) -> None:
        """Of items that a list made by mistake: with them goes the line with which they came in. Raises TypeError when
        anything else ever moved a piece of them."""
        if self.exclude(kind=Movement.Kind.RECEIVED, reservation=None).exists():
            self._never()
        models.QuerySet(self.model, query=self.query.chain()).delete()


class Movement(models.Model):
    """One line of the ledger, never changed and never removed. `store` is what it does to what lies in the store,
    `out` what it does to what is out with the event of its reservation."""

    class Kind(models.TextChoices):
        RECEIVED = "received", "Came in"
        PICKED = "picked", "Picked"
        BACK = "back", "Came back"
        USED = "used", "Used"
        BURST = "burst", "Burst"
        THROWN = "thrown", "Thrown away"
        LOST = "lost", "Lost"
        WORN = "worn", "Worn out"
        COUNTED = "counted", "Counted"
        CORRECTED = "corrected", "Corrected"

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="movements")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="movements")
    reservation = models.ForeignKey(
        Reservation, null=True, blank=True, on_delete=models.PROTECT, related_name="movements"
    )
    kind = models.CharField(max_length=9, choices=Kind.choices)
    store = models.IntegerField(default=0)
    out = models.IntegerField(default=0)
    at = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey("studio.User", null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    why = models.CharField(max_length=200, blank=True)

    objects = MovementQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(store=0) | ~Q(out=0), name="movement_moves"),
            models.CheckConstraint(condition=Q(out=0) | Q(reservation__isnull=False), name="out_with_an_event"),
        ]
        indexes = [
            models.Index(fields=["item", "lot", "store", "out"], name="movement_sums"),
            models.Index(fields=["lot", "id", "store", "out"], name="movement_of_lot"),
            models.Index(fields=["reservation", "item"], name="movement_reservation"),
            models.Index(fields=["at"], name="movement_at"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.store:+} in the store, {self.out:+} out"

    def save(self, *args: object, **kwargs: object) -> None:
        if not self._state.adding:
            raise TypeError("a line of the ledger is never changed; write another one")
        super().save(*args, **kwargs)

    def delete(self, *args: object, **kwargs: object) -> tuple[int, dict[str, int]]:
        raise TypeError("a line of the ledger is never removed; write another one")


class LotSum(models.Model):
    """The ledger of one lot added up to its line `upto`, so that ten years of it cost no more than the last weeks. It
    says nothing that the lines don't say: without it they are all added up."""

    lot = models.OneToOneField(Lot, primary_key=True, on_delete=models.CASCADE, related_name="summed")
    upto = models.BigIntegerField()
    store = models.IntegerField()
    out = models.IntegerField()

    def __str__(self) -> str:
        return f"{self.store} in the store, {self.out} out, up to line {self.upto}"


class Count(models.Model):
    """One item was counted: `found` where the ledger said `said`. A difference is a movement as well."""

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="counts")
    at = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey("studio.User", null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    found = models.PositiveIntegerField()
    said = models.IntegerField()
    why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["item", "at"], name="count_item_at")]

    def __str__(self) -> str:
        return f"{self.item}: {self.found} found, {self.said} said"


def came_in(lot: Lot) -> Movement:
    return Movement(lot=lot, item_id=lot.item_id, kind=Movement.Kind.RECEIVED, store=lot.quantity)
