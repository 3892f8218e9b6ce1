from datetime import datetime, timedelta

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from decor.studio.models import StoredFile
from jobs.estimates.models import Estimate
from jobs.events.models import Event

LINK_LIFE = timedelta(days=14)


class Proof(models.Model):
    """One numbered version of what the client is asked to approve. `payload` is canonical JSON and never
    changes; a change makes a new version."""

    class State(models.TextChoices):
        WAITING = "waiting", "No answer"
        APPROVED = "approved", "Approved"
        CHANGE = "change", "Change asked for"
        DECLINED = "declined", "Declined"
        SUPERSEDED = "superseded", "Replaced"

    event = models.ForeignKey(Event, on_delete=models.CASCADE)
    version = models.PositiveIntegerField()
    payload = models.TextField()
    payload_sha256 = models.CharField(max_length=64)
    total = models.DecimalField(max_digits=12, decimal_places=2)
    currency = models.CharField(max_length=3)
    state = models.CharField(max_length=10, choices=State.choices, default=State.WAITING)
    valid_until = models.DateField()
    estimate = models.ForeignKey(Estimate, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    created = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-version"]
        constraints = [
            models.UniqueConstraint(fields=["event", "version"], name="one_proof_per_version"),
            models.UniqueConstraint(fields=["event"], condition=Q(state="waiting"), name="one_proof_waiting_per_event"),
        ]

    def __str__(self) -> str:
        return f"proof {self.version} of {self.event}"


class ProofPicture(models.Model):
    proof = models.ForeignKey(Proof, on_delete=models.CASCADE, related_name="pictures")
    title = models.CharField(max_length=120)
    file = models.ForeignKey(StoredFile, on_delete=models.PROTECT, related_name="+")
    sha256 = models.CharField(max_length=64)
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position", "pk"]

    def __str__(self) -> str:
        return self.title


class ProofLinkQuerySet(models.QuerySet):
    def live(self, now: datetime) -> "ProofLinkQuerySet":
        return self.filter(revoked=False, event__ends__gt=now - LINK_LIFE)


class ProofLink(models.Model):
    """A secret address for one recipient; it shows the event's newest version. The token is derived from
    the row's id and nonce, so that the studio can copy it again; only its hash is kept. It lives until
    LINK_LIFE after the event's end, wherever the event moves."""

    event = models.ForeignKey(Event, on_delete=models.CASCADE)
    recipient = models.CharField(max_length=120)
    nonce = models.CharField(max_length=43)
    token_hash = models.CharField(max_length=64, unique=True)
    revoked = models.BooleanField(default=False)
    created = models.DateTimeField(default=timezone.now)

    objects = ProofLinkQuerySet.as_manager()

    @property
    def expires(self) -> datetime:
        return self.event.ends + LINK_LIFE

    def lives(self, now: datetime) -> bool:
        return not self.revoked and now < self.expires

    def __str__(self) -> str:
        return f"link for {self.recipient}"


class ProofAnswer(models.Model):
    """Evidence of an answer. Rows are only ever added; one live answer a version."""

    class Action(models.TextChoices):
        APPROVE = "approve", "Approved"
        CHANGE = "change", "Change asked for"
        DECLINE = "decline", "Declined"

    proof = models.OneToOneField(Proof, on_delete=models.CASCADE, related_name="answer")
    link = models.ForeignKey(ProofLink, null=True, on_delete=models.SET_NULL, related_name="+")
    recipient = models.CharField(max_length=120, blank=True)
    action = models.CharField(max_length=8, choices=Action.choices)
    name = models.CharField(max_length=120)
    comment = models.TextField(blank=True)
    sentence = models.TextField()
    payload_sha256 = models.CharField(max_length=64)
    pictures_sha256 = models.CharField(max_length=64)
    total = models.DecimalField(max_digits=12, decimal_places=2)
    currency = models.CharField(max_length=3)
    at = models.DateTimeField(default=timezone.now)
    zone = models.CharField(max_length=60)
    ip = models.GenericIPAddressField(null=True, blank=True)
    agent = models.CharField(max_length=300, blank=True)
    locale = models.CharField(max_length=60, blank=True)
    request_key = models.CharField(max_length=64, blank=True)

    def __str__(self) -> str:
        return f"{self.get_action_display()} by {self.name}"


class ProofVisits(models.Model):
    """How often one network address asked for proof links lately; in the database, as Redis may be absent."""

    ip_hash = models.CharField(max_length=64, primary_key=True)
    window = models.DateTimeField()
    asked = models.PositiveIntegerField(default=0)
    bad_window = models.DateTimeField()
    bad = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.asked} asked, {self.bad} bad"
