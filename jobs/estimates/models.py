from django.db import models
from django.utils import timezone

from decor.studio.models import BackgroundJob
from jobs.events.models import Event


class Estimate(models.Model):
    """What was computed and what it came from. `result` is empty until the worker is done; the same input
    finds the same row."""

    event = models.ForeignKey(Event, on_delete=models.CASCADE)
    input_key = models.CharField(max_length=64)
    inputs = models.JSONField()
    result = models.JSONField(null=True, blank=True)
    job = models.ForeignKey(BackgroundJob, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    created = models.DateTimeField(default=timezone.now)
    finished = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-created", "-pk"]
        constraints = [models.UniqueConstraint(fields=["event", "input_key"], name="one_estimate_per_input")]

    def __str__(self) -> str:
        return f"estimate {self.pk} of {self.event}"
