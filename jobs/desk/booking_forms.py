from types import ModuleType
from typing import Any

from django import forms

from decor.studio.forms import SlipForm
from jobs.designs.models import Piece
from jobs.events.models import Event


class PieceForm(SlipForm):
    """What is asked of every kind of piece."""

    count = forms.IntegerField(label="How many alike", min_value=1, max_value=200, initial=1)
    built_at = forms.ChoiceField(
        label="Built at", choices=Piece.BuiltAt.choices, widget=forms.RadioSelect, initial=Piece.BuiltAt.WORKSHOP
    )
    fill = forms.ChoiceField(
        label="Filled with", choices=Piece.Fill.choices, widget=forms.RadioSelect, initial=Piece.Fill.AIR
    )
    title = forms.CharField(label="Called", max_length=120, required=False)


class PieceForms:
    """The common questions and the kind's own, as one form to whoever fills it in."""

    def __init__(self, kind: ModuleType, data: Any = None, piece: dict[str, Any] | None = None) -> None:
        self.kind = kind
        given = piece or {}
        own_title = given.get("title", "") if given.get("title") != kind.NAME else ""
        self.rough = kind.RoughForm(data, prefix="rough", initial=given.get("measures", {}))
        self.common = PieceForm(data, initial={**given, "title": own_title})

    def is_valid(self) -> bool:
        return all([self.rough.is_valid(), self.common.is_valid()])

    @property
    def errors(self) -> dict[str, Any]:
        return {**self.rough.errors, **self.common.errors}

    def non_field_errors(self) -> list[str]:
        return [*self.rough.non_field_errors(), *self.common.non_field_errors()]

    def __iter__(self) -> Any:
        yield from self.rough
        yield from self.common

    def piece(self, key: str) -> dict[str, Any]:
        """One rough piece of a draft; `key` tells it from its neighbours while the list changes."""
        common = self.common.cleaned_data
        return {
            "key": key,
            "kind": self.kind.KEY,
            "count": common["count"],
            "built_at": common["built_at"],
            "fill": common["fill"],
            "title": common["title"] or self.kind.NAME,
            "measures": self.kind.rough_json(self.rough.cleaned_data),
        }


class SaveForm(SlipForm):
    title = forms.CharField(
        label="What to call the event",
        max_length=Event._meta.get_field("title").max_length,
        error_messages={"required": "Give the event a name."},
    )
    note = forms.CharField(
        label="Notes", required=False, max_length=4000, widget=forms.Textarea, help_text="what the caller said besides"
    )
