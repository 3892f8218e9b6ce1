"""The picture panel."""

from dataclasses import asdict, replace
from typing import Any

import numpy as np
from django import forms
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from decor.calc.picture.lattice import MOST_CELLS
from decor.calc.pieces.panel import LOADINGS, PanelMeasures, SheetGrid, sheet_grid
from decor.calc.work.rates import Rates
from decor.studio.forms import SlipForm
from jobs.designs.catalogue import Catalogue, LatexItem, catalogue_now
from jobs.designs.charting import chart_of, counts_of, flat_svg, hexes, palette_of
from jobs.designs.drawing import balloons_svg
from jobs.designs.fits import NO_SHEETS, Fit, rough_fit
from jobs.designs.lengths import SHORT, UNITS, SizeField, diameter_words, figure, size_words, unit_of
from jobs.designs.models import Panel, Piece
from jobs.designs.panel_form import PanelForm
from jobs.designs.sheets.plans import blocks_of, figures_of, over_words, panel_plan, planned
from jobs.designs.swatches import ColourNames
from jobs.designs.tying import KEY as TYING
from jobs.designs.tying import Wishes, tied

KEY = "panel"
NAME = "Picture panel"
PLURAL = "Picture panels"
SETTLE = "Put in a picture"
ROUGHLY = "No picture yet: this is the bare net at its rough size."
RANK = 1
Form = PanelForm


class RoughForm(SlipForm):
    """What a caller can say about a panel on the phone."""

    width = SizeField(label="Wide")
    height = SizeField(label="High")
    unit = forms.ChoiceField(label="Size in", choices=UNITS)
    loading = forms.ChoiceField(label="Way to load", choices=Panel.Loading.choices, initial="paired")
    colours = ColourNames(label="Colours, where the client named them")

    def __init__(self, *args: object, catalogue: Catalogue | None = None, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.catalogue = catalogue or catalogue_now()
        self.fields["unit"].initial = unit_of(self.catalogue.units)
        self.fields["colours"].offer(self.catalogue.colours())

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        if self.errors:
            return given
        if given["unit"] == "cells" and not (given["width"].is_integer() and given["height"].is_integer()):
            self.add_error("width", "Cells are counted in whole numbers.")
            return given
        try:
            fit = rough_fit(rough_json(given), self.catalogue)
        except ValueError as refusal:
            raise forms.ValidationError(str(refusal)) from refusal
        if fit.rows * fit.columns > MOST_CELLS:
            self.add_error(
                "width",
                f"This makes {fit.rows * fit.columns:,} cells; the most that is planned is {MOST_CELLS:,}.",
            )
        return given


class SavedRoughForm(RoughForm):
    """Once it is saved, it may lie on other sheets than those that cost least: the answer or somebody chose them."""

    sheet = forms.TypedChoiceField(label="Sheets", coerce=int, empty_value=None, required=False)

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        offered = [(sheet.id, sheet.name) for sheet in self.catalogue.sheets_on_offer]
        self.fields["sheet"].choices = [("", "Those that cost least"), *offered]
        self.fields["sheet"].open_end = True


def rough_json(cleaned: dict[str, Any]) -> dict[str, Any]:
    told = {name: cleaned[name] for name in ("width", "height", "unit", "loading", "colours")}
    chosen = {"sheet": cleaned["sheet"]} if cleaned.get("sheet") else {}
    return {"rough": True, **told, **chosen}


def rough_words(measures: dict[str, Any]) -> str:
    if measures["unit"] == "cells":
        return f"{measures['width']:.0f} wide, {measures['height']:.0f} high"
    return f"about {figure(measures['width'])} × {figure(measures['height'])} {SHORT[measures['unit']]}"


def calc_measures(
    measures: dict[str, Any], *, catalogue: Catalogue, count: int = 1, built_at: str = "workshop", panel: Any = None
) -> PanelMeasures:
    """Without a picture the named colours share the cells evenly; with none named the colour stays open.

    Raises ValueError with the reason in words where the studio has no sheet for it.
    """
    fit = panel_fit(panel, catalogue) if panel else rough_fit(measures, catalogue)
    loading = panel.loading if panel else measures["loading"]
    if panel:
        items = [(item, number) for item, number in counts_of(panel, catalogue) if number]
    else:
        items = _shared(measures.get("colours") or [], fit, LOADINGS[loading].shape, catalogue)
    sizes = {item.nominal_in for item, _ in items if item}
    bare = PanelMeasures(
        rows=fit.rows,
        columns=fit.columns,
        pitch_m=fit.sheet.pitch_m,
        sheet_rows=fit.sheet.rows,
        sheet_columns=fit.sheet.columns,
        sized_diameter_m=fit.sheet.sized_diameter_m,
        counts=tuple((item.id if item else None, number) for item, number in items),
        lattice=fit.sheet.lattice,
        way=loading,
        row_pitch_m=fit.sheet.row_pitch_m,
        sheet_key=fit.sheet.id,
        sheet_weight_kg=fit.sheet.weight_kg,
        tabs_side=fit.sheet.tabs_side,
        tabs_top=fit.sheet.tabs_end,
        nominal_in=max(sizes) if sizes else None,
        built_at=built_at,
    )
    if not panel or not items:
        return bare
    found = planned(panel, catalogue)
    blocks = blocks_of(found.plan, panel.rows, panel.columns)
    known = tied(chart_of(panel, fit.sheet), blocks, way=loading, wishes=Wishes.from_plain(measures.get(TYING)))
    return replace(bare, sheets=figures_of(found, catalogue.making), **asdict(known))


def panel_sections(piece: Piece, catalogue: Catalogue) -> np.ndarray:
    """(n,) the section that each cell of the piece's panel is loaded with."""
    return blocks_of(panel_plan(piece.panel, catalogue), piece.panel.rows, piece.panel.columns)


def panel_fit(panel: Panel, catalogue: Catalogue) -> Fit:
    sheet = catalogue.sheet(panel.sheet_id)
    if sheet is None:
        raise ValueError(NO_SHEETS)
    return Fit(sheet, panel.rows, panel.columns)


def _shared(colours: list[str], fit: Fit, shape: str, catalogue: Catalogue) -> list[tuple[LatexItem | None, int]]:
    cells = fit.rows * fit.columns
    names = colours[:cells]
    if not names:
        return [(None, cells)]
    each, over = divmod(cells, len(names))
    return [
        (catalogue.in_colour(words, fit.sheet.sized_diameter_m, shape), each + (1 if at < over else 0))
        for at, words in enumerate(names)
    ]


def stored(piece: Piece) -> Panel | None:
    return getattr(piece, "panel", None)


def words(piece: Piece, catalogue: Catalogue) -> str:
    panel = stored(piece)
    if panel is None:
        return rough_words(piece.measures)
    lattice = panel_fit(panel, catalogue).sheet.lattice_of(panel.rows, panel.columns)
    size = size_words(lattice.width_m, lattice.height_m, catalogue.units)
    return f"{panel.columns} wide, {panel.rows} high · {size} · {panel.get_loading_display().lower()}"


def counts(piece: Piece, catalogue: Catalogue) -> list[tuple[LatexItem | None, int]]:
    panel = stored(piece)
    if panel is None:
        return []
    each = LOADINGS[panel.loading].balloons
    return [(item, number * each) for item, number in counts_of(panel, catalogue) if number]


def facts(piece: Piece, catalogue: Catalogue) -> list[tuple[str, str, str]]:
    """Rows for the piece's page: what, how it stands, and the small print."""
    try:
        measures = calc_measures(piece.measures, catalogue=catalogue, built_at=piece.built_at, panel=stored(piece))
    except ValueError as refusal:
        return [("Sheets", str(refusal), "")]
    grid = sheet_grid(measures, Rates())
    joins = f"{grid.joins.edges} {'join' if grid.joins.edges == 1 else 'joins'}, {grid.joins.tabs:,} join tabs"
    names = [(catalogue.sheet(need.key), need.quantity) for need in grid.needs(measures)]
    sheets = " and ".join(f"{number:,} of {sheet.name}" for sheet, number in names if sheet)
    cells = sum(number * sheet.rows * sheet.columns for sheet, number in names if sheet)
    left_over = _cells_over(piece, catalogue, cells, grid, measures)
    balloons = measures.cells * LOADINGS[measures.way].balloons
    sized = diameter_words(measures.sized_diameter_m, catalogue.units)
    size = f"{measures.nominal_in:g} in, " if measures.nominal_in else ""
    return [
        ("Sheets", sheets, (joins if grid.joins.edges else "no joins") + left_over),
        ("Balloons", f"{balloons:,}", f"{size}{LOADINGS[measures.way].shape}, sized to {sized}"),
    ]


def _cells_over(piece: Piece, catalogue: Catalogue, cells: int, grid: SheetGrid, measures: PanelMeasures) -> str:
    """What the sheets have beyond the panel's balloons, and where."""
    spare = cells - measures.cells * grid.layers
    if not spare:
        return ""
    panel = stored(piece)
    where = f", {over_words(planned(panel, catalogue))}" if panel else ""
    return f"; {spare:,} {'cell' if spare == 1 else 'cells'} over{where}"


MOST_DRAWN = 12_000
"""Cells that are drawn one by one on a page; of a larger panel a balloon would be too small to see."""


def drawing(piece: Piece, catalogue: Catalogue) -> SafeString:
    panel = stored(piece)
    if panel is None:
        return _empty_net(piece, catalogue)
    fit = panel_fit(panel, catalogue)
    title = f"{piece.title}: {words(piece, catalogue)}"
    if fit.rows * fit.columns > MOST_DRAWN:
        return mark_safe(flat_svg(chart_of(panel, fit.sheet), hexes(palette_of(panel, catalogue)), title=title))
    svg = balloons_svg(
        chart_of(panel, fit.sheet),
        hexes(palette_of(panel, catalogue)),
        title=title,
        joins=panel_plan(panel, catalogue).joins,
        prefix=f"p{piece.pk}-",
    )
    return mark_safe(svg)


def _empty_net(piece: Piece, catalogue: Catalogue) -> SafeString:
    """A panel that has no picture yet: its proportions and its openings."""
    try:
        fit = rough_fit(piece.measures, catalogue)
    except ValueError:
        return mark_safe("")
    lattice = fit.sheet.lattice_of(fit.rows, fit.columns)
    across, down = lattice.width_pitches, lattice.rows * lattice.row_pitch_m / lattice.pitch_m
    step, shift = lattice.row_pitch_m / lattice.pitch_m, 0.5 if lattice.staggered else 0.0
    return format_html(
        '<svg class="net empty" viewBox="0 0 {w} {h}" role="img" aria-label="{title}: no picture yet">'
        '<defs><pattern id="net{pk}" width="1" height="{two}" patternUnits="userSpaceOnUse">'
        '<g fill="none" stroke="#C9C1B0" stroke-width=".06"><circle cx=".5" cy="{a}" r=".38"/>'
        '<circle cx="{x}" cy="{b}" r=".38"/><circle cx="{y}" cy="{b}" r=".38"/></g></pattern></defs>'
        '<rect width="{w}" height="{h}" fill="#EFEBE3"/><rect width="{w}" height="{h}" fill="url(#net{pk})"/></svg>',
        w=f"{across:g}", h=f"{down:.3f}", two=f"{2 * step:.4f}", a=f"{step / 2:.4f}", b=f"{1.5 * step:.4f}",
        x=f"{0.5 + shift:g}", y=f"{0.5 - shift:g}", pk=piece.pk, title=piece.title,
    )  # fmt: skip
