"""Loading a panel at the table: its sheets, then one sheet line by line. No prices here: crew work from it."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from decor.calc.picture.sheets import PlacedSheet
from decor.calc.work.rates import rates_from_plain
from decor.studio.models import Role
from decor.studio.numbers import whole
from decor.studio.requests import once
from jobs.designs.catalogue import Catalogue, catalogue_now
from jobs.designs.charting import palette_of
from jobs.designs.models import LoadedRow, Piece
from jobs.designs.table import services, shown
from jobs.designs.table.commands import rows_now
from jobs.designs.table.lines import UP_WORDS, UPS, Up, chart_key, entity_of, line_word
from jobs.designs.table.pace import Table, pace_words
from jobs.designs.table.who import may_load

DARK = {"theme": "dark"}
"""At the table it is dark, whatever the phone's own light is."""


def _piece(request: HttpRequest, event: int, piece: int) -> Piece:
    if not may_load(request.user, event):
        raise Http404("no shift of this person on this event")
    found = Piece.objects.select_related("event__venue", "panel")
    return get_object_or_404(found, pk=piece, event=event, panel__isnull=False)


def _table(request: HttpRequest, piece: Piece, catalogue: Catalogue) -> Table:
    return Table(piece.panel, catalogue, rates_from_plain(request.studio.rates))


@require_safe
def panel_table(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    found, catalogue, now = _piece(request, event, piece), catalogue_now(), timezone.now()
    crew = request.user.role == Role.CREW
    context: dict[str, Any] = DARK | {
        "piece": found,
        "event": found.event,
        "panel": found.panel,
        "back": reverse("jobs:day-sheet", args=[event]) if crew else reverse("jobs:piece", args=[event, piece]),
        "back_words": "Day sheet" if crew else found.title,
    }
    try:
        table = _table(request, found, catalogue)
    except ValueError as refusal:
        return render(request, "jobs/designs/table/sheets.html", context | {"wrong": str(refusal)})
    sheets = shown.shown_sheets(table, now, request.user)
    context |= {
        "sheets": sheets,
        "faces": len(table.faces),
        "cells": sum(sheet.cells for sheet in sheets),
        "cells_in": sum(sheet.cells_in for sheet in sheets),
        "pace": shown.pace_now(table, None, now, shown.work_zone(found)),
        "took": pace_words(found.panel.loading, catalogue, rates_from_plain(request.studio.rates)),
        "next": _next(sheets),
    }
    return render(request, "jobs/designs/table/sheets.html", context)


def _next(sheets: list[shown.ShownSheet]) -> shown.ShownSheet | None:
    """The sheet to go to: one's own, else one that nobody is at, else any that is not done."""
    left = sorted((sheet for sheet in sheets if not sheet.done), key=lambda sheet: (not sheet.mine, bool(sheet.people)))
    return left[0] if left else None


def _sheet(table: Table, number: int) -> PlacedSheet:
    if number not in table.by_number or not table.filled(number):
        raise Http404("no such sheet, or nothing to load into it")
    return table.by_number[number]


def _face(table: Table, text: str) -> int:
    face = whole(text)
    if face not in table.faces:
        raise Http404("no such face")
    return face


def _up(table: Table, catalogue: Catalogue, text: str, number: int, face: int) -> Up:
    """As asked for, else as the sheet lay for the rows that are in, else as usual."""
    if asked := next((up for up in UPS if up == text), None):
        return asked
    begun = table.ups(number, face)
    return next(iter(begun)) if len(begun) == 1 else shown.usual_up(table.panel, catalogue, table)


@require_safe
def panel_table_sheet(request: HttpRequest, event: int, piece: int, number: int) -> HttpResponse:
    found, catalogue = _piece(request, event, piece), catalogue_now()
    try:
        table = _table(request, found, catalogue)
    except ValueError:
        return redirect("jobs:panel-table", event=event, piece=piece)
    sheet, face = _sheet(table, number), _face(table, request.GET.get("face", ""))
    up = _up(table, catalogue, request.GET.get("up", ""), number, face)
    return render(
        request, "jobs/designs/table/sheet.html", _sheet_page(request, found, catalogue, table, sheet, face, up)
    )


def _sheet_page(
    request: HttpRequest, piece: Piece, catalogue: Catalogue, table: Table, sheet: PlacedSheet, face: int, up: Up
) -> dict[str, Any]:
    panel, number, now = piece.panel, sheet.number, timezone.now()
    key, palette = chart_key(panel, sheet, up), palette_of(panel, catalogue)
    known = rows_now(panel, key, face, number)
    lines = list(table.lines(number, up).values())
    rows = shown.shown_lines(lines, palette, set(known["rows"]), shown.hints_for(panel, catalogue, table, up))
    used = sorted({colour for line in lines for colour in line.colours if colour >= 0})
    earlier = table.earlier(number, face)
    fitting = any(_fits(table, row, number, up) and row.row not in known["rows"] for row in earlier)
    others = [name for name in table.ups(number, face) if name != up]
    return DARK | {
        "piece": piece,
        "event": piece.event,
        "panel": panel,
        "sheet": sheet,
        "face": face,
        "faces": len(table.faces),
        "many": len(table.sheets) > 1,
        "up": up,
        "ups": [(name, UP_WORDS[name]) for name in UPS],
        "up_words": UP_WORDS[up],
        "word": line_word(up),
        "key": key,
        "lines": rows,
        "now_line": next((row for row in rows if row.state == "now"), None),
        "in_count": sum(line.number in set(known["rows"]) for line in lines),
        "back_line": _last_in(rows, set(known["rows"])),
        "colours": [shown.ShownColour(colour, shown.rgb_of(palette[colour])) for colour in used],
        "way_words": shown.way_words(panel, face),
        "earlier": earlier,
        "fitting": fitting,
        "changed": bool(earlier) and (fitting or not known["rows"]),
        "begun_otherwise": UP_WORDS[others[0]] if others and not known["rows"] else "",
        "begun_up": others[0] if others else "",
        "pace": shown.pace_now(table, sheet, now, shown.work_zone(piece)),
        "together": _together(panel, request, face, number),
        "data": {
            "panel": panel.pk,
            "face": face,
            "sheet": number,
            "chart_key": key,
            "entity": entity_of(panel, face, number),
            "known": known,
            "word": line_word(up),
            "here": reverse("jobs:panel-table-here", args=[piece.event_id, piece.pk, number]),
            "keep": _kept_pages(piece, table, number, face),
        },
    }


def _fits(table: Table, row: LoadedRow, number: int, up: Up) -> bool:
    """Whether a row of an earlier chart can be one of this, as the sheet lies now."""
    return row.chart_key.endswith(f":{up}") and row.row in table.lines(number, up)


def _last_in(rows: list[shown.ShownLine], loaded: set[int]) -> int | None:
    """The row that "Back one row" takes out again: the last one that is in before the one at hand."""
    at = next((place for place, row in enumerate(rows) if row.state == "now"), len(rows))
    return next((row.number for row in reversed(rows[:at]) if row.number in loaded), None)


def _kept_pages(piece: Piece, table: Table, number: int, face: int) -> list[str]:
    """The pages that the phone keeps, so that a loader can change sheets without a signal: of many sheets this one and
    those that come after it."""
    root = reverse("jobs:panel-table", args=[piece.event_id, piece.pk])
    all_of_them = [(face, sheet.number) for face in table.faces for sheet in table.sheets if table.filled(sheet.number)]
    here = all_of_them.index((face, number))
    kept = [*all_of_them[here:], *all_of_them[:here]][:MOST_KEPT]
    return [root, *(f"{root}{number}/" + (f"?face={face}" if face else "") for face, number in kept)]


MOST_KEPT = 24


def _together(panel: Any, request: HttpRequest, face: int, number: int) -> str:
    """The others at this very sheet."""
    names = [
        str(loader.user)
        for loader in services.loaders_now(panel, now=timezone.now())
        if (loader.face, loader.sheet_number) == (face, number) and loader.user_id != request.user.pk
    ]
    if not names:
        return ""
    return f"{' and '.join(names)} {'are' if len(names) > 1 else 'is'} at this sheet too. Agree who takes which end."


@require_POST
def panel_table_here(request: HttpRequest, event: int, piece: int, number: int) -> JsonResponse:
    """Where this phone is, said every so often; told in turn is what the others did."""
    found, catalogue, now = _piece(request, event, piece), catalogue_now(), timezone.now()
    try:
        table = _table(request, found, catalogue)
    except ValueError as refusal:
        return JsonResponse({"gone": str(refusal)})
    sheet, face = _sheet(table, number), _face(table, request.POST.get("face", ""))
    services.loader_here(panel=found.panel, user=request.user, face=face, sheet_number=number, now=now)
    up = _up(table, catalogue, request.POST.get("up", ""), number, face)
    return JsonResponse(
        {
            "known": rows_now(found.panel, chart_key(found.panel, sheet, up), face, number),
            "pace": shown.pace_now(table, sheet, now, shown.work_zone(found)),
            "together": _together(found.panel, request, face, number),
        }
    )


@require_POST
@once
def panel_table_tick(request: HttpRequest, event: int, piece: int, number: int) -> HttpResponse:
    """The same without script: `in` or `out` is the row. `again` counts the rows of an earlier chart in."""
    found, catalogue = _piece(request, event, piece), catalogue_now()
    try:
        table = _table(request, found, catalogue)
    except ValueError:
        return redirect("jobs:panel-table", event=event, piece=piece)
    sheet, face = _sheet(table, number), _face(table, request.POST.get("face", ""))
    up = _up(table, catalogue, request.POST.get("up", ""), number, face)
    row = whole(request.POST.get("in") or request.POST.get("out") or "")
    key = chart_key(found.panel, sheet, up)
    if request.POST.get("key") == key and "again" in request.POST:
        rows = [row for row in table.earlier(number, face) if _fits(table, row, number, up)]
        services.rows_count_again(rows=rows, chart_key=key, by=request.user, at=timezone.now())
    elif row in table.lines(number, up) and request.POST.get("key") == key:
        said = {"panel": found.panel, "chart_key": key, "face": face, "sheet_number": number, "row": row}
        if "in" in request.POST:
            services.row_load(**said, by=request.user, at=timezone.now())
        else:
            services.row_unload(**said)
    else:
        request.session["outcome"] = "The chart was changed meanwhile; nothing was ticked. This is how it is now."
    return redirect(f"{reverse('jobs:panel-table-sheet', args=[event, piece, number])}?face={face}&up={up}")
