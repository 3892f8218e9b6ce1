from decimal import Decimal

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator

from decor.calc.picture.lattice import MOST_CELLS
from decor.calc.units import METRES_PER_INCH
from decor.studio.forms import SlipModelForm
from decor.studio.models import Studio
from inventory.models import Cylinder, Foil, Hardware, Item, Latex, Sheet
from inventory.stocking import latex_name
from inventory.suggestions import Suggested, as_known, bins_known, suppliers_known
from inventory.swatches import MIXED, NEAR, NearColour

MOST_PIECES = 1_000_000
OWN_HAS_NO_RENT = "One of your own has no rent: say that it is rented, or leave this empty."
LIFT_NEEDS_GAS = "It lifts something, so it holds gas: say how much."
LASTS_SO_COMES_BACK = "It lasts several events, so it comes back after each: tick this."
BUYING = ["pack_size", "pack_price", "lead_days", "supplier", "bin", "reorder_level"]


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
    """What every kind of item is asked for. `counted`: what is compared with the level to order again at; of what comes
    back it is all that the studio has, of what is used up what nobody was promised."""

    counted = "yours"

    def __init__(self, *args: object, studio: Studio, **kwargs: object) -> None:
        self.metric = studio.units == "metric"
        super().__init__(*args, **kwargs)
        labels = {
            "returnable": "Comes back after an event",
            "pack_size": "How many in a pack",
            "pack_price": f"Price of a pack, {studio.currency}",
            "lead_days": "Days from order to delivery",
            "bin": "Where it lies in the store",
            "reorder_level": f"Order again when fewer are {self.counted} than",
        }
        for name, label in labels.items():
            if name in self.fields:
                self.fields[name].label = label
        if "returnable" in self.fields:
            self.fields["reorder_level"].help_text = "Of what does not come back, those that are free count."
        self.known = {"supplier": suppliers_known(), "bin": bins_known()}
        for name, words in self.known.items():
            self.fields[name].widget = Suggested(words, self.fields[name].widget.attrs)
        self.fields["reorder_level"].optional_words = "if you like"
        self.fields["pack_price"].min_value = 0
        self.fields["lead_days"].validators.append(MaxValueValidator(365))
        self.fields["pack_size"].validators = [MinValueValidator(1), MaxValueValidator(MOST_PIECES)]
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
        name = " ".join(self.cleaned_data["name"].split())
        # A list to check and a list brought in find a thing by its name, whatever its capitals.
        others = Item.objects.exclude(pk=self.instance.pk).values_list("name", flat=True)
        alike = next((other for other in others if other.casefold() == name.casefold()), "")
        if alike:
            raise forms.ValidationError(f"There is already an item “{alike}”.")
        return name

    def clean_supplier(self) -> str:
        return as_known(self.cleaned_data["supplier"], self.known["supplier"])

    def clean_bin(self) -> str:
        return as_known(self.cleaned_data["bin"], self.known["bin"])


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
            "sides_join",
            "ends_join",
            "edges_meet_in_part",
            "odd_rows_shift",
            "strips",
            "can_be_cut",
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
            "sides_join": "Sheets join side by side",
            "ends_join": "Sheets join one below another",
            "edges_meet_in_part": "A neighbour may meet part of an edge",
            "odd_rows_shift": "Every sheet starts with its rows alike",
            "strips": "Edge strips",
            "can_be_cut": "It may be cut along its straps",
            "weight_kg": "Weight of one sheet, kg",
            "uses": "How many events it lasts",
        }
        help_texts = {
            "lattice": "Square: straight below each other. The two others: every second row moved by half a cell.",
            "tabs_per_side": "Along the whole edge; 0 when there are none.",
            "tabs_per_end": "Along the whole edge; 0 when there are none.",
            "edges_meet_in_part": "Without it sheets lie in a plain grid, corner to corner.",
            "odd_rows_shift": "Matters with moved rows: then a sheet can only follow an even number of rows. "
            "Untick it if these sheets also fit after an odd row.",
            "strips": "The strips that hold a packed sheet flat.",
            "can_be_cut": "Without it spare cells are folded back.",
            "uses": "Each event is charged its share.",
        }

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.length("pitch_m", "From cell to cell along a row", 0.01, 1)
        self.length("row_pitch_m", "From row to row", 0.01, 1, required=False)
        self.fields["row_pitch_m"].optional_words = "when it differs"
        self.length("sized_diameter_m", "Balloons sized to", 0.02, 1)
        for name in ("columns", "rows", "uses"):
            # The model's own bounds at once, before what they make together is told.
            self.fields[name].validators = list(Sheet._meta.get_field(name).validators)

    def clean(self) -> dict[str, object]:
        given = super().clean()
        cells = (given.get("rows") or 0) * (given.get("columns") or 0)
        if cells > MOST_CELLS:
            self.add_error("columns", f"That would be {cells:,} cells; a sheet has {MOST_CELLS:,} at most.")
        if (given.get("uses") or 1) > 1 and not given.get("returnable"):
            self.add_error("returnable", LASTS_SO_COMES_BACK)
        return given


class LatexForm(ItemForm):
    kind = Item.Kind.LATEX
    counted = "free"
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
        fields = ["name", "water_volume_l", "pressure_bar", "rented", "rent_per_week", "returnable", *BUYING]
        labels = {
            "water_volume_l": "Water volume, litres",
            "pressure_bar": "Pressure when full, bar",
            "rented": "It is rented",
        }
        help_texts = {
            "water_volume_l": "It is stamped on the shoulder.",
            "rented": "The price of a pack below is then that of a filling.",
        }

    def __init__(self, *args: object, studio: Studio, **kwargs: object) -> None:
        super().__init__(*args, studio=studio, **kwargs)
        rent = self.fields["rent_per_week"]
        rent.label, rent.required, rent.optional_words = f"Rent a week, {studio.currency}", False, "when it is rented"
        if not self.instance.rented:
            self.initial["rent_per_week"] = None

    def clean(self) -> dict[str, object]:
        given = super().clean()
        rent = given.get("rent_per_week")
        if "rent_per_week" in self.errors:
            return given
        if given.get("rented") and rent is None:
            self.add_error("rent_per_week", "Give the rent of a week, 0 when there is none.")
        elif rent and not given.get("rented"):
            self.add_error("rent_per_week", OWN_HAS_NO_RENT)
        given["rent_per_week"] = rent or Decimal(0)
        return given


class FoilForm(ItemForm):
    """What it holds and lifts is read off its packet, and may be left out: some are filled with air."""

    kind = Item.Kind.FOIL
    counted = "free"

    class Meta:
        model = Foil
        fields = ["name", "shape", "height_cm", "gas_volume_l", "lift_g", *BUYING]
        labels = {
            "shape": "Shape, in a word",
            "height_cm": "Height when full, cm",
            "gas_volume_l": "Gas it holds, litres",
            "lift_g": "What it lifts, g",
        }
        help_texts = {
            "shape": "Star, heart, the figure four.",
            "gas_volume_l": "From its packet. Left empty, it is filled with air.",
            "lift_g": "From its packet: what it carries besides itself.",
        }

    def clean_shape(self) -> str:
        return " ".join(self.cleaned_data["shape"].lower().split())

    def clean(self) -> dict[str, object]:
        given = super().clean()
        if given.get("lift_g") and "gas_volume_l" in given and given["gas_volume_l"] is None:
            self.add_error("gas_volume_l", LIFT_NEEDS_GAS)
        return given


FORMS: dict[str, type[ItemForm]] = {
    form.kind: form for form in (LatexForm, SheetForm, HardwareForm, CylinderForm, FoilForm)
}
