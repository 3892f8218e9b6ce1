from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils import timezone

from decor.studio.models import BackgroundJob, StoredFile, User
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
    (row by row from the origin corner, -1 empty); `palette` is a list of latex item ids. `recipe` is how the chart
    was made, `plan` how it is put together from sheets; `painted` and `locked` mark cells, a bit each
    (numpy.packbits, row by row; empty where there are none)."""

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
    recipe = models.JSONField(default=dict, blank=True)
    plan = models.JSONField(default=dict, blank=True)
    painted = models.BinaryField(default=bytes)
    locked = models.BinaryField(default=bytes)
    version = models.PositiveIntegerField(default=1)
    changed = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(rows__gt=0) & models.Q(columns__gt=0), name="panel_has_cells")
        ]

    def __str__(self) -> str:
        return f"{self.columns} wide, {self.rows} high"


class PanelDraft(models.Model):
    """A panel's picture on its way to a chart: framed, its kind and colours chosen, not yet taken over.
    `recipe` has the form of Panel's."""

    piece = models.OneToOneField(Piece, on_delete=models.CASCADE, related_name="draft")
    picture = models.ForeignKey(StoredFile, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    recipe = models.JSONField(default=dict)
    version = models.PositiveIntegerField(default=1)
    changed = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return f"draft of {self.piece}"


class EarlierChart(models.Model):
    """What a panel's chart was before another one was taken over, so that it can be put back: `stood` has Panel's
    fields, its bytes as base64, and its piece's measures."""

    panel = models.OneToOneField(Panel, on_delete=models.CASCADE, related_name="earlier")
    picture = models.ForeignKey(StoredFile, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    stood = models.JSONField(default=dict)
    since = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return f"earlier chart of {self.panel}"


class KeptPanel(models.Model):
    """A panel in the library, free of any event and of stock: `palette` is [{words, rgb}], `cells` as in Panel;
    `fingerprint` finds it again by a picture."""

    title = models.CharField(max_length=120)
    note = models.CharField(max_length=200, blank=True)
    lattice = models.CharField(max_length=6)
    pitch_m = models.FloatField()
    row_pitch_m = models.FloatField()
    rows = models.PositiveIntegerField()
    columns = models.PositiveIntegerField()
    palette = models.JSONField(default=list)
    cells = models.BinaryField(default=bytes)
    recipe = models.JSONField(default=dict, blank=True)
    fingerprint = models.JSONField(default=list, blank=True)
    picture = models.ForeignKey(StoredFile, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    version = models.PositiveIntegerField(default=1)
    created = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["title", "pk"]

    def __str__(self) -> str:
        return self.title


class ChartPaper(models.Model):
    """One printing of blank charts for a piece. Its pages bear its number; `palette` is the key boxes' latex ids."""

    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="papers")
    sheet = models.ForeignKey(Sheet, on_delete=models.PROTECT, related_name="+")
    rows = models.PositiveIntegerField()
    columns = models.PositiveIntegerField()
    loading = models.CharField(max_length=9, choices=Panel.Loading.choices)
    palette = models.JSONField(default=list)
    paper = models.CharField(max_length=6)
    created = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-created", "-pk"]

    def __str__(self) -> str:
        return f"chart paper of {self.piece}"


class PaperPage(models.Model):
    """One page of it that was photographed: `cells` and `second` are little-endian int16 numbers into the paper's
    palette, -1 empty, row by row; `asked` are the cells that were not sure, `crops` their pictures in that order, side
    by side, `unsure` those that nobody has looked at yet."""

    chart_paper = models.ForeignKey(ChartPaper, on_delete=models.CASCADE, related_name="pages")
    number = models.PositiveSmallIntegerField()
    cells = models.BinaryField()
    second = models.BinaryField()
    unsure = models.JSONField(default=list)
    asked = models.JSONField(default=list)
    crops = models.ForeignKey(StoredFile, null=True, on_delete=models.SET_NULL, related_name="+")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["chart_paper", "number"], name="a_page_is_read_once")]

    def __str__(self) -> str:
        return f"page {self.number}"


class LoadedRow(models.Model):
    """One row of one sheet that is in, said at the table. `chart_key` names the chart and the sheet plan that it
    was loaded from, `face` is 0, or 1 for the second sheet of a sandwich; `seconds` since the row before it."""

    panel = models.ForeignKey(Panel, on_delete=models.CASCADE, related_name="loaded")
    chart_key = models.CharField(max_length=64)
    face = models.PositiveSmallIntegerField(default=0)
    sheet_number = models.PositiveIntegerField()
    row = models.PositiveIntegerField()
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    at = models.DateTimeField()
    seconds = models.FloatField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["panel", "chart_key", "face", "sheet_number", "row"], name="a_row_is_loaded_once"
            )
        ]

    def __str__(self) -> str:
        return f"row {self.row} of sheet {self.sheet_number}"


class AtSheet(models.Model):
    """Who stands at which sheet of a panel, as their phone last said."""

    panel = models.ForeignKey(Panel, on_delete=models.CASCADE, related_name="at_table")
    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    face = models.PositiveSmallIntegerField(default=0)
    sheet_number = models.PositiveIntegerField()
    seen = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["panel", "user"], name="a_loader_is_at_one_sheet")]

    def __str__(self) -> str:
        return f"{self.user} at sheet {self.sheet_number}"


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
