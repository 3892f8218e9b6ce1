import uuid

from django.conf import settings
from django.db import models

from jobs.events.models import Event


class BookingDraft(models.Model):
    """What has been entered so far, so that Back, a dead battery or a second phone loses nothing.
    `event` is set in the transaction that books it: the draft can be booked once."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    purpose = models.CharField(max_length=4, choices=[("book", "Booking"), ("ask", "Quick answer")])
    data = models.JSONField(default=dict)
    event = models.OneToOneField(Event, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    updated = models.DateTimeField(auto_now=True)

    def __str__(self) -> str:
        return f"{self.get_purpose_display()} of {self.user}"
