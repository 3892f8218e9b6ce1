"""What was told about holds, so that it is told once."""

from django.db import models
from django.utils import timezone

from inventory.models.promises import Reservation


class HoldNotice(models.Model):
    """A hold said that it lapses, or that it has. `expires` is the end that was told; a new end is told anew."""

    class Kind(models.TextChoices):
        DAYS = "days", "Two days before"
        HOURS = "hours", "Two hours before"
        LAPSED = "lapsed", "Lapsed"

    reservation = models.ForeignKey(Reservation, on_delete=models.CASCADE, related_name="notices")
    kind = models.CharField(max_length=6, choices=Kind.choices)
    expires = models.DateTimeField()
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["reservation", "kind", "expires"], name="a_hold_says_it_once"),
        ]

    def __str__(self) -> str:
        return f"{self.reservation}: {self.get_kind_display()}"
