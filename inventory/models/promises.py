"""What is promised. Knows nothing of jobs: a reservation carries its own label and span."""

from typing import Any

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from inventory.models.items import Item


class Reservation(models.Model):
    """A promise to an event for a span. A hold stops counting when it lapses, with nobody's help. A settled one is
    over: what came back is counted."""

    class State(models.TextChoices):
        HOLD = "hold", "On hold"
        CONFIRMED = "confirmed", "Confirmed"
        RELEASED = "released", "Released"
        SETTLED = "settled", "Counted back"

    label = models.CharField(max_length=120)
    starts = models.DateTimeField()
    ends = models.DateTimeField()
    state = models.CharField(max_length=9, choices=State.choices, default=State.HOLD)
    expires = models.DateTimeField(null=True, blank=True)
    end_set = models.DateTimeField(default=timezone.now, help_text="when it was said how long it lasts")
    created = models.DateTimeField(default=timezone.now)
    begun = models.BooleanField(default=False, help_text="something was picked for it")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(ends__gt=F("starts")), name="reservation_ends_after_start"),
            models.CheckConstraint(condition=~Q(state="hold") | Q(expires__isnull=False), name="hold_has_an_end"),
        ]
        indexes = [
            models.Index(fields=["state", "expires"], name="reservation_lapsing"),
            models.Index(fields=["ends"], name="reservation_ends"),
            models.Index(fields=["state"], condition=Q(begun=True), name="reservation_begun"),
        ]

    def __str__(self) -> str:
        return self.label


class Length(models.Func):
    """Of a span, as each database tells it: a number of days in SQLite, whose dates are words."""

    template = "(%(expressions)s)"
    output_field = models.FloatField()

    def as_sql(self, compiler: Any, connection: Any, **extra: Any) -> tuple[str, list[Any]]:
        starts, ends = (compiler.compile(one)[0] for one in self.source_expressions)
        day = "julianday" if connection.vendor == "sqlite" else ""
        return f"({day}({ends}) - {day}({starts}))", []


class ReservationLine(models.Model):
    """The only record of what is promised. The span is repeated here so that one index answers `free`; `counts` ends
    when the promise is released or what came back of it is counted."""

    reservation = models.ForeignKey(Reservation, on_delete=models.CASCADE, related_name="lines")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="reserved")
    quantity = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    starts = models.DateTimeField()
    ends = models.DateTimeField()
    counts = models.BooleanField(default=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="line_quantity_positive"),
            models.CheckConstraint(condition=Q(ends__gt=F("starts")), name="line_ends_after_start"),
            models.UniqueConstraint(fields=["reservation", "item"], name="one_line_per_item"),
        ]
        indexes = [
            # SQLite answers from the index alone only if the condition's own column is in it too.
            models.Index(
                fields=["item", "starts", "ends", "quantity", "reservation", "counts"],
                condition=Q(counts=True),
                name="line_live_span",
            ),
            # The longest of an item's promises, at a glance: none that began longer ago than that is still going on.
            models.Index("item", Length("starts", "ends"), condition=Q(counts=True), name="line_longest"),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} × {self.item}"
