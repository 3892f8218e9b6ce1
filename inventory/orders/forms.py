"""What is asked about an order: when it is due, and what came of it."""

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator
from django.utils import timezone

from decor.studio.forms import SlipForm
from inventory.forms import MOST_PIECES
from inventory.gap_words import name_of
from inventory.lot_forms import LAST_DAY, NOT_LONG_AGO, TOO_FAR
from inventory.models import Item, Lot
from inventory.ordering import MOST_PACKS
from inventory.receiving import Came

NOT_PACKS = "Say how many, in whole figures."
TOO_MANY = "That is more than anybody orders."
NOT_PAST = "That day is past. When should it come?"
USABLE = [*NOT_LONG_AGO, MaxValueValidator(LAST_DAY, TOO_FAR)]


class PacksForm(SlipForm):
    """So many packs of one item."""

    packs = forms.IntegerField(
        label="How many packs",
        min_value=1,
        max_value=MOST_PACKS,
        error_messages={"min_value": NOT_PACKS, "max_value": TOO_MANY},
    )

    def __init__(self, *args: Any, item: Item, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if item.pack_size == 1:
            self.fields["packs"].label = "How many"
        else:
            self.fields["packs"].help_text = f"A pack holds {item.pack_size:,}."


class DueForm(SlipForm):
    due_on = forms.DateField(label="Day it should come")

    def clean_due_on(self) -> date:
        return coming(self.cleaned_data["due_on"])


class SendForm(DueForm):
    """`to` is where the program can send it; without one it is sent by hand, and only said to be."""

    by_mail = forms.BooleanField(required=False, initial=True)

    def __init__(self, *args: Any, to: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if to:
            self.fields["by_mail"].label = f"Send it to {to} now, with the PDF and the table"
        else:
            del self.fields["by_mail"]


def coming(day: date) -> date:
    if day < timezone.localdate():
        raise forms.ValidationError(NOT_PAST)
    if day > LAST_DAY:
        raise forms.ValidationError(TOO_FAR)
    return day


class UntilForm(SlipForm):
    until = forms.DateField(label="For events up to")
    firm = forms.BooleanField(label="Without what is only on hold", required=False)
    open = forms.BooleanField(label="Also for events to which nothing is promised yet", required=False)

    def clean_until(self) -> date:
        day: date = self.cleaned_data["until"]
        if day < timezone.localdate():
            raise forms.ValidationError("That day is past. Ask from today on.")
        if day > LAST_DAY:
            raise forms.ValidationError(TOO_FAR)
        return day


class ReceiveOrderForm(SlipForm):
    """For each expected lot how many came, and what stands on the bag."""

    on = forms.DateField(label="Day it came", validators=NOT_LONG_AGO)
    rest = forms.ChoiceField(
        label="What did not come",
        choices=[("later", "is still to come"), ("never", "will not come: write it off")],
        widget=forms.RadioSelect,
        initial="later",
    )
    rest_due = forms.DateField(label="Day the rest should come", required=False)
    more = forms.BooleanField(label="More came than was ordered", required=False)

    def __init__(self, *args: Any, lots: Iterable[Lot], currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lots, self.asks_more = list(lots), False
        self.fields["rest_due"].optional_words = "if there is a rest"
        for lot in self.lots:
            for name, field in self._fields_of(lot, currency):
                self._dress(field)
                self.fields[f"{name}-{lot.pk}"] = field

    @staticmethod
    def _fields_of(lot: Lot, currency: str) -> list[tuple[str, forms.Field]]:
        optional = {"required": False}
        found: list[tuple[str, forms.Field]] = [
            ("came", forms.IntegerField(label="How many came", min_value=0, max_value=MOST_PIECES)),
            ("use_by", forms.DateField(label="Use by", validators=USABLE, **optional)),
            ("batch", forms.CharField(label="Maker's batch", max_length=40, **optional)),
            (
                "cost",
                forms.DecimalField(
                    label=f"Cost of one, {currency}", min_value=0, max_digits=10, decimal_places=4, **optional
                ),
            ),
        ]
        found[0][1].initial, found[3][1].initial = lot.quantity, f"{lot.unit_cost.normalize():f}"
        for _, field in found[1:]:
            field.optional_words = "if you like"
        return found

    def of_lot(self, lot: Lot) -> list[Any]:
        return [self[f"{name}-{lot.pk}"] for name in ("came", "use_by", "batch", "cost")]

    @property
    def groups(self) -> list[tuple[Lot, str, list[Any]]]:
        return [(lot, name_of(lot.item), self.of_lot(lot)) for lot in self.lots]

    def clean_on(self) -> date:
        day: date = self.cleaned_data["on"]
        if day > timezone.localdate():
            raise forms.ValidationError("That day is still to come.")
        return day

    def clean(self) -> dict[str, Any]:
        given: dict[str, Any] = super().clean()
        if self.errors:
            return given
        came = self._numbers()
        for lot in self.lots:
            use_by = given.get(f"use_by-{lot.pk}")
            if use_by and use_by < given["on"]:
                self.add_error(f"use_by-{lot.pk}", "It would be past its use before it came.")
            self._check_more(lot, came[lot], said=given["more"])
        if not any(came.values()) and given["rest"] == "later":
            self.add_error(None, "If nothing came, give the order a new day instead.")
        if given["rest"] == "later" and _lacks(came):
            self._check_rest(given)
        return given

    def _numbers(self) -> dict[Lot, int]:
        return {lot: self.cleaned_data[f"came-{lot.pk}"] for lot in self.lots}

    def _check_more(self, lot: Lot, came: int, *, said: bool) -> None:
        """A digit too many is noticed where it was typed, not on the shelf."""
        if came <= lot.quantity:
            return
        self.asks_more = True
        if not said:
            words = f"{lot.quantity:,} were ordered. If more came, tick that below; else put it right."
            self.add_error(f"came-{lot.pk}", words)

    def _check_rest(self, given: dict[str, Any]) -> None:
        if given.get("rest_due") is None:
            self.add_error("rest_due", "Not all of it came. When should the rest come?")
            return
        try:
            coming(given["rest_due"])
        except forms.ValidationError as refusal:
            self.add_error("rest_due", refusal)

    @property
    def came(self) -> list[Came]:
        """Of a form without errors."""
        given = self.cleaned_data
        return [
            Came(
                lot.pk,
                given[f"came-{lot.pk}"],
                given.get(f"use_by-{lot.pk}"),
                " ".join((given.get(f"batch-{lot.pk}") or "").split()),
                given.get(f"cost-{lot.pk}"),
            )
            for lot in self.lots
        ]

    @property
    def due(self) -> date | None:
        """Only a rest has a day: what stands in the field when all came says nothing, and was not checked."""
        given = self.cleaned_data
        if given["rest"] == "never":
            return None
        due: date | None = given.get("rest_due")
        return due if due and _lacks(self._numbers()) else timezone.localdate()


def _lacks(came: Mapping[Lot, int]) -> bool:
    return any(number < lot.quantity for lot, number in came.items())
