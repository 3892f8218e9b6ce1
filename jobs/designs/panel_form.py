"""What a picture panel is made from: a picture, a sheet type, a size, a way to load, colours."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

from django import forms
from django.core import signing
from django.core.files.uploadedfile import UploadedFile
from django.http import QueryDict
from django.urls import reverse

from decor.calc.picture.framing import framed_size
from decor.calc.picture.lattice import MOST_CELLS
from decor.calc.pieces.panel import LOADINGS
from decor.studio.forms import SlipForm
from decor.studio.models import StoredFile
from decor.studio.numbers import whole
from decor.studio.pictures import CleanPicture, PictureRefused, read_picture
from decor.studio.sent_pictures import PICTURES, taken
from decor.studio.services import file_read, file_store
from decor.studio.templatetags.desk import day_words
from jobs.designs.catalogue import Catalogue, LatexItem
from jobs.designs.fits import Fit, cells_for, rough_fit
from jobs.designs.lengths import SHORT, UNITS, SizeField, figure, to_m, unit_of
from jobs.designs.measured import Measured
from jobs.designs.models import Panel, Piece
from jobs.designs.pictures.aiming import MakingRefused, framing_of
from jobs.designs.pictures.drafts import recipe_of
from jobs.designs.pictures.keeping import by_hand, gone_words
from jobs.designs.pictures.making import made
from jobs.designs.pictures.recipe import Recipe, RecipeRefused
from jobs.designs.swatches import ColourItems
from jobs.designs.taken import free_beside

BESIDE = {
    "palette": "colours", "must": "colours", "must_not": "colours", "most_colours": "colours",
    "within_stock": "within_stock", "rows": "width", "words": "width", "sheet": "sheet",
}  # fmt: skip
"""Beside which field the refusal of a recipe's part is said; of all others beside the picture."""
LATTICE_WORDS = {"square": "square", "offset": "offset rows", "hex": "hexagonal"}
KEPT_SALT = "jobs.designs.kept-picture"
KEPT_FOR = timedelta(hours=20)


COLOURS_FOLLOW = {
    "hx-trigger": "change",
    "hx-include": "[name=sheet],[name=loading],[name=colours]:checked",
    "hx-target": "#id_colours",
    "hx-swap": "outerHTML",
    "hx-sync": "closest form:replace",  # of two quick changes the last one counts
}


class PanelForm(SlipForm):
    ACT = "Show the chart"

    picture = forms.FileField(
        label="Picture",
        help_text="A photograph or logo as JPEG, PNG, WebP or HEIC, up to 15 MB and 40 megapixels.",
        widget=forms.FileInput({"accept": PICTURES}),
        error_messages={"required": "Choose a picture.", "empty": "This file is empty."},
    )
    sheet = forms.TypedChoiceField(label="Sheet", coerce=int, error_messages={"required": "Choose a sheet type."})
    loading = forms.ChoiceField(label="Way to load", choices=Panel.Loading.choices)
    colours = ColourItems(label="Colours", error_messages={"required": "Choose at least one colour."})
    within_stock = forms.BooleanField(label="Never more of a colour than is free", required=False)
    kept = forms.CharField(widget=forms.HiddenInput, required=False)
    unit = forms.ChoiceField(label="Size in", choices=UNITS)
    width = SizeField(label="Wide", required=False)
    height = SizeField(label="High", required=False)

    def __init__(
        self,
        data: Any = None,
        files: Any = None,
        *,
        piece: Piece,
        catalogue: Catalogue,
        filled_in: QueryDict | None = None,
    ) -> None:
        self.filled_in = filled_in
        self.piece, self.catalogue = piece, catalogue
        self.panel: Panel | None = getattr(piece, "panel", None)
        super().__init__(data, files, initial=_initial(piece, self.panel, catalogue))
        self._offer_sheets()
        sheet = catalogue.sheet(whole(self.asked("sheet")))
        loading = LOADINGS.get(self.asked("loading"))
        self.each = loading.balloons if loading else 1
        self.fitting = catalogue.fitting(sheet.sized_diameter_m, loading.shape) if sheet and loading else ()
        self._offer_colours()
        self.fields["height"].help_text = _height_hint(piece)
        if self.panel is None and not piece.measures.get("colours"):
            self.fields["colours"].help_text = "All that fit the sheet are ticked; the best of them are taken."
        # One of the two is asked for, which "if known" would not say.
        self.fields["width"].open_end = self.fields["height"].open_end = True
        address = reverse("jobs:piece-colours", args=[piece.event_id, piece.pk])
        for name in ("sheet", "loading"):
            self.fields[name].widget.attrs |= COLOURS_FOLLOW | {"hx-get": address}
        self.kept = self._kept()
        if self.kept:
            self.fields["picture"].required = False
            self.fields["picture"].help_text = f"{self.kept.original_name} is kept; choose one only to change it."
        if self.panel:
            kept = "this one" if self.panel.picture_id else "this chart"
            self.fields["picture"].required = False
            self.fields["picture"].label = f"Another picture, or none to keep {kept}"
            self.fields["picture"].open_end = True

    def _offer_sheets(self) -> None:
        mine = self.panel.sheet_id if self.panel else None
        self.fields["sheet"].choices = [
            (sheet.id, f"{sheet.name}, {LATTICE_WORDS[sheet.lattice]}")
            for sheet in self.catalogue.sheets
            if sheet.active or sheet.id == mine
        ]

    def _offer_colours(self) -> None:
        self.free = free_beside(self.piece, [item.id for item in self.fitting], self.catalogue)
        self.fields["colours"].offer(self.fitting, {number: f"{free:,} free" for number, free in self.free.items()})
        if self.is_bound:
            self.data = self.data.copy()
            self.data.setlist("colours", [self._fitted(value) for value in self.data.getlist("colours")])

    def _fitted(self, value: str) -> str:
        """The same colour in the size and shape that this sheet and way of loading need, where there is one:
        the colours shown are those of the sheet that was chosen when the page was drawn."""
        item = self.catalogue.balloon(whole(value))
        same = next((other for other in self.fitting if item and other.words == item.words), None)
        return str(same.id) if same else value

    @classmethod
    def colours_for(cls, filled_in: QueryDict, *, piece: Piece, catalogue: Catalogue) -> "PanelForm":
        """The form while it is being filled in: only its colours are right."""
        form = cls(piece=piece, catalogue=catalogue, filled_in=filled_in)
        form.initial["colours"] = [form._fitted(value) for value in filled_in.getlist("colours")]
        return form

    def asked(self, name: str) -> str:
        source = self.data if self.is_bound else self.filled_in
        value = source.get(name) if source else None
        return str(value or self.initial.get(name) or "")

    def clean_picture(self) -> CleanPicture | None:
        sent: UploadedFile | None = self.cleaned_data.get("picture")
        if not sent:
            return self._kept_picture()
        return taken(sent)

    def _kept(self) -> StoredFile | None:
        """The good picture of a form that was refused for something else, named by a token that only this piece's
        form was given."""
        try:
            number = signing.loads(self.asked("kept"), salt=f"{KEPT_SALT}:{self.piece.pk}", max_age=KEPT_FOR)
        except signing.BadSignature:
            return None
        return StoredFile.objects.filter(pk=number).first()

    def _kept_picture(self) -> CleanPicture | None:
        try:
            return read_picture(file_read(file=self.kept)) if self.kept else None
        except (FileNotFoundError, PictureRefused) as gone:
            raise forms.ValidationError("Choose the picture again.") from gone

    def keep_picture(self) -> None:
        """Of a refused form: a browser can't send a file twice by itself, and a phone's photograph is long to send.
        What nothing comes of is swept away the next day."""
        picture: CleanPicture | None = self.cleaned_data.get("picture")
        if picture is None or not self.files:
            return
        name = self.files["picture"].name
        self.kept = file_store(data=picture.data, mime=picture.content_type, original_name=name)
        self.data["kept"] = signing.dumps(self.kept.pk, salt=f"{KEPT_SALT}:{self.piece.pk}")
        # The bound field took its hint from the field when the form was checked.
        self["picture"].help_text = " ".join([f"{name} is kept; choose one only to change it.", *picture.notes])

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        if not {"width", "height"} & set(self.errors) and not (given["width"] or given["height"]):
            self.add_error("width", "Say how wide or how high it is; the other may stay empty.")
        if not self.errors:
            self._make_chart(given)
        return given

    def _make_chart(self, given: dict[str, Any]) -> None:
        sent: CleanPicture | None = given["picture"]
        fit = self._fit(given, *_pixels(sent, self.panel))
        items = [item for item in self.fitting if item.id in given["colours"]]
        if given["within_stock"]:
            self._nothing_free(items)
        if self.errors:
            return
        recipe = self._recipe(given, fit, items)
        try:
            data = sent.data if sent else self._stands()
            self.made = made(
                recipe, data, catalogue=self.catalogue, piece=self.piece, free=self.free, anew=sent is not None
            )
        except MakingRefused as refusal:
            self.add_error(BESIDE.get(refusal.about, "picture"), refusal.message)
        except PictureRefused as refusal:
            self.add_error("picture", refusal.message)
        except FileNotFoundError:
            self.add_error("picture", "This picture is no longer on the disk. Choose it again.")

    def _stands(self) -> bytes | None:
        return file_read(file=self.panel.picture) if self.panel.picture_id else None

    def _recipe(self, given: dict[str, Any], fit: Fit, items: list[LatexItem]) -> Recipe:
        """What the panel's chart was made of, in this size, on this sheet and in these colours; of another picture
        the program chooses all else."""
        stood = _stood(self.panel) if self.panel and not given["picture"] else Recipe()
        palette = tuple(item.id for item in items)
        return replace(
            stood,
            palette=palette,
            must=tuple(one for one in stood.must if one in palette),
            must_not=(),
            within_stock=given["within_stock"],
            sheet=fit.sheet.id,
            rows=fit.rows,
            columns=fit.columns,
            loading=given["loading"],
        )

    def _fit(self, given: dict[str, Any], width_px: float, height_px: float) -> Fit | None:
        sheet = self.catalogue.sheet(given["sheet"])
        width, height, tall = given["width"], given["height"], height_px / width_px
        if given["unit"] != "cells":
            wide_m, high_m = (size and to_m(size, given["unit"]) for size in (width, height))
            fit = cells_for(sheet, wide_m or high_m / tall, high_m or wide_m * tall)
        elif any(size and not size.is_integer() for size in (width, height)):
            self.add_error("width" if width and not width.is_integer() else "height", "Cells are whole numbers.")
            return None
        else:
            fit = _in_cells(sheet, width, height, tall)
        cells = fit.rows * fit.columns
        if cells > MOST_CELLS:
            words = (
                f"This makes {fit.columns:,} wide and {fit.rows:,} high, {cells:,} cells; the most is {MOST_CELLS:,}."
            )
            self.add_error("width" if width else "height", words)
        return fit

    def _nothing_free(self, items: list[LatexItem]) -> None:
        none = [item.words for item in items if not self.free.get(item.id)]
        if none:
            some = " and ".join(none)
            self.add_error(
                "colours", f"No {some} balloons are free on {self._day()}. Untick {some}, or the limit below."
            )

    def _day(self) -> str:
        event = self.piece.event
        return day_words(event.doors.astimezone(event.zone))

    def _picture_name(self) -> str:
        if self.files:
            return str(self.files["picture"].name)
        return self.kept.original_name if self.kept else ""

    @property
    def notes(self) -> tuple[str, ...]:
        """What the sender is to know of a picture that was taken, and of its chart."""
        picture: CleanPicture | None = self.cleaned_data["picture"]
        notes = picture.notes if picture else ()
        return tuple(filter(None, (*notes, *self.made.warnings, gone_words(self.made.gone))))

    @property
    def warns(self) -> bool:
        return bool(self.made.warnings)

    @property
    def goes(self) -> str:
        """What would be lost by the form's button, to be said before it is pressed."""
        cells = by_hand(self.panel)
        if not cells:
            return ""
        some = "One cell was" if cells == 1 else f"{cells:,} cells were"
        return (
            f"{some} painted by hand or locked. With another picture or another size they are not in the new chart; "
            "the one that stands is kept and can be put back."
        )

    def measured(self) -> Measured:
        given = self.cleaned_data
        measures = {name: given[name] for name in ("width", "height", "unit", "loading", "sheet", "within_stock")}
        return Measured(
            measures,
            self.made.charted(picture=given["picture"], picture_name=self._picture_name()),
        )


def _initial(piece: Piece, panel: Panel | None, catalogue: Catalogue) -> dict[str, Any]:
    """What is stored; of a rough panel its width only, so that the picture keeps its shape."""
    measures = piece.measures
    sheets = catalogue.sheets_on_offer
    start = {
        "unit": unit_of(catalogue.units),
        "sheet": sheets[0].id if sheets else None,
        "loading": "paired",
    } | measures
    if panel is None:
        start |= {"height": None, "sheet": rough_fit(measures, catalogue).sheet.id if sheets else None}
        sheet = catalogue.sheet(start["sheet"])
        names = measures.get("colours") or []
        items = [
            catalogue.in_colour(n, sheet.sized_diameter_m, LOADINGS[start["loading"]].shape) for n in names if sheet
        ]
        fitting = catalogue.fitting(sheet.sized_diameter_m, LOADINGS[start["loading"]].shape) if sheet else ()
        start["colours"] = [item.id for item in items if item] or [item.id for item in fitting]
    else:
        start |= {"colours": panel.palette, "sheet": panel.sheet_id, "loading": panel.loading}
    for name in ("width", "height"):
        start[name] = figure(start[name]) if start.get(name) else ""
    return start


def _height_hint(piece: Piece) -> str:
    kept = "Leave one of the two empty and the picture keeps its shape."
    measures = piece.measures
    if not measures.get("rough"):
        return kept
    unit = SHORT.get(measures["unit"], "cells")
    return f"{kept} Booked: about {figure(measures['width'])} × {figure(measures['height'])} {unit}."


def _stood(panel: Panel) -> Recipe:
    try:
        return recipe_of(panel)
    except RecipeRefused:  # a newer program's: this form says all anew that it needs
        return Recipe()


def _pixels(sent: CleanPicture | None, panel: Panel | None) -> tuple[float, float]:
    """How wide and high the picture is in its own measure, so that a size left open keeps its shape."""
    if sent:
        return sent.width, sent.height
    recipe = _stood(panel)
    if panel.picture_id is None or recipe.source != "picture":
        return panel.columns, panel.rows
    frame = framing_of(recipe.frame)
    return framed_size(panel.picture.width_px, panel.picture.height_px, frame)


def _in_cells(sheet: Any, width: float | None, height: float | None, tall: float) -> Fit:
    if width and height:
        return Fit(sheet, int(height), int(width))
    row_pitch_m = sheet.lattice_of(1, 1).row_pitch_m
    if width:
        return Fit(sheet, max(1, round(width * sheet.pitch_m * tall / row_pitch_m)), int(width))
    return Fit(sheet, int(height), max(1, round(height * row_pitch_m / tall / sheet.pitch_m)))
