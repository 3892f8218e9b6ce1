"""The chart editor: one cell after another, by touch, by keys, or by row and column."""

import base64
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from decor.calc.pieces.panel import LOADINGS
from decor.studio.requests import once
from decor.studio.versions import Changed
from jobs.designs import services
from jobs.designs.catalogue import Catalogue, catalogue_now
from jobs.designs.charting import counts_of, hexes, joins_of, palette_of
from jobs.designs.drawing import balloon_radius_pitches, balloon_shades
from jobs.designs.forms import PaintForm
from jobs.designs.models import Panel, Piece
from jobs.designs.stock import free_for
from jobs.designs.views import found_piece

CHANGED_WORDS = "Somebody else changed this chart. Theirs is shown now; your last cells were not kept."


def _panel_piece(event: int, piece: int) -> Piece:
    found = found_piece(event, piece)
    if getattr(found, "panel", None) is None:
        raise Http404
    return found


@require_safe
def chart(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    found, catalogue = _panel_piece(event, piece), catalogue_now()
    form = PaintForm(palette=palette_of(found.panel, catalogue), version=found.panel.version)
    return _page(request, found, catalogue, form)


def _page(
    request: HttpRequest, piece: Piece, catalogue: Catalogue, form: PaintForm, *, status: int = 200, **extra: object
) -> HttpResponse:
    colours = _colours(piece, catalogue)
    context = {
        "tab": "events",
        "piece": piece,
        "event": piece.event,
        "panel": piece.panel,
        "form": form,
        "colours": colours,
        "chart": _chart_data(piece.panel, catalogue) | _state(piece, colours),
    }
    return render(request, "jobs/designs/chart.html", context | extra, status=status)


def _chart_data(panel: Panel, catalogue: Catalogue) -> dict[str, Any]:
    """What does not change while cells are painted, in pitches."""
    sheet = catalogue.sheet(panel.sheet_id)
    lattice = sheet.lattice_of(panel.rows, panel.columns)
    palette = palette_of(panel, catalogue)
    return {
        "rows": panel.rows,
        "columns": panel.columns,
        "step": lattice.row_pitch_m / lattice.pitch_m,
        "shift": 0.5 if lattice.staggered else 0,
        "radius": balloon_radius_pitches(lattice),
        "shades": [balloon_shades(colour) for colour in hexes(palette)],
        "names": [item.words if item else "no longer in stock" for item in palette],
        "joins": [
            [join.orientation == "level", join.at, join.start, join.stop]
            for join in joins_of(sheet, panel.rows, panel.columns)
        ],
    }


def _colours(piece: Piece, catalogue: Catalogue) -> list[dict[str, Any]]:
    """Every colour of the palette with the balloons it takes, alike pieces together, and what it lacks."""
    counted = counts_of(piece.panel, catalogue)
    free = free_for(piece.event, [item.id for item, _ in counted if item])
    each = LOADINGS[piece.panel.loading].balloons * piece.count
    rows = []
    for number, (item, cells) in enumerate(counted):
        have = free.get(item.id, 0) if item else 0
        short = max(0, cells * each - have)
        rows.append({"number": number, "item": item, "count": cells * each, "free": have, "short": short})
    return rows


def _state(piece: Piece, colours: list[dict[str, Any]], *, cells: bool = True) -> dict[str, Any]:
    panel = piece.panel
    state: dict[str, Any] = {
        "version": panel.version,
        "palette": panel.palette,
        "saved": f"{timezone.localtime(panel.changed):%H:%M}",
        "counts": [[row["count"], row["short"]] for row in colours],
    }
    return state | ({"cells": base64.b64encode(bytes(panel.cells)).decode()} if cells else {})


@require_POST
@once
def chart_paint(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    found, catalogue = _panel_piece(event, piece), catalogue_now()
    if "cell" in request.POST:
        return _paint_many(request, found, catalogue)
    form = PaintForm(request.POST, palette=palette_of(found.panel, catalogue), version=found.panel.version)
    if not form.is_valid():
        return _page(request, found, catalogue, form, status=422)
    given = form.cleaned_data
    change = (given["row"] - 1, given["column"] - 1, given["colour"])
    try:
        services.cells_paint(panel=found.panel, version=given["version"], changes=[change])
    except services.Unpaintable as refusal:
        form.add_error(None, str(refusal))
        return _page(request, found, catalogue, form, status=422)
    except Changed:
        found = _panel_piece(event, piece)
        form = PaintForm(
            palette=palette_of(found.panel, catalogue), version=found.panel.version, initial=request.POST.dict()
        )
        form.initial["version"] = found.panel.version
        return _page(request, found, catalogue, form, status=409, warning=CHANGED_WORDS)
    request.session["outcome"] = f"Row {given['row']}, column {given['column']} is painted."
    return redirect("jobs:chart", event=event, piece=piece)


def _paint_many(request: HttpRequest, piece: Piece, catalogue: Catalogue) -> JsonResponse:
    """What the editor's script sends: `cell=row,column,colour` from 0, as often as it has cells waiting."""
    try:
        version, changes = _sent(request)
        services.cells_paint(panel=piece.panel, version=version, changes=changes)
    except Changed:
        now = found_piece(piece.event_id, piece.pk)
        return JsonResponse({"message": CHANGED_WORDS, **_state(now, _colours(now, catalogue))}, status=409)
    except ValueError as refusal:
        return JsonResponse({"message": str(refusal), **_state(piece, _colours(piece, catalogue))}, status=422)
    return JsonResponse(_state(piece, _colours(piece, catalogue), cells=False))


def _sent(request: HttpRequest) -> tuple[int, list[tuple[int, int, int]]]:
    texts = request.POST.getlist("cell")
    if len(texts) > services.MOST_CHANGES:
        raise services.Unpaintable(f"At most {services.MOST_CHANGES} cells are painted at once.")
    try:
        cells = [tuple(int(part) for part in text.split(",")) for text in texts]
        return int(request.POST.get("version", "")), [(row, column, colour) for row, column, colour in cells]
    except ValueError:
        raise services.Unpaintable("A cell is its row, its column and a colour, as numbers.") from None
