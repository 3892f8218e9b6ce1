"""The chart editor's page, and what it asks for: the cells as they are now, the picture behind them, the rows in
words. What it paints comes as commands; without script a cell is painted by its row and column."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.views.decorators.http import require_POST, require_safe

from decor.calc.picture.chart import EMPTY
from decor.studio.numbers import whole
from decor.studio.pictures import PictureRefused
from decor.studio.requests import once
from decor.studio.versions import Changed
from jobs.designs import changed
from jobs.designs.catalogue import Catalogue, catalogue_now
from jobs.designs.charting import cells_array, chart_of, palette_of
from jobs.designs.editor import services
from jobs.designs.editor.merging import stroke_of_runs
from jobs.designs.editor.shown import GONE, chart_data, chart_state, colour_rows, offered, row_words
from jobs.designs.editor.source import has_source, source_jpeg
from jobs.designs.forms import PaintForm
from jobs.designs.models import Panel, Piece
from jobs.designs.views import found_piece

CHANGED_WORDS = "Somebody else changed this chart. Theirs is shown now; your cell was not painted."
ROWS_A_PAGE = 50
TOOLS = (
    ("brush", "Brush"),
    ("line", "Line"),
    ("box", "Box"),
    ("fill", "Fill"),
    ("swap", "Swap"),
    ("select", "Select"),
    ("pick", "Pick"),
    ("hand", "Hand"),
)


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
    data = chart_data(piece, catalogue)
    own, more = colour_rows(piece, catalogue, data)
    context = {
        "tab": "events",
        "piece": piece,
        "event": piece.event,
        "panel": piece.panel,
        "form": form,
        "colours": own,
        "more_colours": more,
        "chart": data,
        "tools": TOOLS,
        "source": has_source(piece.panel),
        "figures": _figures_address(piece),
    }
    return render(request, "jobs/designs/chart.html", context | extra, status=status)


def _figures_address(piece: Piece) -> str:
    """Cost and hours are worked out above this room, and come into the page by their address."""
    try:
        return reverse("jobs:panel-figures", args=[piece.event_id, piece.pk])
    except NoReverseMatch:
        return ""


@require_safe
def chart_cells(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    """The chart as it is now, or nothing where the page has it already."""
    found = _panel_piece(event, piece)
    if whole(request.GET.get("version", ""), otherwise=0) == found.panel.version:
        return HttpResponse(status=204)
    catalogue = catalogue_now()
    items = [*found.panel.palette, *(item.id for item in offered(found.panel, catalogue))]
    return JsonResponse(chart_state(found, items, catalogue))


@require_safe
def chart_source(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    panel: Panel = _panel_piece(event, piece).panel
    if not has_source(panel):
        raise Http404
    try:
        return HttpResponse(source_jpeg(panel), content_type="image/jpeg")
    except (FileNotFoundError, PictureRefused, ValueError) as gone:
        raise Http404 from gone


@require_safe
def chart_rows(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    """The chart in words, row by row, some rows a page."""
    found, catalogue = _panel_piece(event, piece), catalogue_now()
    panel: Panel = found.panel
    pages = -(-panel.rows // ROWS_A_PAGE)
    page = min(max(1, whole(request.GET.get("page", ""), otherwise=1)), pages)
    drawn = chart_of(panel, catalogue.sheet(panel.sheet_id))
    names = [item.words if item else GONE for item in palette_of(panel, catalogue)]
    first = (page - 1) * ROWS_A_PAGE
    rows = range(first, min(panel.rows, first + ROWS_A_PAGE))
    context = {
        "tab": "events",
        "piece": found,
        "event": found.event,
        "panel": panel,
        "start": first + 1,
        "rows": [row_words(drawn, row, names) for row in rows],
        "pages": [(number, (number - 1) * ROWS_A_PAGE + 1) for number in range(1, pages + 1)] if pages > 1 else [],
        "page": page,
    }
    return render(request, "jobs/designs/chart_rows.html", context)


@require_POST
@once
def chart_paint(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    """One cell by its row and column."""
    found, catalogue = _panel_piece(event, piece), catalogue_now()
    form = PaintForm(request.POST, palette=palette_of(found.panel, catalogue), version=found.panel.version)
    if not form.is_valid():
        return _page(request, found, catalogue, form, status=422)
    given = form.cleaned_data
    try:
        _paint_one(found.panel, given)
    except Changed:
        found = _panel_piece(event, piece)
        form = PaintForm(
            palette=palette_of(found.panel, catalogue), version=found.panel.version, initial=request.POST.dict()
        )
        form.initial["version"] = found.panel.version
        return _page(request, found, catalogue, form, status=409, warning=CHANGED_WORDS)
    except ValueError as refusal:
        form.add_error(None, str(refusal))
        return _page(request, found, catalogue, form, status=422)
    changed.say(request, event, f"Row {given['row']}, column {given['column']} is painted.")
    return redirect("jobs:chart", event=event, piece=piece)


def _paint_one(panel: Panel, given: dict[str, Any]) -> None:
    """Raises Changed, Unpaintable."""
    row, column = given["row"] - 1, given["column"] - 1
    if not (0 <= row < panel.rows and 0 <= column < panel.columns):
        raise services.Unpaintable(f"The panel is {panel.columns} wide and {panel.rows} high; that cell is outside it.")
    if panel.version != given["version"]:
        raise Changed(panel)
    seen = int(cells_array(panel)[row, column])
    runs = [row * panel.columns + column, 1, given["colour"], max(seen, EMPTY)]
    stroke = stroke_of_runs(runs, panel.rows * panel.columns)
    services.cells_paint(panel=panel, stroke=stroke, palette=panel.palette, version=given["version"])
