"""Pieces of an event and the charts of its panels."""

from collections.abc import Iterable, Mapping
from typing import Any

from django.db import transaction
from django.db.models import F, Max
from django.utils import timezone

from decor.calc.picture.chart import EMPTY
from decor.studio.models import StoredFile
from decor.studio.services import file_store
from decor.studio.versions import Changed
from jobs.designs.charting import CELLS_AS, cells_array, cells_bytes
from jobs.designs.kinds import all_kinds
from jobs.designs.measured import Charted, Measured
from jobs.designs.models import Panel, Piece
from jobs.events.models import Event

MOST_CHANGES = 500
"""Cells that one request may paint."""


class Unpaintable(ValueError):
    """Why a cell cannot be painted so, in words."""


@transaction.atomic
def pieces_from_rough(event: Event, rough_pieces: Iterable[Mapping[str, Any]]) -> list[Piece]:
    """The pieces that a booking spoke of, in its order."""
    first = _next_position(event)
    pieces = [
        Piece(
            event=event,
            kind=rough["kind"],
            title=rough.get("title") or all_kinds()[rough["kind"]].NAME,
            count=rough.get("count", 1),
            built_at=rough.get("built_at") or Piece.BuiltAt.WORKSHOP,
            fill=rough.get("fill") or Piece.Fill.AIR,
            measures=dict(rough["measures"]),
            position=first + at,
        )
        for at, rough in enumerate(rough_pieces)
    ]
    return Piece.objects.bulk_create(pieces)


def _next_position(event: Event) -> int:
    last: int | None = Piece.objects.filter(event=event).aggregate(last=Max("position"))["last"]
    return 0 if last is None else last + 1


@transaction.atomic
def piece_change(*, piece: Piece, version: int, values: Mapping[str, Any]) -> None:
    """Raises Changed."""
    _write(piece, version, **values)


def _write(piece: Piece, version: int, **values: Any) -> None:
    if not Piece.objects.filter(pk=piece.pk, version=version).update(version=F("version") + 1, **values):
        raise Changed(Piece.objects.select_related("panel").get(pk=piece.pk))


def piece_measure(*, piece: Piece, version: int, panel_version: int, measured: Measured) -> None:
    """The full measures, with the chart of a panel. `panel_version` is 0 while there is no chart: who matched a
    picture anew must not bury cells that somebody else painted meanwhile. Raises Changed."""
    charted = measured.charted
    picture = _picture_of(charted) if charted else None
    try:
        with transaction.atomic():
            _write(piece, version, measures=measured.measures)
            if charted:
                _chart_write(piece, panel_version, charted, picture)
    except Changed:
        if picture:
            picture.delete()
        raise


def _picture_of(charted: Charted) -> StoredFile | None:
    if charted.picture is None:
        return None
    return file_store(
        data=charted.picture.data,
        mime=charted.picture.content_type,
        original_name=charted.picture_name,
        width_px=charted.picture.width,
        height_px=charted.picture.height,
    )


def _chart_write(piece: Piece, panel_version: int, charted: Charted, picture: StoredFile | None) -> None:
    values: dict[str, Any] = {
        "sheet_id": charted.sheet_id,
        "rows": charted.chart.lattice.rows,
        "columns": charted.chart.lattice.columns,
        "loading": charted.loading,
        "palette": list(charted.palette),
        "cells": cells_bytes(charted.chart),
        "within_stock": charted.within_stock,
        "changed": timezone.now(),
    } | ({"picture": picture} if picture else {})
    if panel_version == 0:
        if Panel.objects.filter(piece=piece).exists():
            raise Changed(Piece.objects.select_related("panel").get(pk=piece.pk))
        Panel.objects.create(piece=piece, **values)
    elif not Panel.objects.filter(piece=piece, version=panel_version).update(version=F("version") + 1, **values):
        raise Changed(Piece.objects.select_related("panel").get(pk=piece.pk))


def piece_remove(*, piece: Piece) -> None:
    piece.delete()


@transaction.atomic
def cells_paint(*, panel: Panel, version: int, changes: Iterable[tuple[int, int, int]]) -> Panel:
    """Cells of the chart that `version` names, painted by (row, column, colour), all from 0; -1 empties one.

    Raises Unpaintable with the reason in words, Changed where the chart is no longer that one."""
    if panel.version != version:
        raise Changed(panel)
    cells = cells_array(panel).copy()
    for row, column, colour in changes:
        if not (0 <= row < panel.rows and 0 <= column < panel.columns):
            raise Unpaintable(f"The panel is {panel.columns} wide and {panel.rows} high; that cell is outside it.")
        if not EMPTY <= colour < len(panel.palette):
            raise Unpaintable("That colour is not one of the panel's.")
        cells[row, column] = colour
    if (cells == EMPTY).all():
        raise Unpaintable("At least one cell must keep a balloon.")
    data = cells.astype(CELLS_AS).tobytes()
    now = timezone.now()
    found = Panel.objects.filter(pk=panel.pk, version=version)
    if not found.update(cells=data, version=version + 1, changed=now):
        raise Changed(Panel.objects.get(pk=panel.pk))
    panel.cells, panel.version, panel.changed = data, version + 1, now
    return panel
