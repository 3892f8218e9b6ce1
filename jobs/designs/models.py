from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils import timezone

from decor.studio.models import BackgroundJob, StoredFile
from inventory.models import Sheet
from jobs.events.models import Event


class Piece(models.Model):
    """One item of décor. `measures` is what its kind's form asks for; a picture panel's chart stands in Panel."""

    class BuiltAt(models.TextChoices):
        WORKSHOP = "workshop", "Workshop"
        VENUE = "venue", "Venue"

    class Fill(models.TextChoices):
        AIR = "air", "Air"
        HELIUM = "helium", "Helium"

    event = models.ForeignKey(Event, on_delete=models.CASCADE)
    kind = models.CharField(max_length=20)
    title = models.CharField(max_length=120)
    count = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1), MaxValueValidator(200)])
    built_at = models.CharField(max_length=8, choices=BuiltAt.choices, default=BuiltAt.WORKSHOP)
    fill = models.CharField(max_length=6, choices=Fill.choices, default=Fill.AIR)
    measures = models.JSONField(default=dict)
    position = models.PositiveSmallIntegerField(default=0)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["position", "pk"]

    def __str__(self) -> str:
        return self.title


class Panel(models.Model):
    """The chart of one picture panel: `cells` is rows × columns little-endian int16 numbers into `palette`
    (row by row from the origin corner, -1 empty); `palette` is a list of latex item ids."""

    class Loading(models.TextChoices):
        PAIRED = "paired", "Paired"
        TWO_SIDED = "two-sided", "Two-sided"
        SANDWICH = "sandwich", "Sandwich"
        STRUNG = "strung", "Strung"

    piece = models.OneToOneField(Piece, on_delete=models.CASCADE, related_name="panel")
    picture = models.ForeignKey(StoredFile, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    sheet = models.ForeignKey(Sheet, on_delete=models.PROTECT, related_name="+")
    rows = models.PositiveIntegerField()
    columns = models.PositiveIntegerField()
    loading = models.CharField(max_length=9, choices=Loading.choices, default=Loading.PAIRED)
    palette = models.JSONField(default=list)
    cells = models.BinaryField(default=bytes)
    within_stock = models.BooleanField(default=False)
    version = models.PositiveIntegerField(default=1)
    changed = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(rows__gt=0) & models.Q(columns__gt=0), name="panel_has_cells")
        ]

    def __str__(self) -> str:
        return f"{self.columns} wide, {self.rows} high"


class BuildBook(models.Model):
    """The build book of a panel as it was when it was asked for; `file` is empty until the worker is done."""

    piece = models.ForeignKey(Piece, on_delete=models.CASCADE)
    input_key = models.CharField(max_length=64)
    file = models.ForeignKey(StoredFile, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    job = models.ForeignKey(BackgroundJob, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    created = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-created", "-pk"]
        constraints = [models.UniqueConstraint(fields=["piece", "input_key"], name="one_book_per_input")]

    def __str__(self) -> str:
        return f"build book of {self.piece}"
