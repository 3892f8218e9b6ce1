from datetime import date

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.utils import timezone

from decor.calc.units import METRES_PER_INCH
from decor.studio.forms import SlipForm, SlipModelForm
from decor.studio.models import Studio
from inventory.models import Cylinder, Hardware, Item, Latex, Lot, Sheet
from inventory.stocking import latex_name
from inventory.swatches import MIXED, NEAR, NearColour

MOST_PIECES = 1_000_000
FIRST_DAY, LAST_DAY = date(2000, 1, 1), date(2099, 12, 31)
"""Days of a lot outside are slips of the finger."""
TOO_FAR = "That is too far off. Check the year."
NOT_LONG_AGO = [MinValueValidator(FIRST_DAY, "That is too long ago. Check the year.")]
BUYING = ["pack_size", "pack_price", "lead_days", "supplier", "bin"]


class LengthField(forms.FloatField):
    """A short length, shown in millimetres or inches, kept in metres."""

    def __init__(self, *, metres_per_unit: float, low_m: float, high_m: float, **kwargs: object) -> None:
        self.metres_per_unit = metres_per_unit
        words = [f"{m / metres_per_unit:.4g}" for m in (low_m, high_m)]
        super().__init__(
            validators=[
                MinValueValidator(low_m * 0.9999, f"That is too short: {words[0]} or more."),
                MaxValueValidator(high_m * 1.0001, f"That is too long: {words[1]} or less."),
            ],
            **kwargs,
        )

    def prepare_value(self, value: object) -> object:
        return f"{value / self.metres_per_unit:.6g}" if isinstance(value, float) else value

    def to_python(self, value: object) -> float | None:
        number = super().to_python(value)
        return None if number is None else number * self.metres_per_unit


class ItemForm(SlipModelForm):
    """What every kind of item is asked for."""

    def __init__(self, *args: object, studio: Studio, **kwargs: object) -> None:
        self.metric = studio.units == "metric"
        super().__init__(*args, **kwargs)
        labels = {
            "returnable": "Comes back after an event",
            "pack_size": "How many in a pack",
            "pack_price": f"Price of a pack, {studio.currency}",
            "lead_days": "Days from order to delivery",
            "bin": "Where it lies in the store",
        }
        for name, label in labels.items():
            if name in self.fields:
                self.fields[name].label = label
        self.fields["pack_price"].min_value = 0
        self.fields["lead_days"].validators.append(MaxValueValidator(365))
        self.fields["pack_size"].validators.append(MaxValueValidator(MOST_PIECES))
        self.instance.kind = self.kind

    def length(self, name: str, label: str, low_m: float, high_m: float, *, required: bool = True) -> None:
        field = LengthField(
            label=f"{label}, {'mm' if self.metric else 'in'}",
            metres_per_unit=0.001 if self.metric else METRES_PER_INCH,
            low_m=low_m,
            high_m=high_m,
            required=required,
            help_text=self.fields[name].help_text,
        )
        self._dress(field)
        self.fields[name] = field

    def clean_name(self) -> str:
        return " ".join(self.cleaned_data["name"].split())


class SheetForm(ItemForm):
    kind = Item.Kind.SHEET

    class Meta:
        model = Sheet
        fields = [
            "name",
            "columns",
            "rows",
            "lattice",
            "pitch_m",
            "row_pitch_m",
            "sized_diameter_m",
            "tabs_per_side",
            "tabs_per_end",
            "weight_kg",
            "uses",
            "returnable",
            *BUYING,
        ]
        labels = {
            "lattice": "How the cells stand",
            "columns": "Cells wide",
            "rows": "Cells high",
            "tabs_per_side": "Join tabs on a left or right edge",
            "tabs_per_end": "Join tabs on a top or bottom edge",
            "weight_kg": "Weight of one sheet, kg",
            "uses": "How many events it lasts",
        }
        help_texts = {
            "lattice": "Square: straight below each other. The two others: every second row moved by half a cell.",
            "tabs_per_side": "0 when sheets are not joined there.",
            "tabs_per_end": "0 when sheets are not joined there.",
            "uses": "Each event is charged its share.",
        }

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.length("pitch_m", "From cell to cell along a row", 0.01, 1)
        self.length("row_pitch_m", "From row to row, when it differs", 0.01, 1, required=False)
        self.length("sized_diameter_m", "Balloons sized to", 0.02, 1)

    def clean(self) -> dict[str, object]:
        given = super().clean()
        if (given.get("uses") or 1) > 1 and not given.get("returnable"):
            self.add_error("returnable", "It lasts several events, so it comes back after each: tick this.")
        return given


class LatexForm(ItemForm):
    kind = Item.Kind.LATEX
    near = NearColour(label="Looks like")
    field_order = ["nominal_in", "shape", "colour", "finish", "near", "rgb", "mass_g", *BUYING]

    class Meta:
        model = Latex
        fields = ["nominal_in", "shape", "colour", "finish", "rgb", "mass_g", *BUYING]
        labels = {
            "nominal_in": "Size it is sold as, in",
            "colour": "Colour, in a word",
            "rgb": "Or mix it",
            "mass_g": "Weight of one balloon, g",
        }
        help_texts = {"mass_g": "Weigh twenty and divide; without it the size's usual weight is used."}

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        given = self.instance.rgb.lower()
        self.fields["rgb"].widget = forms.TextInput({"type": "color", "data-mix": ""})
        self.fields["rgb"].required = False
        self.fields["rgb"].optional_words = "when none of these is right"
        self.fields["near"].initial = given if given in NEAR.values() else (MIXED if given else None)
        self.fields["near"].widget.mixed_rgb = given or "#888888"
        self.fields["near"].error_messages["required"] = "Pick the nearest colour, or mix it and pick “as mixed”."
        if not given:
            self.initial["rgb"] = "#888888"

    def clean_colour(self) -> str:
        return " ".join(self.cleaned_data["colour"].lower().split())

    def clean(self) -> dict[str, object]:
        given = super().clean()
        if given.get("near") and given["near"] != MIXED:
            given["rgb"] = given["near"]
        elif given.get("near") == MIXED and not given.get("rgb") and "rgb" not in self.errors:
            self.add_error("rgb", "Mix the colour here.")
        parts = [given.get(name) for name in ("nominal_in", "shape", "colour", "finish")]
        if all(parts):
            self._settle_name(*parts)
        return given

    def _settle_name(self, nominal_in: object, shape: str, colour: str, finish: str) -> None:
        """Its name is made of what it is, so that nobody types it and two are never called alike."""
        name = latex_name(nominal_in=nominal_in, shape=shape, colour=colour, finish=finish)
        alike = Latex.objects.filter(nominal_in=nominal_in, shape=shape, colour__iexact=colour, finish=finish)
        others = Item.objects.exclude(pk=self.instance.pk)
        if alike.exclude(pk=self.instance.pk).exists() or others.filter(name__iexact=name).exists():
            self.add_error("colour", f"There is already an item “{name}”. Add a lot to that one, or use it again.")
        self.instance.name = name

    def validate_constraints(self) -> None:
        """The message above says it better, and beside the field."""


class HardwareForm(ItemForm):
    kind = Item.Kind.HARDWARE

    class Meta:
        model = Hardware
        fields = ["name", "purpose", "returnable", *BUYING]
        labels = {"purpose": "What it is"}
        help_texts = {"purpose": "By this an event that needs one finds it, such as poles and base plates."}


class CylinderForm(ItemForm):
    kind = Item.Kind.CYLINDER

    class Meta:
        model = Cylinder
        fields = ["name", "water_volume_l", "pressure_bar", "returnable", *BUYING]
        labels = {"water_volume_l": "Water volume, litres", "pressure_bar": "Pressure when full, bar"}
        help_texts = {"water_volume_l": "It is stamped on the shoulder."}


FORMS: dict[str, type[ItemForm]] = {form.kind: form for form in (LatexForm, SheetForm, HardwareForm, CylinderForm)}


class LotForm(SlipForm):
    quantity = forms.IntegerField(
        label="How many",
        min_value=1,
        max_value=MOST_PIECES,
        error_messages={"min_value": "A lot has one piece or more."},
    )
    here = forms.TypedChoiceField(
        label="Is it here?",
        choices=[("yes", "It is here"), ("no", "It is on order")],
        widget=forms.RadioSelect,
        coerce=lambda value: value == "yes",
        empty_value=None,
    )
    arrives_on = forms.DateField(label="Day it came, or should come", validators=NOT_LONG_AGO)
    use_by = forms.DateField(
        label="Use by", required=False, validators=[*NOT_LONG_AGO, MaxValueValidator(LAST_DAY, TOO_FAR)]
    )
    unit_cost = forms.DecimalField(
        label="Cost of one",
        min_value=0,
        max_digits=10,
        decimal_places=4,
        required=False,
        help_text="Left empty: the pack's price, shared out.",
    )
    note = forms.CharField(label="Note", max_length=120, required=False)

    def __init__(self, *args: object, item: Item, studio: Studio, used: int = 0, **kwargs: object) -> None:
        self.used, self.today = used, timezone.localdate()
        super().__init__(*args, **kwargs)
        self.fields["unit_cost"].label += f", {studio.currency}"
        pack = f"A pack holds {item.pack_size:,}." if item.pack_size > 1 else ""
        self.fields["quantity"].help_text = pack + (f" {used:,} of these are used already." if used else "")
        for name in ("use_by", "unit_cost", "note"):
            self.fields[name].optional_words = "if you like"

    def clean_quantity(self) -> int:
        quantity = self.cleaned_data["quantity"]
        if quantity < self.used:
            raise forms.ValidationError(f"{self.used:,} of this lot are used already, so it can't be fewer.")
        return quantity

    def clean(self) -> dict[str, object]:
        given = super().clean()
        here, day, use_by = given.get("here"), given.get("arrives_on"), given.get("use_by")
        if day and here and day > self.today:
            self.add_error("arrives_on", "That day is still to come; if it is on order, say so above.")
        if day and here is False and day > LAST_DAY:
            self.add_error("arrives_on", TOO_FAR)
        if day and here is False and day < self.today:
            self.add_error("arrives_on", "That day is past. If it came, say so above; if it is late, give the new day.")
        if day and use_by and use_by < day:
            self.add_error("use_by", "It would be past its use before it comes.")
        return given

    def lot_fields(self) -> dict[str, object]:
        given = dict(self.cleaned_data)
        given["received"] = given.pop("here")
        return given

    @classmethod
    def of(cls, lot: Lot, **kwargs: object) -> "LotForm":
        initial = {name: getattr(lot, name) for name in ("quantity", "arrives_on", "use_by", "note")}
        initial["unit_cost"] = f"{lot.unit_cost.normalize():f}"
        return cls(initial=initial | {"here": "yes" if lot.received else "no"}, **kwargs)


class ReceiveForm(SlipForm):
    quantity = forms.IntegerField(
        label="How many came",
        min_value=1,
        max_value=MOST_PIECES,
        error_messages={"min_value": "If none came, leave the order open or take it away."},
    )
    on = forms.DateField(label="Day it came", validators=NOT_LONG_AGO)

    def clean_on(self) -> date:
        if self.cleaned_data["on"] > timezone.localdate():
            raise forms.ValidationError("That day is still to come.")
        return self.cleaned_data["on"]
