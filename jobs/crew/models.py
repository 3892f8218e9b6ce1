from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q

from jobs.events.models import Event

SKILLS = [
    ("inflate", "Inflate and size"),
    ("load", "Load panels"),
    ("rig", "Rig and ladder"),
    ("drive", "Drive the van"),
    ("lead", "Lead"),
]


class Member(models.Model):
    user = models.OneToOneField(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="member"
    )
    name = models.CharField(max_length=120)
    phone = models.CharField(max_length=40, blank=True)
    skills = models.JSONField(default=list, blank=True)
    wage_per_hour = models.DecimalField(
        max_digits=8, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    active = models.BooleanField(default=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Absence(models.Model):
    """When a member can't work."""

    member = models.ForeignKey(Member, on_delete=models.CASCADE)
    starts = models.DateTimeField()
    ends = models.DateTimeField()
    note = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["starts"]
        constraints = [models.CheckConstraint(condition=Q(ends__gt=F("starts")), name="absence_ends_after_start")]

    def __str__(self) -> str:
        return f"{self.member} away"


class Shift(models.Model):
    event = models.ForeignKey(Event, on_delete=models.CASCADE)
    member = models.ForeignKey(Member, on_delete=models.PROTECT)
    task = models.CharField(max_length=20, choices=SKILLS)
    starts = models.DateTimeField()
    ends = models.DateTimeField()
    note = models.CharField(max_length=200, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["starts", "pk"]
        constraints = [models.CheckConstraint(condition=Q(ends__gt=F("starts")), name="shift_ends_after_start")]
        indexes = [models.Index(fields=["member", "starts", "ends"], name="shift_member_span")]

    def __str__(self) -> str:
        return f"{self.member}: {self.get_task_display()}"


class DayHold(models.Model):
    """Hours and vans that an event counts against the day. With `expires` empty it is confirmed."""

    event = models.OneToOneField(Event, on_delete=models.CASCADE)
    starts = models.DateTimeField()
    ends = models.DateTimeField()
    people = models.PositiveSmallIntegerField()
    skills = models.JSONField(default=list)
    vans = models.PositiveSmallIntegerField(default=1)
    person_minutes = models.PositiveIntegerField(default=0)
    expires = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(ends__gt=F("starts")), name="day_hold_ends_after_start")]

    def __str__(self) -> str:
        return f"{self.people} people for {self.event}"
