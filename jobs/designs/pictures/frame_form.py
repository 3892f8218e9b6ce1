"""How a picture is framed: which part of it, how turned and lit, on what ground, how large, in what outline."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from django import forms

from decor.calc.picture.lattice import MOST_CELLS
from decor.calc.pieces.panel import LOADINGS
from decor.studio.forms import SlipForm
from decor.studio.numbers import whole
from decor.studio.pictures import CleanPicture
from decor.studio.sent_pictures import PICTURES, taken
from jobs.designs.catalogue import Catalogue, SheetType
from jobs.designs.fits import Fit, cells_for
from jobs.designs.lengths import UNITS, SizeField, figure, to_m, unit_of
from jobs.designs.models import Panel, PanelDraft, Piece
from jobs.designs.panel_form import LATTICE_WORDS
from jobs.designs.pictures.drawn_form import OneColour
from jobs.designs.pictures.plots import fitted
from jobs.designs.pictures.recipe import FramePart, Ground, Outline, Recipe
from jobs.designs.pictures.shown import mirrored, seen_box, seen_level_deg, turned, with_seen_box
from jobs.designs.pictures.sizes import columns_for, rows_for
from jobs.designs.taken import free_beside

MOST_LEVEL = 15
LEAST_LEFT = 2
"""Of the picture's width or height, in percent."""
CUTS = ("cut_left", "cut_top", "cut_right", "cut_bottom")
GROUND_WORDS = [
    ("keep", "keep it as it is"),
    ("empty", "take it away: no balloons there"),
    ("colour", "put one colour in its place"),
]
OUTLINE_WORDS = {
    "whole": "the whole rectangle",
    "round": "round",
    "heart": "heart",
    "arch": "arch: straight below, half round above",
    "letters": "letters: the picture fills big letters",
    "see-through": "as the picture itself: see-through parts stay empty",
    "painted": "as it was painted, cell by cell",
}
BESIDE = {"rows": "width", "columns": "width", "sheet": "sheet", "palette": "sheet"}


class Slider(forms.NumberInput):
    """Of the browser's own kind: by finger, mouse and arrow keys, and without script."""

    input_type = "range"


def _share(label: str) -> forms.FloatField:
    return forms.FloatField(
        label=label,
        required=False,
        min_value=0,
        max_value=100 - LEAST_LEFT,
        error_messages={"min_value": "This must be 0 or more.", "max_value": f"At most {100 - LEAST_LEFT} %%."},
    )


def _slide(label: str, most: int, step: float) -> forms.FloatField:
    return forms.FloatField(label=label, required=False, min_value=-most, max_value=most, step_size=step)


class PictureForm(SlipForm):
    """Another picture, or the first one."""

    picture = forms.FileField(
        label="Picture",
        help_text="A photograph or logo as JPEG, PNG, WebP or HEIC, up to 15 MB and 40 megapixels.",
        widget=forms.FileInput({"accept": PICTURES}),
        error_messages={"required": "Choose a picture.", "empty": "This file is empty."},
    )

    def clean_picture(self) -> CleanPicture:
        return taken(self.cleaned_data["picture"])


class FrameForm(SlipForm):
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
    panel_version = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
    cut_left = _share("Off at the left, %")
    cut_top = _share("Off at the top, %")
    cut_right = _share("Off at the right, %")
    cut_bottom = _share("Off at the foot, %")
    level = _slide("Level", MOST_LEVEL, 0.5)
    brightness = _slide("Lighter or darker", 100, 5)
    contrast = _slide("Contrast", 100, 5)
    ground = forms.ChoiceField(label="A plain background", choices=GROUND_WORDS, widget=forms.RadioSelect)
    ground_latex = OneColour(label="The background's colour", none="not chosen")
    sheet = forms.TypedChoiceField(label="Sheet", coerce=int, error_messages={"required": "Choose a sheet type."})
    unit = forms.ChoiceField(label="Size in", choices=UNITS)
    width = SizeField(label="Wide", required=False)
    height = SizeField(label="High", required=False)
    outline = forms.ChoiceField(label="Outline", widget=forms.RadioSelect)
    outline_text = forms.CharField(label="The letters", required=False, max_length=40)

    def __init__(
        self,
        data: Any = None,
        *,
        piece: Piece,
        draft: PanelDraft,
        recipe: Recipe,
        catalogue: Catalogue,
        size_px: tuple[int, int],
        see_through: bool,
    ) -> None:
        self.piece, self.stood, self.catalogue, self.size_px = piece, recipe, catalogue, size_px
        self.panel: Panel | None = getattr(piece, "panel", None)
        sheet = catalogue.sheet(whole(str((data or {}).get("sheet", "")))) or catalogue.sheet(recipe.sheet)
        self.fitting = catalogue.fitting(sheet.sized_diameter_m, LOADINGS[recipe.loading].shape) if sheet else ()
        self.free = free_beside(piece, [item.id for item in self.fitting], catalogue)
        super().__init__(data, initial=self._initial(draft, recipe, sheet))
        self._offer(recipe, see_through=see_through)

    def _offer(self, recipe: Recipe, *, see_through: bool) -> None:
        self.fields["sheet"].choices = [
            (sheet.id, f"{sheet.name}, {LATTICE_WORDS[sheet.lattice]}")
            for sheet in self.catalogue.sheets
            if sheet.active or sheet.id == recipe.sheet
        ]
        self.fields["ground_latex"].offer(self.fitting, self.free)
        self.fields["outline"].choices = [
            (kind, words)
            for kind, words in OUTLINE_WORDS.items()
            if kind == recipe.outline.kind
            or kind not in ("see-through", "painted")
            or (kind == "see-through" and see_through)
        ]
        for name in ("level", "brightness", "contrast"):
            field = self.fields[name]
            attrs = {"min": field.min_value, "max": field.max_value, "step": field.step_size}
            field.widget = Slider(attrs)
        for name in (*CUTS, "width", "height", "outline_text"):
            self.fields[name].open_end = True

    def _initial(self, draft: PanelDraft, recipe: Recipe, sheet: SheetType | None) -> dict[str, Any]:
        left, top, right, bottom = seen_box(recipe.frame)
        cuts = zip(CUTS, (left, top, 1.0 - right, 1.0 - bottom), strict=True)
        fit = [fitted(self.catalogue.balloon(n), self.fitting) for n in (recipe.frame.ground.latex,) if n]
        return {
            "version": draft.version,
            "panel_version": self.panel.version if self.panel else 0,
            **{name: figure(round(share * 100, 1)) for name, share in cuts},
            "level": seen_level_deg(recipe.frame),
            "brightness": round(recipe.frame.brightness * 100),
            "contrast": round(recipe.frame.contrast * 100),
            "ground": recipe.frame.ground.act,
            "ground_latex": fit[0].id if fit and fit[0] else None,
            "sheet": recipe.sheet,
            "outline": recipe.outline.kind,
            "outline_text": recipe.outline.text,
        } | self._size(recipe, sheet)

    def _size(self, recipe: Recipe, sheet: SheetType | None) -> dict[str, Any]:
        """The height is left open where the picture keeps its shape."""
        unit = self.piece.measures.get("unit") or unit_of(self.catalogue.units)
        if sheet is None or not recipe.cells:
            return {"unit": unit, "width": "", "height": ""}
        lattice = sheet.lattice_of(recipe.rows, recipe.columns)
        wide, high = (recipe.columns, recipe.rows)
        if unit != "cells":
            wide, high = (size / to_m(1.0, unit) for size in (lattice.width_m, lattice.height_m))
        follows = _sized(sheet, unit, float(figure(wide)), None, self.tall(recipe.frame)).rows == recipe.rows
        return {"unit": unit, "width": figure(wide), "height": "" if follows else figure(high)}

    def tall(self, frame: FramePart) -> float:
        """How many times as high as wide the framed picture is."""
        wide, high = self.size_px[0] * (frame.right - frame.left), self.size_px[1] * (frame.bottom - frame.top)
        return wide / high if frame.turn in (90, 270) else high / wide

    # --- what was sent

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        for name in CUTS:
            if name not in self.errors:
                given[name] = given.get(name) or 0.0
        for first, last in (("cut_left", "cut_right"), ("cut_top", "cut_bottom")):
            if not {first, last} & set(self.errors) and given[first] + given[last] > 100 - LEAST_LEFT:
                self.add_error(last, "Both together leave nothing of the picture.")
        if given.get("ground") == "colour" and not given.get("ground_latex") and "ground_latex" not in self.errors:
            self.add_error("ground_latex", "Choose the colour that goes there.")
        if given.get("outline") == "letters" and not (given.get("outline_text") or "").strip():
            self.add_error("outline_text", "Write the letters.")
        if not {"width", "height"} & set(self.errors) and not (given.get("width") or given.get("height")):
            self.add_error("width", "Say how wide or how high it is; the other may stay empty.")
        if not self.errors:
            self.fit = self._fit(given)
        return given

    def _frame(self, given: Mapping[str, Any]) -> FramePart:
        stood = self.stood.frame
        box = tuple(given[name] / 100 for name in CUTS)
        box = (box[0], box[1], 1.0 - box[2], 1.0 - box[3])
        if all(abs(one - other) < 0.00051 for one, other in zip(box, seen_box(stood), strict=True)):
            frame = stood  # shown rounded, so that it stays exact
        else:
            frame = with_seen_box(stood, box)
        level = given.get("level") or 0.0
        return replace(
            frame,
            level_deg=-level if stood.mirror else level,
            brightness=(given.get("brightness") or 0.0) / 100,
            contrast=(given.get("contrast") or 0.0) / 100,
            ground=Ground(given["ground"], given["ground_latex"]),
        )

    def _fit(self, given: Mapping[str, Any]) -> Fit | None:
        sheet = self.catalogue.sheet(given["sheet"])
        width, height, tall = given["width"], given["height"], self.tall(self._frame(given))
        odd = [name for name in ("width", "height") if given[name] and not given[name].is_integer()]
        if given["unit"] == "cells" and odd:
            self.add_error(odd[0], "Cells are whole numbers.")
            return None
        fit = _sized(sheet, given["unit"], width, height, tall)
        if (cells := fit.rows * fit.columns) > MOST_CELLS:
            self.add_error(
                "width" if width else "height",
                f"This makes {fit.columns:,} wide and {fit.rows:,} high, {cells:,} cells; the most is {MOST_CELLS:,}.",
            )
        return fit

    def recipe(self, act: str = "") -> Recipe:
        """Of a valid form; ``act`` may turn or mirror what was sent, show the whole picture again, or choose a
        suggested size ("size-22x26", rows and columns)."""
        given = self.cleaned_data
        frame = self._frame(given)
        frame = {"turn": turned, "mirror": mirrored, "whole": _whole}.get(act, lambda same: same)(frame)
        recipe = replace(
            self.stood,
            source="picture",
            frame=frame,
            sheet=self.fit.sheet.id,
            rows=self.fit.rows,
            columns=self.fit.columns,
            outline=self._outline(given),
        )
        if act.startswith("size-"):
            rows, _, columns = act.removeprefix("size-").partition("x")
            return replace(recipe, rows=max(1, whole(rows)), columns=max(1, whole(columns)))
        if act in ("turn", "whole") and not (given["width"] and given["height"]):
            return self._reshaped(recipe, given)
        return recipe

    def _reshaped(self, recipe: Recipe, given: Mapping[str, Any]) -> Recipe:
        """The side that was said stays, the other follows the picture."""
        tall = self.tall(recipe.frame)
        if given["width"]:
            return replace(
                recipe, rows=min(rows_for(self.fit.sheet, recipe.columns, tall), MOST_CELLS // recipe.columns)
            )
        return replace(recipe, columns=min(columns_for(self.fit.sheet, recipe.rows, tall), MOST_CELLS // recipe.rows))

    def _outline(self, given: Mapping[str, Any]) -> Outline:
        stood = self.stood.outline
        return replace(stood, kind=given["outline"], text=given["outline_text"].strip())

    def refuse(self, about: str, message: str) -> None:
        name = BESIDE.get(about, about)
        if about == "outline" and self.asked_for("outline") == "letters":
            name = "outline_text"
        self.add_error(name if name in self.fields else None, message)

    def asked_for(self, name: str) -> str:
        return str(self[name].value() or "")

    def slots(self) -> Mapping[str, list[str]]:
        return {name: list(self.errors.get(name, [])) for name in self.fields if not self[name].is_hidden}


def _sized(sheet: SheetType, unit: str, width: float | None, height: float | None, tall: float) -> Fit:
    """One of the two sizes may be open: it follows the picture."""
    if unit != "cells":
        wide_m, high_m = (size and to_m(size, unit) for size in (width, height))
        return cells_for(sheet, wide_m or high_m / tall, high_m or wide_m * tall)
    if width is None:
        rows = int(height or 1)
        return Fit(sheet, rows, columns_for(sheet, min(rows, MOST_CELLS), tall))
    columns = int(width)
    return Fit(sheet, int(height) if height else rows_for(sheet, min(columns, MOST_CELLS), tall), columns)


def _whole(frame: FramePart) -> FramePart:
    return replace(frame, left=0.0, top=0.0, right=1.0, bottom=1.0)
