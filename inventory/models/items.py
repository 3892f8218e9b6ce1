"""What can be in the store, and whom and where it comes from and lies."""

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import Q


class Item(models.Model):
    """Anything that is counted. Its kind's own data stands in Sheet, Latex, Hardware, Cylinder or Foil,
    which share its primary key. `reorder_level`: to be ordered again when less than that is free."""

    class Kind(models.TextChoices):
        SHEET = "sheet", "Sheet"
        LATEX = "latex", "Balloons"
        HARDWARE = "hardware", "Hardware"
        CYLINDER = "cylinder", "Gas cylinder"
        FOIL = "foil", "Foil shape"

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
    reorder_level = models.PositiveIntegerField(null=True, blank=True, validators=[MaxValueValidator(1_000_000)])
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
    """`edges_meet_in_part`: a neighbour may meet only part of an edge; otherwise corners meet corners.
    `odd_rows_shift`: on a staggered lattice every sheet starts unshifted, so one may only follow an even number of
    rows."""

    class Strips(models.TextChoices):
        ALL = "all", "On all four edges"
        SIDES = "sides", "Left and right"
        ENDS = "ends", "Top and bottom"
        NONE = "none", "It has none"

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
    sides_join = models.BooleanField(default=True)
    ends_join = models.BooleanField(default=True)
    edges_meet_in_part = models.BooleanField(default=True)
    odd_rows_shift = models.BooleanField(default=True)
    strips = models.CharField(max_length=5, choices=Strips.choices, default=Strips.ALL)
    can_be_cut = models.BooleanField(default=True)
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
            ("magnet", "Magnet"),
            ("line", "Line"),
            ("inflator", "Inflator"),
            ("sizer", "Sizer"),
            ("bin", "Bin or crate"),
            ("ribbon", "Ribbon"),
            ("weight", "Weight"),
            ("net", "Net for a drop"),
            ("other", "Other"),
        ],
        default="other",
    )


class Cylinder(Item):
    water_volume_l = models.FloatField(validators=[MinValueValidator(0.1), MaxValueValidator(200)])
    pressure_bar = models.FloatField(validators=[MinValueValidator(1), MaxValueValidator(300)])
    rented = models.BooleanField(default=False)
    rent_per_week = models.DecimalField(
        max_digits=8, decimal_places=2, default=Decimal(0), validators=[MinValueValidator(0), MaxValueValidator(99_999)]
    )


class Foil(Item):
    """A foil shape; what it holds and lifts stands on its packet. Without gas volume it is filled with air."""

    shape = models.CharField(max_length=40)
    height_cm = models.FloatField(null=True, blank=True, validators=[MinValueValidator(5), MaxValueValidator(500)])
    gas_volume_l = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0.1), MaxValueValidator(5000)]
    )
    lift_g = models.FloatField(null=True, blank=True, validators=[MinValueValidator(0), MaxValueValidator(5000)])


class Supplier(models.Model):
    """Whom items are bought from; an item names one by its name."""

    name = models.CharField(max_length=80, unique=True)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    our_number = models.CharField(max_length=40, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Bin(models.Model):
    """A place in the store; an item names one by its name. `position` is the order in which one walks past them."""

    name = models.CharField(max_length=20, unique=True)
    position = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["position", "name"]

    def __str__(self) -> str:
        return self.name
