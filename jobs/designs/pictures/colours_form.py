"""What may be chosen about a panel's colours."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
from django import forms

from decor.calc.pieces.panel import LOADINGS
from decor.studio.forms import SlipForm
from decor.studio.templatetags.desk import day_words
from jobs.designs.catalogue import Catalogue
from jobs.designs.models import Panel, PanelDraft, Piece
from jobs.designs.pictures.plots import fitted
from jobs.designs.pictures.recipe import Focus, Recipe, bits_text, bytes_bits, text_bits
from jobs.designs.swatches import ColourItems
from jobs.designs.taken import left_beside

KIND_WORDS = [
    ("auto", "as the program takes it"),
    ("flat", "flat art: a logo, a flag, lettering"),
    ("photograph", "a photograph"),
]
DIFFUSION_WORDS = [
    ("auto", "as the program thinks best"),
    ("none", "none: calm areas, quick to load"),
    ("some", "some"),
    ("full", "full: softest from afar, slowest to load"),
]
FOCUS_WORDS = [
    ("none", "everything counts alike"),
    ("found", "a face or the subject, found by the program"),
    ("painted", "what is marked on the picture"),
]
STRENGTH_WORDS = [("2", "a little more"), ("3", "clearly more"), ("6", "far more")]
OF_PICTURES = ("kind", "diffusion", "calm_ground", "gather")
BOX = ("first_row", "last_row", "first_column", "last_column")

BESIDE = {
    "palette": "may",
    "must": "must",
    "must_not": "may",
    "most_colours": "most_colours",
    "within_stock": "within_stock",
    "focus": "focus",
}
"""Beside which field the refusal of a recipe's part is said."""


class ColoursForm(SlipForm):
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
    panel_version = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
    kind = forms.ChoiceField(label="Kind of picture", choices=KIND_WORDS)
    diffusion = forms.ChoiceField(
        label="In-between shades",
        choices=DIFFUSION_WORDS,
        help_text="Mixed from neighbouring balloons; each mix costs time at the table.",
    )
    calm_ground = forms.BooleanField(label="Keep the background calm", required=False)
    most_colours = forms.IntegerField(
        label="At most so many colours",
        required=False,
        min_value=1,
        max_value=500,
        help_text="Left open: as many as help. The best ones are chosen of those ticked below.",
        error_messages={"min_value": "At least one colour is needed."},
    )
    may = ColourItems(label="Colours that may be used", error_messages={"required": "Tick at least one colour."})
    must = ColourItems(
        label="Colours that must be used",
        required=False,
        help_text="At least one balloon of each, where it changes the picture least.",
    )
    within_stock = forms.BooleanField(label="Never more of a colour than is free", required=False)
    focus = forms.ChoiceField(label="What keeps its colours", choices=FOCUS_WORDS)
    strength = forms.ChoiceField(label="It counts", choices=STRENGTH_WORDS)
    focus_cells = forms.CharField(widget=forms.HiddenInput, required=False)
    first_row = forms.IntegerField(label="From row", required=False, min_value=1)
    last_row = forms.IntegerField(label="to row", required=False, min_value=1)
    first_column = forms.IntegerField(label="From column", required=False, min_value=1)
    last_column = forms.IntegerField(label="to column", required=False, min_value=1)
    gather = forms.BooleanField(label="Gather single stray balloons", required=False)
    keep_painted = forms.BooleanField(label="Keep cells painted by hand", required=False)

    def __init__(
        self, data: Any = None, *, piece: Piece, draft: PanelDraft, recipe: Recipe, catalogue: Catalogue
    ) -> None:
        self.piece, self.stood = piece, recipe
        self.panel: Panel | None = getattr(piece, "panel", None)
        sheet = catalogue.sheet(recipe.sheet)
        loading = LOADINGS[recipe.loading]
        self.fitting = catalogue.fitting(sheet.sized_diameter_m, loading.shape) if sheet else ()
        self.free, self.beside = left_beside(piece, [item.id for item in self.fitting], catalogue)
        super().__init__(data, initial=self._initial(draft, recipe, catalogue))
        under = {number: f"{free:,} free" for number, free in self.free.items()}
        for name in ("may", "must"):
            self.fields[name].offer(self.fitting, under)
            self.fields[name].open_end = True
        for name in ("most_colours", *BOX):
            self.fields[name].open_end = True
        event = piece.event
        day = day_words(event.doors.astimezone(event.zone))
        self.fields["within_stock"].label = f"Never more of a colour than is free on {day}"
        if recipe.source != "picture":
            for name in OF_PICTURES:
                del self.fields[name]
        self.painted = self._painted()
        if self.painted:
            cells = "the one cell" if self.painted == 1 else f"the {self.painted:,} cells"
            self.fields["keep_painted"].label = f"Keep {cells} painted by hand"
        else:
            del self.fields["keep_painted"]

    def _painted(self) -> int:
        panel = self.panel
        if panel is None or (panel.rows, panel.columns) != (self.stood.rows, self.stood.columns):
            return 0
        return int(np.count_nonzero(bytes_bits(bytes(panel.painted), self.stood.cells)))

    def _initial(self, draft: PanelDraft, recipe: Recipe, catalogue: Catalogue) -> dict[str, Any]:
        def fit(numbers: tuple[int, ...]) -> list[int]:
            items = (fitted(catalogue.balloon(number), self.fitting) for number in numbers)
            return [item.id for item in items if item]

        ruled_out = set(fit(recipe.must_not))
        strength = min(STRENGTH_WORDS, key=lambda one: abs(float(one[0]) - recipe.focus.strength))[0]
        plain = {name: getattr(recipe, name) for name in (*OF_PICTURES, "most_colours", "within_stock", "keep_painted")}
        return plain | {
            "version": draft.version,
            "panel_version": self.panel.version if self.panel else 0,
            "may": [number for number in fit((*recipe.palette, *recipe.must)) if number not in ruled_out],
            "must": fit(recipe.must),
            "focus": recipe.focus.act,
            "strength": strength,
            "focus_cells": recipe.focus.cells,
        }

    def clean_focus_cells(self) -> str:
        text = self.cleaned_data["focus_cells"]
        try:
            return bits_text(text_bits(text, self.stood.cells))
        except ValueError:
            raise forms.ValidationError("The marked cells came in broken. Mark them again.") from None

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        box = [given.get(name) for name in BOX]
        if any(box) and not self.errors:
            self._mark_box(given, box)
        return given

    def _mark_box(self, given: dict[str, Any], box: list[int | None]) -> None:
        recipe = self.stood
        missing = next((name for name, value in zip(BOX, box, strict=True) if value is None), None)
        if missing:
            self.add_error(missing, "A box needs all four numbers.")
            return
        top, bottom, left, right = (value for value in box if value is not None)
        for name, first, last, most in (
            ("last_row", top, bottom, recipe.rows),
            ("last_column", left, right, recipe.columns),
        ):
            if not first <= last <= most:
                self.add_error(name, f"This counts from {first:,} to at most {most:,}.")
                return
        marked = text_bits(given["focus_cells"], recipe.cells).reshape(recipe.rows, recipe.columns)
        marked[top - 1 : bottom, left - 1 : right] = True
        given |= {"focus": "painted", "focus_cells": bits_text(marked)}

    def recipe(self) -> Recipe:
        """Of a valid form."""
        given = self.cleaned_data
        ids = [item.id for item in self.fitting]
        may = [number for number in ids if number in given["may"] or number in given["must"]]
        changes = {name: given[name] for name in OF_PICTURES if name in given}
        if "keep_painted" in given:
            changes["keep_painted"] = given["keep_painted"]
        return replace(
            self.stood,
            **changes,
            palette=tuple(may),
            must=tuple(given["must"]),
            must_not=tuple(number for number in ids if number not in may),
            most_colours=given["most_colours"],
            within_stock=given["within_stock"],
            focus=Focus(given["focus"], float(given["strength"]), given["focus_cells"]),
        )

    def refuse(self, about: str, message: str) -> None:
        """A recipe's refusal, beside the field that can put it right, where there is one."""
        name = BESIDE.get(about)
        self.add_error(name if name in self.fields else None, message)

    def slots(self) -> Mapping[str, list[str]]:
        """What is wrong beside each field, for the fields whose errors are shown without the page being drawn anew."""
        return {name: list(self.errors.get(name, [])) for name in self.fields if not self[name].is_hidden}

    def others(self) -> list[str]:
        """What is wrong that has no field in sight to stand beside."""
        hidden = [words for field in self.hidden_fields() for words in field.errors]
        return [*map(str, self.non_field_errors()), *map(str, hidden)]
