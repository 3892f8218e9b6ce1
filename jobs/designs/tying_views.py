"""A panel's pairs and its strings, on a phone: what to tie, and the chart with it drawn."""

from dataclasses import replace
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_http_methods

from decor.calc.picture.chart import Chart
from decor.calc.picture.sheets import PlacedSheet, SheetPlan
from decor.calc.work.rates import rates_from_plain
from decor.studio.numbers import whole
from decor.studio.requests import once
from decor.studio.versions import Changed
from jobs.designs.book_lists import pair_list, slips_of
from jobs.designs.catalogue import Catalogue, catalogue_now
from jobs.designs.charting import chart_of, hexes, palette_of
from jobs.designs.drawing import colour_letters
from jobs.designs.kinds.panel import panel_fit, panel_sections
from jobs.designs.models import Piece
from jobs.designs.page import WIDTHS
from jobs.designs.reloading import tying_choose
from jobs.designs.sheets.plans import panel_plan
from jobs.designs.tying import pairs_for, strings_for, wishes_of
from jobs.designs.tying_drawing import pairs_svg, route_svg

MOST_WHOLE = 1_200
"""Cells that are drawn in one picture; of more, sheet by sheet."""


def _panel_piece(event: int, piece: int) -> Piece:
    found = Piece.objects.select_related("event__venue", "panel__sheet")
    return get_object_or_404(found, pk=piece, event=event, panel__isnull=False)


@require_http_methods(["GET", "HEAD", "POST"])
@once
def panel_pairs(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    found = _panel_piece(event, piece)
    if request.method == "POST":
        return _choose(request, found, "jobs:panel-pairs", "between_rows")
    return _render(request, "pairs", found, _pairs)


@require_http_methods(["GET", "HEAD", "POST"])
@once
def panel_strings(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    found = _panel_piece(event, piece)
    if request.method == "POST":
        return _choose(request, found, "jobs:panel-strings", "winding")
    return _render(request, "strings", found, _strings)


def _choose(request: HttpRequest, piece: Piece, name: str, wish: str) -> HttpResponse:
    """Whoever chooses sees the page of what stands now; a switch that somebody else turned meanwhile is told."""
    wishes = replace(wishes_of(piece), **{wish: request.POST.get(wish) == "yes"})
    try:
        tying_choose(piece=piece, version=whole(request.POST.get("version", "")), wishes=wishes)
    except Changed:
        request.session["outcome"] = "The piece was changed by somebody else meanwhile. Look again, and choose anew."
    return redirect(name, event=piece.event_id, piece=piece.pk)


def _render(request: HttpRequest, page: str, piece: Piece, told: Any) -> HttpResponse:
    catalogue = catalogue_now(request.studio)
    context: dict[str, Any] = {"tab": "events", "piece": piece, "event": piece.event, "panel": piece.panel}
    try:
        sheet = panel_fit(piece.panel, catalogue).sheet
        plan = panel_plan(piece.panel, catalogue)
        context |= {"wishes": wishes_of(piece), **told(request, piece, catalogue, chart_of(piece.panel, sheet), plan)}
    except ValueError as refusal:
        context["refusal"] = str(refusal)
    return render(request, f"jobs/designs/{page}.html", context)


def _pairs(request: HttpRequest, piece: Piece, catalogue: Catalogue, chart: Chart, plan: SheetPlan) -> dict[str, Any]:
    sections, items = panel_sections(piece, catalogue), palette_of(piece.panel, catalogue)
    pairs, letters = pairs_for(chart, sections, wishes_of(piece)), colour_letters(len(items))
    part = _part(request, chart, plan)
    rows, columns = part["rows"], part["columns"]
    svg = pairs_svg(
        chart, hexes(items), letters, pairs,
        title=f"{piece.title}, its pairs", joins=plan.joins, rows=rows, columns=columns,
    )  # fmt: skip
    words = [item.words if item else "a colour that was taken out of stock" for item in items]
    colours = {letter: item.rgb for letter, item in zip(letters, items, strict=True) if item}
    return part | {"list": pair_list(pairs, sections, letters, words), "drawn": mark_safe(svg), "rgb": colours}


def _strings(request: HttpRequest, piece: Piece, catalogue: Catalogue, chart: Chart, plan: SheetPlan) -> dict[str, Any]:
    sections, items = panel_sections(piece, catalogue), palette_of(piece.panel, catalogue)
    wishes, letters = wishes_of(piece), colour_letters(len(items))
    strings = strings_for(chart, sections, wishes)
    other = strings_for(chart, sections, replace(wishes, winding=not wishes.winding))
    words = [item.words if item else "a colour that was taken out of stock" for item in items]
    rates = rates_from_plain(request.studio.rates)  # type: ignore[attr-defined]
    slips, says = slips_of(strings, int(rates.string_balloons), letters, words)
    part = _part(request, chart, plan)
    svg = route_svg(
        chart, hexes(items), letters, strings,
        title=f"{piece.title}, the way of its strings", joins=plan.joins, rows=part["rows"], columns=part["columns"],
    )  # fmt: skip
    return part | {
        "slips": slips,
        "says": says,
        "changes": strings.changes,
        "other_changes": other.changes,
        "balloons": len(strings.order),
        "sections": len({slip.section for slip in slips}),
        "drawn": mark_safe(svg),
    }


def _part(request: HttpRequest, chart: Chart, plan: SheetPlan) -> dict[str, Any]:
    """The part of the chart that is drawn: whole where it can be read so, else a sheet."""
    all_of_it = chart.lattice.cells <= MOST_WHOLE
    asked = request.GET.get("sheet", "")
    shown: PlacedSheet | None = next((sheet for sheet in plan.sheets if str(sheet.number) == asked), None)
    if shown is None and not all_of_it:
        shown = plan.sheets[0]
    rows = (shown.row_start, shown.row_stop) if shown else (0, chart.lattice.rows)
    columns = (shown.column_start, shown.column_stop) if shown else (0, chart.lattice.columns)
    return {
        "rows": rows,
        "columns": columns,
        "whole": all_of_it,
        "sheet_shown": shown.number if shown else None,
        "sheet_numbers": [sheet.number for sheet in plan.sheets] if len(plan.sheets) > 1 else [],
        "width": next(name for most, name in WIDTHS if columns[1] - columns[0] <= most),
    }
