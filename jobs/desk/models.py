import uuid

from django.conf import settings
from django.db import models
from django.utils import timezone

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


class Unmet(models.Model):
    """What an event needs beyond what is promised to it, because a changed design could not be followed or only what
    was free is held. `beyond` is [{"item": id, "name": …, "more": n, "or": [ids of items that serve as well]}]; what of
    it is lacking is weighed wherever it is told (`jobs.desk.unmet`). Gone as soon as all of it is promised."""

    event = models.OneToOneField(Event, on_delete=models.CASCADE, related_name="+")
    beyond = models.JSONField(default=list)
    since = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return "; ".join(f"{line['more']:,} more of {line['name']}" for line in self.beyond)
