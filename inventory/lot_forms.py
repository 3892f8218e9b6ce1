"""What is asked about a delivery, noted or received."""

from datetime import date

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.utils import timezone

from decor.studio.forms import SlipForm
from decor.studio.models import Studio
from inventory.forms import MOST_PIECES
from inventory.models import Item, Lot, Sheet

FIRST_DAY, LAST_DAY = date(2000, 1, 1), date(2099, 12, 31)
"""Days of a lot outside are slips of the finger."""
TOO_FAR = "That is too far off. Check the year."
NOT_LONG_AGO = [MinValueValidator(FIRST_DAY, "That is too long ago. Check the year.")]


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
    batch = forms.CharField(
        label="Maker's batch",
        max_length=40,
        required=False,
        help_text="It stands on the bag. Shades differ from batch to batch.",
    )
    uses_left = forms.IntegerField(
        label="Uses left of each",
        required=False,
        min_value=1,
        max_value=10_000,
        help_text="Left empty: as many as a new one stands.",
    )
    note = forms.CharField(label="Note", max_length=120, required=False)

    def __init__(self, *args: object, item: Item, studio: Studio, used: int = 0, **kwargs: object) -> None:
        self.used, self.today = used, timezone.localdate()
        super().__init__(*args, **kwargs)
        self.fields["unit_cost"].label += f", {studio.currency}"
        pack = f"A pack holds {item.pack_size:,}." if item.pack_size > 1 else ""
        taken = f" {used:,} of these are used, or for events that have begun." if used else ""
        self.fields["quantity"].help_text = pack + taken
        self.lasts = uses_of(item)
        if not self.lasts:
            del self.fields["uses_left"]
        for name in {"use_by", "unit_cost", "batch", "uses_left", "note"} & set(self.fields):
            self.fields[name].optional_words = "if you like"

    def clean_quantity(self) -> int:
        quantity = self.cleaned_data["quantity"]
        if quantity < self.used:
            taken = f"{self.used:,} of this lot are used, or for events that have begun"
            raise forms.ValidationError(f"{taken}: it can't be fewer.")
        return quantity

    def clean_uses_left(self) -> int | None:
        uses = self.cleaned_data["uses_left"]
        if uses is not None and uses > self.lasts:
            raise forms.ValidationError(f"A new one stands {self.lasts:,} uses, so it can't have more left.")
        return None if uses == self.lasts else uses

    def clean(self) -> dict[str, object]:
        given = super().clean()
        here, day, use_by = given.get("here"), given.get("arrives_on"), given.get("use_by")
        if "batch" in given:
            given["batch"] = " ".join(given["batch"].split())
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
        initial = {
            name: getattr(lot, name) for name in ("quantity", "arrives_on", "use_by", "batch", "uses_left", "note")
        }
        initial["unit_cost"] = f"{lot.unit_cost.normalize():f}"
        return cls(initial=initial | {"here": "yes" if lot.received else "no"}, **kwargs)


def uses_of(item: Item) -> int:
    """How many uses a new one stands, of sheets that stand several; else nought."""
    if item.kind != Item.Kind.SHEET or not item.returnable:
        return 0
    uses = Sheet.objects.filter(pk=item.pk).values_list("uses", flat=True).first() or 0
    return uses if uses > 1 else 0


class ReceiveForm(SlipForm):
    quantity = forms.IntegerField(
        label="How many came",
        min_value=1,
        max_value=MOST_PIECES,
        error_messages={"min_value": "If none came, leave the order open or take it away."},
    )
    on = forms.DateField(label="Day it came", validators=NOT_LONG_AGO)
    use_by = forms.DateField(
        label="Use by", required=False, validators=[*NOT_LONG_AGO, MaxValueValidator(LAST_DAY, TOO_FAR)]
    )
    batch = forms.CharField(
        label="Maker's batch",
        max_length=40,
        required=False,
        help_text="It stands on the bag. Shades differ from batch to batch.",
    )

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        for name in ("use_by", "batch"):
            self.fields[name].optional_words = "if you like"

    def clean(self) -> dict[str, object]:
        given = super().clean()
        if given.get("on") and given.get("use_by") and given["use_by"] < given["on"]:
            self.add_error("use_by", "It would be past its use before it came.")
        given["batch"] = " ".join((given.get("batch") or "").split())
        return given

    def clean_on(self) -> date:
        if self.cleaned_data["on"] > timezone.localdate():
            raise forms.ValidationError("That day is still to come.")
        return self.cleaned_data["on"]
