from typing import Any

from django import forms

from decor.studio.forms import SlipForm, SlipModelForm
from decor.studio.versions import VersionMixin
from jobs.designs.catalogue import LatexItem
from jobs.designs.models import Piece


class PieceForm(SlipModelForm):
    count = forms.IntegerField(
        label="How many alike",
        min_value=1,
        max_value=200,
        error_messages={"min_value": "There must be 1 or more.", "max_value": "At most 200 alike."},
    )

    class Meta:
        model = Piece
        fields = ["title", "count", "built_at", "fill"]
        labels = {"title": "Called", "built_at": "Built at", "fill": "Filled with"}
        help_texts = {"built_at": "where it is inflated and loaded"}
        widgets = {"built_at": forms.RadioSelect, "fill": forms.RadioSelect}


class PieceChangeForm(VersionMixin, PieceForm):
    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["version"].initial = self.instance.version


class PaintForm(SlipForm):
    """One cell by its numbers, counted from the origin corner: for keyboards and for browsers without script."""

    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1)
    row = forms.IntegerField(label="Row, from the top")
    column = forms.IntegerField(label="Column, from the left")
    colour = forms.TypedChoiceField(label="Colour", coerce=int)

    def __init__(self, *args: object, palette: list[LatexItem | None], version: int, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        named = [(at, item.words if item else "no longer in stock") for at, item in enumerate(palette)]
        self.fields["colour"].choices = [*named, (-1, "no balloon")]
        self.fields["version"].initial = version


def entered_and_stored(form: SlipForm, now: SlipForm) -> list[tuple[str, str, str]]:
    """(field, yours, theirs) wherever a valid form differs from what `now`, made of what is stored, starts with."""
    rows = []
    for name, field in form.fields.items():
        if isinstance(field, forms.FileField):
            continue
        yours = _words(field, form.cleaned_data.get(name))
        theirs = _words(now.fields[name], now.get_initial_for_field(now.fields[name], name))
        if yours != theirs:
            rows.append((field.label or name, yours, theirs))
    return rows


def _words(field: forms.Field, value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:g}"
    choices = {str(key): words for key, words in getattr(field, "choices", [])}
    if isinstance(value, list | tuple):
        return ", ".join(choices.get(str(one), str(one)) for one in value) or "nothing"
    return "nothing" if value in (None, "") else str(choices.get(str(value), value))
