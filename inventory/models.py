"""What the studio has and what it has promised. Knows nothing of jobs: a reservation carries its own
label and span."""

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import F, Q
from django.utils import timezone


class Item(models.Model):
    """Anything that is counted. Its kind's own data stands in Sheet, Latex, Hardware or Cylinder,
    which share its primary key."""

    class Kind(models.TextChoices):
        SHEET = "sheet", "Sheet"
        LATEX = "latex", "Balloons"
        HARDWARE = "hardware", "Hardware"
        CYLINDER = "cylinder", "Gas cylinder"

    kind = models.CharField(max_length=10, choices=Kind.choices, editable=False)
    name = models.CharField(max_length=80, unique=True)
    returnable = models.BooleanField(default=False)
    pack_size = models.PositiveIntegerField(default=1, validators=[MinValueValidator(1)])
    # The most is what one piece's cost, kept with four places, still has room for.
    pack_price = models.DecimalField(
        max_digits=10,
        decimal_places=2,
        default=Decimal(0),
        validators=[MinValueValidator(0), MaxValueValidator(999_999)],
    )
    lead_days = models.PositiveSmallIntegerField(default=5)
    supplier = models.CharField(max_length=80, blank=True)
    bin = models.CharField(max_length=20, blank=True)
    active = models.BooleanField(default=True)

    class Meta:
        ordering = ["kind", "name"]
        constraints = [models.CheckConstraint(condition=Q(pack_size__gt=0), name="pack_size_positive")]

    def __str__(self) -> str:
        return self.name

    @property
    def unit_cost(self) -> Decimal:
        return self.pack_price / self.pack_size


class Sheet(Item):
    class Lattice(models.TextChoices):
        SQUARE = "square", "Square"
        OFFSET = "offset", "Offset rows"
        HEX = "hex", "Hexagonal"

    rows = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(500)])
    columns = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(500)])
    lattice = models.CharField(max_length=6, choices=Lattice.choices, default=Lattice.SQUARE)
    pitch_m = models.FloatField(validators=[MinValueValidator(0.01), MaxValueValidator(1)])
    row_pitch_m = models.FloatField(null=True, blank=True, validators=[MinValueValidator(0.01), MaxValueValidator(1)])
    sized_diameter_m = models.FloatField(validators=[MinValueValidator(0.02), MaxValueValidator(1)])
    tabs_per_side = models.PositiveSmallIntegerField(
        default=0, validators=[MaxValueValidator(500)], help_text="join tabs along a left or right edge"
    )
    tabs_per_end = models.PositiveSmallIntegerField(
        default=0, validators=[MaxValueValidator(500)], help_text="join tabs along a top or bottom edge"
    )
    weight_kg = models.FloatField(default=0.1, validators=[MinValueValidator(0), MaxValueValidator(100)])
    uses = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1), MaxValueValidator(10_000)])


class Latex(Item):
    class Shape(models.TextChoices):
        ROUND = "round", "Round"
        DOUBLE_ENDED = "double-ended", "Double-ended"
        LONG = "long", "Long"

    class Finish(models.TextChoices):
        PLAIN = "plain", "Plain"
        PEARL = "pearl", "Pearl"
        METALLIC = "metallic", "Metallic"
        CLEAR = "clear", "Clear"

    nominal_in = models.DecimalField(
        max_digits=4, decimal_places=1, validators=[MinValueValidator(1), MaxValueValidator(72)]
    )
    shape = models.CharField(max_length=12, choices=Shape.choices, default=Shape.ROUND)
    colour = models.CharField(max_length=30)
    finish = models.CharField(max_length=8, choices=Finish.choices, default=Finish.PLAIN)
    rgb = models.CharField(
        max_length=7,
        validators=[RegexValidator(r"^#[0-9a-fA-F]{6}$", "Write the colour as # and six digits, like #7db3d8.")],
    )
    mass_g = models.FloatField(null=True, blank=True, validators=[MinValueValidator(0.1), MaxValueValidator(2000)])

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["nominal_in", "shape", "colour", "finish"],
                name="one_latex_per_size_shape_colour_finish",
            )
        ]


class Hardware(Item):
    purpose = models.CharField(
        max_length=20,
        choices=[
            ("pole", "Pole"),
            ("base", "Base plate"),
            ("clip", "Clip"),
            ("line", "Line"),
            ("inflator", "Inflator"),
            ("sizer", "Sizer"),
            ("other", "Other"),
        ],
        default="other",
    )


class Cylinder(Item):
    water_volume_l = models.FloatField(validators=[MinValueValidator(0.1), MaxValueValidator(200)])
    pressure_bar = models.FloatField(validators=[MinValueValidator(1), MaxValueValidator(300)])


class Lot(models.Model):
    """One delivery. One that is not `received` is on order and counts from `arrives_on`, if it arrives."""

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="lots")
    quantity = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    arrives_on = models.DateField()
    received = models.BooleanField(default=True)
    use_by = models.DateField(null=True, blank=True)
    unit_cost = models.DecimalField(
        max_digits=10, decimal_places=4, default=Decimal(0), validators=[MinValueValidator(0)]
    )
    note = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["arrives_on", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="lot_quantity_positive"),
            models.CheckConstraint(
                condition=Q(use_by__isnull=True) | Q(use_by__gte=F("arrives_on")),
                name="lot_usable_after_arrival",
            ),
        ]
        indexes = [models.Index(fields=["item", "arrives_on"], name="lot_item_arrives")]

    def __str__(self) -> str:
        return f"{self.quantity} × {self.item}"


class Reservation(models.Model):
    """A promise to an event for a span. A hold stops counting when it lapses, with nobody's help."""

    class State(models.TextChoices):
        HOLD = "hold", "On hold"
        CONFIRMED = "confirmed", "Confirmed"
        RELEASED = "released", "Released"

    label = models.CharField(max_length=120)
    starts = models.DateTimeField()
    ends = models.DateTimeField()
    state = models.CharField(max_length=9, choices=State.choices, default=State.HOLD)
    expires = models.DateTimeField(null=True, blank=True)
    created = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(ends__gt=F("starts")), name="reservation_ends_after_start"),
            models.CheckConstraint(condition=~Q(state="hold") | Q(expires__isnull=False), name="hold_has_an_end"),
        ]

    def __str__(self) -> str:
        return self.label


class ReservationLine(models.Model):
    """The only record of what is promised. The span is repeated here so that one index answers `free`."""

    reservation = models.ForeignKey(Reservation, on_delete=models.CASCADE, related_name="lines")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="reserved")
    quantity = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    starts = models.DateTimeField()
    ends = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="line_quantity_positive"),
            models.CheckConstraint(condition=Q(ends__gt=F("starts")), name="line_ends_after_start"),
            models.UniqueConstraint(fields=["reservation", "item"], name="one_line_per_item"),
        ]
        indexes = [models.Index(fields=["item", "starts", "ends"], name="line_item_span")]

    def __str__(self) -> str:
        return f"{self.quantity} × {self.item}"
