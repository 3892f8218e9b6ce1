"""Pieces of an event and the charts of its panels."""

from base64 import b64decode, b64encode
from collections.abc import Iterable, Mapping
from typing import Any

from django.db import transaction
from django.db.models import F, Max
from django.utils import timezone

from decor.studio.models import StoredFile
from decor.studio.services import file_store
from decor.studio.versions import Changed
from inventory.models import Sheet
from jobs.designs.charting import cells_bytes
from jobs.designs.kinds import all_kinds
from jobs.designs.measured import Charted, Measured
from jobs.designs.models import EarlierChart, Panel, PanelDraft, Piece
from jobs.designs.sheets.keeping import plan_for
from jobs.designs.tying import KEY
from jobs.events.models import Event


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
    picture anew must not bury cells that somebody else painted meanwhile. What stood before is kept aside, and a draft
    of it comes to nothing. Raises Changed."""
    charted = measured.charted
    picture = _picture_of(charted) if charted else None
    stored = charted.stored_picture if charted else None
    plan = plan_for(piece=piece, charted=charted) if charted else {}
    try:
        with transaction.atomic():
            _write(piece, version, measures=_wishes_kept(piece) | measured.measures)
            if charted:
                _chart_write(piece, panel_version, charted, picture or stored, plan)
                PanelDraft.objects.filter(piece=piece).delete()
    except Changed:
        if picture:
            picture.delete()
        raise


def _wishes_kept(piece: Piece) -> dict[str, Any]:
    """How the balloons are tied is chosen on pages of its own: no other form speaks of it."""
    return {KEY: piece.measures[KEY]} if KEY in piece.measures else {}


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


def _chart_write(
    piece: Piece, panel_version: int, charted: Charted, picture: StoredFile | None, plan: dict[str, Any]
) -> None:
    """`piece` as it was before: its measures are kept with the chart that stands aside."""
    values: dict[str, Any] = {
        "sheet_id": charted.sheet_id,
        "rows": charted.chart.lattice.rows,
        "columns": charted.chart.lattice.columns,
        "loading": charted.loading,
        "palette": list(charted.palette),
        "cells": cells_bytes(charted.chart),
        "within_stock": charted.within_stock,
        "recipe": charted.recipe,
        "plan": plan,
        "painted": charted.painted,
        "locked": charted.locked,
        "changed": timezone.now(),
    } | ({"picture": picture} if picture else {})
    if panel_version == 0:
        if Panel.objects.filter(piece=piece).exists():
            raise Changed(Piece.objects.select_related("panel").get(pk=piece.pk))
        Panel.objects.create(piece=piece, **values)
        return
    standing = Panel.objects.filter(piece=piece, version=panel_version).first()
    if standing is None:
        raise Changed(Piece.objects.select_related("panel").get(pk=piece.pk))
    _stand_aside(standing, piece.measures)
    _panel_write(standing, **values)


def _panel_write(panel: Panel, **values: Any) -> None:
    found = Panel.objects.filter(pk=panel.pk, version=panel.version)
    if not found.update(version=F("version") + 1, **values):
        raise Changed(Piece.objects.select_related("panel").get(pk=panel.piece_id))


STANDING = ("sheet_id", "rows", "columns", "loading", "palette", "within_stock", "recipe", "plan")
STANDING_BYTES = ("cells", "painted", "locked")


def _stand_aside(panel: Panel, measures: dict[str, Any]) -> None:
    """Keeps the chart that stands now, so that it can be put back."""
    stood = {name: getattr(panel, name) for name in STANDING} | {"measures": measures}
    stood |= {name: b64encode(bytes(getattr(panel, name))).decode() for name in STANDING_BYTES}
    values = {"stood": stood, "picture_id": panel.picture_id, "since": timezone.now()}
    EarlierChart.objects.update_or_create(panel=panel, defaults=values)


class NothingEarlier(ValueError):
    """Why no earlier chart can be put back, in words."""


@transaction.atomic
def chart_put_back(*, panel: Panel, version: int) -> None:
    """The chart that stood before the last one was taken over; the one that stands now takes its place, so that this
    too can be taken back. Raises Changed, NothingEarlier."""
    earlier = EarlierChart.objects.filter(panel=panel).first()
    if earlier is None:
        raise NothingEarlier("There is no earlier chart of this panel.")
    if panel.version != version:
        raise Changed(Piece.objects.select_related("panel").get(pk=panel.piece_id))
    stood = earlier.stood
    if not Sheet.objects.filter(pk=stood["sheet_id"]).exists():
        raise NothingEarlier("The sheet type of the earlier chart is no longer in stock.")
    values = {name: stood[name] for name in STANDING} | {name: b64decode(stood[name]) for name in STANDING_BYTES}
    piece = Piece.objects.get(pk=panel.piece_id)
    _stand_aside(panel, piece.measures)
    _panel_write(panel, **values, picture_id=earlier.picture_id, changed=timezone.now())
    Piece.objects.filter(pk=piece.pk).update(measures=stood["measures"], version=F("version") + 1)
    PanelDraft.objects.filter(piece=piece).delete()


def piece_remove(*, piece: Piece) -> None:
    piece.delete()
