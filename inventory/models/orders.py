"""What is bought: an order to one supplier, and what each pack of it is for."""

from decimal import Decimal

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils import timezone

from inventory.models.items import Item


class Order(models.Model):
    """A draft counts for nothing; once sent, each line is a lot that is expected on `due_on`, if it arrives."""

    class State(models.TextChoices):
        DRAFT = "draft", "Not sent"
        SENT = "sent", "On order"
        DONE = "done", "All here"
        CANCELLED = "cancelled", "Cancelled"

    number = models.CharField(max_length=12, unique=True)
    supplier = models.CharField(max_length=80, blank=True)
    state = models.CharField(max_length=9, choices=State.choices, default=State.DRAFT)
    created = models.DateTimeField(default=timezone.now)
    sent = models.DateTimeField(null=True, blank=True)
    due_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(state="sent") | (Q(sent__isnull=False) & Q(due_on__isnull=False)),
                name="sent_order_is_due",
            )
        ]

    def __str__(self) -> str:
        return self.number


class OrderLine(models.Model):
    """`what_for`: [{"label": …, "quantity": …, "day": "2031-05-01"}], the shortages that it was bought for."""

    order = models.ForeignKey(Order, on_delete=models.CASCADE, related_name="lines")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    packs = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    pack_size = models.PositiveIntegerField(default=1, validators=[MinValueValidator(1)])
    pack_price = models.DecimalField(max_digits=10, decimal_places=2, default=Decimal(0))
    what_for = models.JSONField(default=list, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(packs__gt=0), name="order_packs_positive"),
            models.UniqueConstraint(fields=["order", "item"], name="one_order_line_per_item"),
        ]

    def __str__(self) -> str:
        return f"{self.packs} × {self.item}"

    @property
    def quantity(self) -> int:
        return self.packs * self.pack_size

    @property
    def cost(self) -> Decimal:
        return self.packs * self.pack_price
