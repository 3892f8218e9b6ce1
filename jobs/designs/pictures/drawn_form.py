"""What the pages of words and of patterns ask alike: sheet, way to load, size, stock."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from django import forms

from decor.calc.picture.colour import delta_e_2000, srgb_to_lab
from decor.calc.pieces.panel import LOADINGS
from decor.studio.forms import SlipForm
from decor.studio.numbers import whole
from decor.studio.templatetags.desk import day_words
from jobs.designs.catalogue import Catalogue, LatexItem, SheetType
from jobs.designs.models import Panel, PanelDraft, Piece
from jobs.designs.panel_form import LATTICE_WORDS
from jobs.designs.pictures.plots import fitted
from jobs.designs.pictures.recipe import Recipe
from jobs.designs.swatches import Swatches
from jobs.designs.taken import left_beside

BESIDE = {"rows": "wide", "columns": "wide", "sheet": "sheet", "within_stock": "within_stock"}
"""Beside which field the refusal of a recipe's part is said, where it has another name there."""


class SwatchRadios(Swatches, forms.RadioSelect):
    """One colour of many, as balloons; the empty choice is a dashed ring."""

    no_rgb = ""


class OneColour(forms.TypedChoiceField):
    """A balloon, or none where `none` says what that means."""

    def __init__(self, *, none: str = "", plain: bool = False, **kwargs: Any) -> None:
        self.none = none
        super().__init__(
            coerce=int,
            empty_value=None,
            required=not none,
            widget=forms.Select() if plain else SwatchRadios(),
            error_messages={
                "required": "Choose a colour.",
                "invalid_choice": "This colour has no balloons of the size and shape that this sheet needs.",
            },
            **kwargs,
        )

    def offer(self, items: Sequence[LatexItem], free: Mapping[int, int]) -> None:
        self.open_end = True
        named = [(item.id, item.words) for item in items]
        if isinstance(self.widget, SwatchRadios):
            self.widget.rgb = {str(item.id): item.rgb for item in items}
            self.widget.under = {str(item.id): f"{free.get(item.id, 0):,} free" for item in items}
        else:
            named = [(item.id, f"{item.words}, {free.get(item.id, 0):,} free") for item in items]
        self.choices = [("", self.none), *named] if self.none else named


class DrawnForm(SlipForm):
    """A form over a draft whose cells the program draws itself; `SOURCE` is what its recipe then says."""

    SOURCE = ""
    COLOURS: tuple[str, ...] = ()
    """Fields that name one balloon each."""

    version = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
    panel_version = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
    sheet = forms.TypedChoiceField(label="Sheet", coerce=int, error_messages={"required": "Choose a sheet type."})
    loading = forms.ChoiceField(label="Way to load", choices=Panel.Loading.choices)
    wide = forms.IntegerField(label="Wide, in cells", required=False, min_value=1, max_value=100_000)
    high = forms.IntegerField(label="High, in cells", required=False, min_value=1, max_value=100_000)
    within_stock = forms.BooleanField(label="Never more of a colour than is free", required=False)

    def __init__(
        self, data: Any = None, *, piece: Piece, draft: PanelDraft, recipe: Recipe, catalogue: Catalogue
    ) -> None:
        self.piece, self.stood, self.catalogue = piece, recipe, catalogue
        self.panel: Panel | None = getattr(piece, "panel", None)
        asked = data or {}
        self.sheet_type = self._sheet(whole(str(asked.get("sheet", ""))))
        loading = LOADINGS.get(str(asked.get("loading", "")), LOADINGS[recipe.loading])
        self.fitting = catalogue.fitting(self.sheet_type.sized_diameter_m, loading.shape) if self.sheet_type else ()
        self.free, self.beside = left_beside(piece, [item.id for item in self.fitting], catalogue)
        if data is not None:
            data = data.copy()
            for name in self.COLOURS:
                if data.get(name):
                    data[name] = str(self.fit(whole(str(data[name]))) or data[name])
        usual = {
            "version": draft.version,
            "panel_version": self.panel.version if self.panel else 0,
            "sheet": recipe.sheet,
            "loading": recipe.loading,
            "within_stock": recipe.within_stock,
        }
        super().__init__(data, initial=usual | self.stored(recipe))
        self._offer(piece)

    def _sheet(self, number: int) -> SheetType | None:
        return self.catalogue.sheet(number) or self.catalogue.sheet(self.stood.sheet)

    def _offer(self, piece: Piece) -> None:
        self.fields["sheet"].choices = [
            (sheet.id, f"{sheet.name}, {LATTICE_WORDS[sheet.lattice]}")
            for sheet in self.catalogue.sheets
            if sheet.active or sheet.id == self.stood.sheet
        ]
        for name in self.COLOURS:
            self.fields[name].offer(self.fitting, self.free)
        day = day_words(piece.event.doors.astimezone(piece.event.zone))
        self.fields["within_stock"].label = f"Never more of a colour than is free on {day}"
        self.fields["wide"].open_end = self.fields["high"].open_end = True

    def stored(self, recipe: Recipe) -> dict[str, Any]:
        """What the recipe already says of this form's own fields."""
        raise NotImplementedError

    def drawn(self, recipe: Recipe) -> Recipe:
        """The recipe with what this form says of its own; of a valid form."""
        raise NotImplementedError

    def fit(self, number: int | None) -> int | None:
        """The same colour in the size and shape that the sheet needs."""
        item = fitted(self.catalogue.balloon(number), self.fitting) if number else None
        return item.id if item else None

    def ground_and_others(self) -> list[int]:
        """The lightest of the colours at hand, then the others, the one that stands out most from it first."""
        wanted = [number for number in map(self.fit, self.stood.palette) if number]
        items = [item for item in self.fitting if item.id in wanted] or list(self.fitting)
        if not items:
            return []
        lab = srgb_to_lab(np.array([item.srgb for item in items]))
        ground = int(lab[:, 0].argmax())
        order = np.argsort(-delta_e_2000(lab, lab[ground]), kind="stable")
        return [items[ground].id, *(items[at].id for at in order.tolist() if at != ground)]

    def recipe(self) -> Recipe:
        """Of a valid form."""
        given = self.cleaned_data
        named = [given[name] for name in self.COLOURS if given[name]]
        palette = tuple(dict.fromkeys([*self.stood.palette, *named]))
        return self.drawn(
            replace(
                self.stood,
                source=self.SOURCE,
                sheet=given["sheet"],
                loading=given["loading"],
                within_stock=given["within_stock"],
                palette=palette,
                must=(),
                must_not=tuple(number for number in self.stood.must_not if number not in named),
                most_colours=None,
                gather=False,
            )
        )

    def refuse(self, about: str, message: str) -> None:
        name = BESIDE.get(about, about)
        self.add_error(name if name in self.fields else None, message)

    def chosen(self) -> dict[str, str]:
        """By field the words of the colour that it stands at."""
        return {
            name: dict(map(_named, self.fields[name].choices)).get(str(self[name].value() or ""), "")
            for name in self.COLOURS
        }

    def slots(self) -> Mapping[str, list[str]]:
        return {name: list(self.errors.get(name, [])) for name in self.fields if not self[name].is_hidden}


def _named(choice: tuple[object, str]) -> tuple[str, str]:
    return str(choice[0]), choice[1]
