"""What the chart editor is told of a panel."""

import base64
from typing import Any

import numpy as np
from django.utils import timezone

from decor.calc.picture.chart import Chart
from decor.calc.picture.colour import delta_e_2000_table, srgb_to_lab
from decor.calc.pieces.panel import LOADINGS
from jobs.designs.catalogue import Catalogue, LatexItem
from jobs.designs.charting import NO_COLOUR, counts_of, palette_of
from jobs.designs.drawing import balloon_radius_pitches, balloon_shades
from jobs.designs.models import Panel, Piece
from jobs.designs.pictures.spares import Spares
from jobs.designs.sheets.plans import panel_plan
from jobs.designs.taken import left_beside

GONE = "no longer in stock"
MOST_NEAR = 5
APART = ((1.0, "looks the same"), (3.0, "hard to tell apart"), (6.0, "close"), (12.0, "a little different"))
"""CIEDE2000 differences in words: about 1 is just visible; the other bounds are ours, chosen by eye. What is farther
apart is another colour, and no stand-in."""


def offered(panel: Panel, catalogue: Catalogue) -> list[LatexItem]:
    """Balloons that fit this panel's sheet and way to load and are not in its palette yet."""
    sheet = catalogue.sheet(panel.sheet_id)
    if sheet is None:
        return []
    fitting = catalogue.fitting(sheet.sized_diameter_m, LOADINGS[panel.loading].shape)
    return [item for item in fitting if item.id not in panel.palette]


def saved_words(panel: Panel) -> str:
    return f"{timezone.localtime(panel.changed):%H:%M}"


def apart_words(difference: float) -> str:
    return next((words for most, words in APART if difference <= most), "another colour")


def chart_data(piece: Piece, catalogue: Catalogue) -> dict[str, Any]:
    """All that the script draws and counts with; lengths in pitches. The panel's own colours come first, then those
    that it could still take."""
    panel: Panel = piece.panel
    sheet = catalogue.sheet(panel.sheet_id)
    lattice = sheet.lattice_of(panel.rows, panel.columns)
    items = [*palette_of(panel, catalogue), *offered(panel, catalogue)]
    numbers, spares = _ids(panel, items), Spares.now(catalogue.making.spares_share)
    return {
        "panel": panel.pk,
        "step": lattice.row_pitch_m / lattice.pitch_m,
        "shift": 0.5 if lattice.staggered else 0,
        "radius": balloon_radius_pitches(lattice),
        "shades": [balloon_shades(item.rgb if item else NO_COLOUR) for item in items],
        "names": [item.words if item else GONE for item in items],
        "items": numbers,
        "spares": spares.share,
        "burst": [[item, spares.burst[item]] for item in numbers if item in spares.burst],
        "near": _nearest(items),
        "each": LOADINGS[panel.loading].balloons * piece.count,
        "joins": [
            [join.orientation == "level", join.at, join.start, join.stop] for join in panel_plan(panel, catalogue).joins
        ],
    } | chart_state(piece, numbers, catalogue)


def _ids(panel: Panel, items: list[LatexItem | None]) -> list[int]:
    return [*panel.palette, *(item.id for item in items[len(panel.palette) :] if item)]


def colour_rows(
    piece: Piece, catalogue: Catalogue, data: dict[str, Any]
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """The panel's own colours with the balloons that they take, alike pieces together, and what they lack, spares
    counted in; and those that it could still take."""
    counted = counts_of(piece.panel, catalogue)
    free, spares = dict(data["free"]), Spares(data["spares"], dict(data["burst"]))
    own = []
    for number, (item, cells) in enumerate(counted):
        used = cells * data["each"]
        short = max(0, spares.with_them(item.id, used) - free.get(item.id, 0)) if item else used
        own.append({"number": number, "item": item, "count": used, "short": short})
    more = [
        {"number": len(own) + at, "item": item, "count": 0, "short": 0}
        for at, item in enumerate(offered(piece.panel, catalogue))
    ]
    return own, more


def chart_state(piece: Piece, items: list[int], catalogue: Catalogue) -> dict[str, Any]:
    """What may change while the page is open. `items` are the balloons of which is told what the event's other pieces
    leave free."""
    panel: Panel = piece.panel
    free, beside = left_beside(piece, items, catalogue)
    return {
        "version": panel.version,
        "rows": panel.rows,
        "columns": panel.columns,
        "palette": panel.palette,
        "saved": saved_words(panel),
        "cells": base64.b64encode(bytes(panel.cells)).decode(),
        "locked": base64.b64encode(bytes(panel.locked)).decode(),
        "beside": beside,
        "free": [[item, free.get(item, 0)] for item in items],
    }


def _nearest(items: list[LatexItem | None]) -> list[list[list[Any]]]:
    """Of each colour the others that could stand in for it, nearest first, as [number, how they differ]."""
    if len(items) < 2:
        return [[] for _ in items]
    lab = srgb_to_lab(np.array([item.srgb if item else (0.5, 0.5, 0.5) for item in items]))
    table = delta_e_2000_table(lab, lab)
    np.fill_diagonal(table, np.inf)
    order = np.argsort(table, axis=1, kind="stable")[:, : min(MOST_NEAR, len(items) - 1)]
    return [
        [
            [int(other), apart_words(float(table[number, other]))]
            for other in row
            if items[other] is not None and table[number, other] <= APART[-1][0]
        ]
        for number, row in enumerate(order)
    ]


def row_words(chart: Chart, row: int, names: list[str]) -> str:
    """4 sky, 2 white, 1 empty."""
    parts = [f"{length} {names[colour] if colour >= 0 else 'empty'}" for colour, length in chart.runs(row)]
    return ", ".join(parts)
