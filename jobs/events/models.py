import zoneinfo

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Max, Q
from django.utils import timezone

from decor.studio.models import validate_zone
from inventory.models import Reservation
from jobs.clients.models import Client


class VenueQuerySet(models.QuerySet):
    def offered(self, client: Client | None, words: str = "") -> "VenueQuerySet":
        """This client's earlier venues first, then the ones used last."""
        if words:
            self = self.filter(Q(name__icontains=words) | Q(address__icontains=words))
        theirs = Max("event__doors", filter=Q(event__client=client if client and client.pk else None))
        return self.annotate(theirs=theirs, last=Max("event__doors")).order_by(
            F("theirs").desc(nulls_last=True), F("last").desc(nulls_last=True), "name"
        )


class Venue(models.Model):
    name = models.CharField(max_length=120)
    address = models.TextField(blank=True)
    access = models.TextField(blank=True, help_text="doors, stairs, parking, whom to ring")
    contact_name = models.CharField(max_length=120, blank=True)
    contact_phone = models.CharField(max_length=40, blank=True)
    indoors = models.BooleanField(default=True)
    ceiling_m = models.FloatField(null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(100)])
    door_width_m = models.FloatField(null=True, blank=True, validators=[MinValueValidator(0.4), MaxValueValidator(20)])
    door_height_m = models.FloatField(null=True, blank=True, validators=[MinValueValidator(0.4), MaxValueValidator(20)])
    altitude_m = models.FloatField(default=0, validators=[MinValueValidator(-400), MaxValueValidator(5000)])
    temperature_c = models.FloatField(default=20, validators=[MinValueValidator(-20), MaxValueValidator(50)])
    distance_km = models.FloatField(default=0, validators=[MinValueValidator(0), MaxValueValidator(2000)])
    drive_minutes = models.PositiveSmallIntegerField(default=30, validators=[MaxValueValidator(1440)])
    time_zone = models.CharField(max_length=60, validators=[validate_zone])
    cautions = models.TextField(blank=True, help_text="detectors, sprinklers, no helium, insurance")
    version = models.PositiveIntegerField(default=1)
    created = models.DateTimeField(default=timezone.now)

    objects = VenueQuerySet.as_manager()

    class Meta:
        ordering = ["name"]

    @property
    def zone(self) -> zoneinfo.ZoneInfo:
        return zoneinfo.ZoneInfo(self.time_zone)

    def __str__(self) -> str:
        return self.name


class Stage(models.TextChoices):
    ENQUIRY = "enquiry", "enquiry"
    QUOTED = "quoted", "quoted"
    CONFIRMED = "confirmed", "confirmed"
    IN_PRODUCTION = "in production", "in production"
    INSTALLED = "installed", "installed"
    STRUCK = "struck", "struck"
    CLOSED = "closed", "closed"
    LOST = "lost", "lost"
    CANCELLED = "cancelled", "cancelled"


ENDED = (Stage.CLOSED, Stage.LOST, Stage.CANCELLED)


class EventQuerySet(models.QuerySet):
    def live(self) -> "EventQuerySet":
        return self.exclude(stage__in=ENDED)


class Event(models.Model):
    """One job for one client at one venue. Times are kept in UTC and shown in the venue's zone."""

    title = models.CharField(max_length=120)
    client = models.ForeignKey(Client, on_delete=models.PROTECT)
    venue = models.ForeignKey(Venue, on_delete=models.PROTECT)
    stage = models.CharField(max_length=14, choices=Stage.choices, default=Stage.ENQUIRY)
    load_in = models.DateTimeField()
    doors = models.DateTimeField()
    ends = models.DateTimeField()
    strike = models.DateTimeField()
    note = models.TextField(blank=True)
    reservation = models.OneToOneField(Reservation, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    version = models.PositiveIntegerField(default=1)
    created = models.DateTimeField(default=timezone.now)

    objects = EventQuerySet.as_manager()

    class Meta:
        ordering = ["doors", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(doors__gte=F("load_in")) & Q(ends__gt=F("doors")) & Q(strike__gte=F("ends")),
                name="event_times_in_order",
            )
        ]
        indexes = [models.Index(fields=["load_in", "strike"], name="event_span")]

    @property
    def number(self) -> str:
        return f"{self.pk:04d}"

    @property
    def zone(self) -> zoneinfo.ZoneInfo:
        return self.venue.zone

    def __str__(self) -> str:
        return self.title
