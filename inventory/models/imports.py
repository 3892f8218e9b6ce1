"""Lists that were brought in, row by row, and photographs that a colour is read from."""

from django.conf import settings
from django.db import models
from django.utils import timezone

from decor.studio.models import BackgroundJob, StoredFile
from inventory.models.items import Item


class StockImport(models.Model):
    """One file. `columns` says for each of its headings which of our columns it is, "" for left out. `stock_key` is
    a digest of the stock that the dry run was made against: while it stands, what the dry run says stands."""

    class State(models.TextChoices):
        COLUMNS = "columns", "Waiting for its columns"
        CHECKING = "checking", "Being checked"
        CHECKED = "checked", "Checked"
        TAKING = "taking", "Being taken over"
        TAKEN = "taken", "Taken over"
        UNDOING = "undoing", "Being taken back"
        UNDONE = "undone", "Taken back"

    file = models.ForeignKey(StoredFile, on_delete=models.PROTECT, related_name="+")
    original_name = models.CharField(max_length=200)
    encoding = models.CharField(max_length=20)
    guessed = models.BooleanField(default=False)
    delimiter = models.CharField(max_length=1)
    headings = models.JSONField(default=list)
    columns = models.JSONField(default=list)
    all_kind = models.CharField(max_length=10, blank=True, choices=Item.Kind.choices)
    state = models.CharField(max_length=8, choices=State.choices, default=State.COLUMNS)
    job = models.ForeignKey(BackgroundJob, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    runs = models.PositiveIntegerField(default=0)
    stock_key = models.CharField(max_length=64, blank=True)
    made = models.PositiveIntegerField(default=0)
    changed = models.PositiveIntegerField(default=0)
    same = models.PositiveIntegerField(default=0)
    wrong = models.PositiveIntegerField(default=0)
    created = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    taken_at = models.DateTimeField(null=True, blank=True)
    undone_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return self.original_name


class ImportRow(models.Model):
    """What one row of the file comes to. `item` is no foreign key: it outlives the item that it made.

    `data`: {"values": {field: value}} of a new item, {"changes": {field: [old, new]}} of a changed one, and
    {"errors": [[heading, words]]}, {"notes": [words]}, {"opening": pieces on hand} where there are any."""

    class State(models.TextChoices):
        WRONG = "wrong", "In error"
        NEW = "new", "New"
        CHANGED = "changed", "Changed"
        SAME = "same", "Unchanged"

    batch = models.ForeignKey(StockImport, on_delete=models.CASCADE, related_name="rows")
    number = models.PositiveIntegerField()
    state = models.CharField(max_length=7, choices=State.choices)
    kind = models.CharField(max_length=10, blank=True)
    item = models.BigIntegerField(null=True, blank=True)
    name = models.CharField(max_length=200, blank=True)
    data = models.JSONField(default=dict)

    class Meta:
        ordering = ["number"]
        indexes = [models.Index(fields=["batch", "state", "number"], name="import_row_state")]

    def __str__(self) -> str:
        return f"row {self.number}: {self.state}"


class ColourPhoto(models.Model):
    """An inflated balloon beside a white card. `card` and `balloon` are what of it is looked at, as shares of its
    width and height: left, top, right, bottom; `rgb` is what comes of it."""

    item = models.ForeignKey(Item, on_delete=models.CASCADE, related_name="photos")
    file = models.ForeignKey(StoredFile, on_delete=models.PROTECT, related_name="+")
    card = models.JSONField()
    balloon = models.JSONField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    created = models.DateTimeField(default=timezone.now)
    taken_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.item}, {self.created:%Y-%m-%d}"
