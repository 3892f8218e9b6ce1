"""The floor both apps stand on: people and their roles, the studio's settings, background-job rows,
request keys, stored files, the audit trail."""

import zoneinfo
from decimal import Decimal

from django.contrib.auth.models import AbstractUser
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils import timezone


class Role(models.TextChoices):
    OWNER = "owner", "Owner"
    PLANNER = "planner", "Planner"
    CREW = "crew", "Crew"


class User(AbstractUser):
    role = models.CharField(max_length=10, choices=Role.choices, default=Role.CREW)
    name = models.CharField(max_length=120)
    theme = models.CharField(
        max_length=5,
        choices=[("", "As the phone"), ("light", "Light"), ("dark", "Dark")],
        blank=True,
        default="",
    )

    first_name = None
    last_name = None

    @property
    def is_staff_role(self) -> bool:
        return self.role in {Role.OWNER, Role.PLANNER}

    def __str__(self) -> str:
        return self.name or self.username


class SignIn(models.Model):
    """One signed-in browser, so that a person can see and end theirs. Holds no session key, only its hash."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="sign_ins")
    session_hash = models.CharField(max_length=64, unique=True)
    agent = models.CharField(max_length=200, blank=True)
    started = models.DateTimeField()
    last_seen = models.DateTimeField()

    class Meta:
        ordering = ["-last_seen"]

    def __str__(self) -> str:
        return f"{self.user} since {self.started:%Y-%m-%d}"


class LoginThrottle(models.Model):
    """Failed sign-ins of one account name. In the database, as Redis may be absent."""

    account_hash = models.CharField(max_length=64, primary_key=True)
    failures = models.PositiveIntegerField(default=0)
    not_before = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.failures} failures"


def validate_zone(value: str) -> None:
    if value not in zoneinfo.available_timezones():
        raise ValidationError("Choose a time zone such as Europe/Dublin.")


CURRENCIES = ["EUR", "GBP", "USD", "CAD", "AUD", "NZD", "CHF", "SEK", "NOK", "DKK", "PLN", "CZK"]


class Studio(models.Model):
    """The one studio that this installation serves."""

    name = models.CharField(max_length=120)
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    address = models.TextField(blank=True)
    time_zone = models.CharField(max_length=60, default="UTC", validators=[validate_zone])
    currency = models.CharField(max_length=3, default="EUR", choices=[(c, c) for c in CURRENCIES])
    units = models.CharField(max_length=8, choices=[("metric", "Metres"), ("imperial", "Feet")], default="metric")
    paper = models.CharField(max_length=6, choices=[("A4", "A4"), ("Letter", "Letter")], default="A4")
    altitude_m = models.FloatField(default=0, validators=[MinValueValidator(-400), MaxValueValidator(5000)])
    temperature_c = models.FloatField(default=20, validators=[MinValueValidator(-20), MaxValueValidator(50)])
    tax_percent = models.DecimalField(
        max_digits=5,
        decimal_places=2,
        default=Decimal("20"),
        validators=[MinValueValidator(0), MaxValueValidator(100)],
    )
    margin_percent = models.DecimalField(
        max_digits=5,
        decimal_places=2,
        default=Decimal("40"),
        validators=[MinValueValidator(0), MaxValueValidator(95)],
    )
    overhead_percent = models.DecimalField(
        max_digits=5,
        decimal_places=2,
        default=Decimal("15"),
        validators=[MinValueValidator(0), MaxValueValidator(300)],
    )
    deposit_percent = models.DecimalField(
        max_digits=5,
        decimal_places=2,
        default=Decimal("30"),
        validators=[MinValueValidator(0), MaxValueValidator(100)],
    )
    deposit_days = models.PositiveSmallIntegerField(default=7, validators=[MaxValueValidator(365)])
    offer_days = models.PositiveSmallIntegerField(default=14, validators=[MaxValueValidator(365)])
    wage_per_hour = models.DecimalField(
        max_digits=8, decimal_places=2, default=Decimal("18"), validators=[MinValueValidator(0)]
    )
    travel_per_km = models.DecimalField(
        max_digits=6, decimal_places=2, default=Decimal("0.50"), validators=[MinValueValidator(0)]
    )
    vans = models.PositiveSmallIntegerField(default=1, validators=[MaxValueValidator(100)])
    van_volume_m3 = models.FloatField(default=10, validators=[MinValueValidator(0.5), MaxValueValidator(100)])
    hold_hours = models.PositiveSmallIntegerField(
        default=72, validators=[MinValueValidator(1), MaxValueValidator(24 * 60)]
    )
    turn_round_hours = models.PositiveSmallIntegerField(default=24, validators=[MaxValueValidator(24 * 60)])
    near_days = models.PositiveSmallIntegerField(default=3, validators=[MinValueValidator(1), MaxValueValidator(60)])
    """An event is near; the start of three days is a studio default, no source."""
    use_by_days = models.PositiveSmallIntegerField(default=60, validators=[MaxValueValidator(730)])
    """What must be used by then is told; the start of 60 days is common practice, no source."""
    not_included = models.TextField(blank=True, default="Lights, power and parking.")
    terms = models.TextField(
        blank=True, default="The deposit holds the date. Balances are due seven days after the event."
    )
    rates = models.JSONField(default=dict, blank=True, help_text="what differs from the default rates")

    def __str__(self) -> str:
        return self.name


class BackgroundJob(models.Model):
    """What a worker should do. This row is the truth; a message only carries its id."""

    class State(models.TextChoices):
        QUEUED = "queued", "Waiting"
        RUNNING = "running", "Running"
        DONE = "done", "Done"
        FAILED = "failed", "Failed"

    kind = models.CharField(max_length=40)
    subject_id = models.BigIntegerField()
    input_key = models.CharField(max_length=64)
    state = models.CharField(max_length=8, choices=State.choices, default=State.QUEUED)
    progress_percent = models.PositiveSmallIntegerField(default=0)
    progress_text = models.CharField(max_length=120, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    lease_token = models.CharField(max_length=40, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    reason = models.TextField(blank=True)
    created = models.DateTimeField(default=timezone.now)
    finished = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["kind", "subject_id", "input_key"], name="one_job_per_input")]
        indexes = [models.Index(fields=["state", "lease_until"], name="job_state_lease")]

    def __str__(self) -> str:
        return f"{self.kind} {self.subject_id}: {self.state}"


class Heartbeat(models.Model):
    """When each part of the program was last known to be alive."""

    name = models.CharField(max_length=40, primary_key=True)
    seen = models.DateTimeField()

    def __str__(self) -> str:
        return self.name


class RequestKey(models.Model):
    """One sending of one form. A second tap finds the row and gets the first tap's answer."""

    scope = models.CharField(max_length=80)
    key = models.CharField(max_length=64)
    body_hash = models.CharField(max_length=64)
    location = models.CharField(max_length=500, blank=True)
    done = models.BooleanField(default=False)
    created = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["scope", "key"], name="one_answer_per_key")]

    def __str__(self) -> str:
        return self.key


class AppliedCommand(models.Model):
    """What a page's outbox sent and was told. It is written in the transaction that applies it, so that a command
    that is sent again gets the same answer and changes nothing."""

    user = models.ForeignKey(User, on_delete=models.CASCADE)
    op_id = models.CharField(max_length=64)
    command = models.CharField(max_length=40)
    body_hash = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField(default=200)
    answer = models.JSONField(default=dict)
    created = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["user", "op_id"], name="a_command_is_applied_once")]

    def __str__(self) -> str:
        return f"{self.command} {self.op_id}"


class StoredFile(models.Model):
    """Bytes under a random name outside the web root; `sha256` is of exactly these bytes."""

    name = models.CharField(max_length=80, unique=True)
    mime = models.CharField(max_length=40)
    sha256 = models.CharField(max_length=64)
    size = models.PositiveIntegerField()
    width_px = models.PositiveIntegerField(null=True, blank=True)
    height_px = models.PositiveIntegerField(null=True, blank=True)
    original_name = models.CharField(max_length=200, blank=True)
    created = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return self.original_name or self.name


class Mail(models.Model):
    """One letter to one address, written in the transaction of the act that it tells of; a background job sends it.
    `key` says what it tells and to whom, so that it is written once; after `not_after` it would tell nothing new."""

    key = models.CharField(max_length=200, unique=True)
    to = models.EmailField()
    subject = models.CharField(max_length=200)
    text = models.TextField()
    files = models.ManyToManyField(StoredFile, related_name="+", blank=True)
    not_after = models.DateTimeField(null=True, blank=True)
    created = models.DateTimeField(default=timezone.now)
    sent = models.DateTimeField(null=True, blank=True)
    reply = models.CharField(max_length=300, blank=True, help_text="the mail server's own words")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.subject} ({self.to})"


class AuditLine(models.Model):
    """Who did what, when, from where. Lines are only ever added."""

    at = models.DateTimeField(default=timezone.now)
    user = models.ForeignKey(User, null=True, blank=True, on_delete=models.SET_NULL)
    who = models.CharField(max_length=120)
    act = models.CharField(max_length=60)
    subject = models.CharField(max_length=160, blank=True)
    ip = models.GenericIPAddressField(null=True, blank=True)

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.who}: {self.act}"
