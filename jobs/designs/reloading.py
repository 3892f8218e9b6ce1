"""A panel loaded another way: its colours stay, in balloons of the shape that the way needs."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from django.db import transaction
from django.db.models import F
from django.utils import timezone

from decor.calc.picture.chart import EMPTY
from decor.calc.pieces.panel import LOADINGS
from decor.studio.versions import Changed
from jobs.designs.catalogue import Catalogue, LatexItem
from jobs.designs.charting import CELLS_AS, cells_array, palette_of
from jobs.designs.fits import NO_SHEETS
from jobs.designs.models import Panel, Piece
from jobs.designs.pictures.plots import fitted
from jobs.designs.tying import KEY, Wishes


class NoSuchBalloons(ValueError):
    """Colours that the chart uses and the studio has in no size and shape that would serve; `missing` in words."""

    def __init__(self, missing: list[str], shape: str) -> None:
        self.missing = missing
        super().__init__(f"No {shape} balloons of this size in {', '.join(missing)}. Add them under Stock first.")


@dataclass(frozen=True)
class Swapped:
    """A palette in another shape, and the chart's cells in its numbers; `missing` are the words of colours that have
    no such balloon (their cells keep a number of their own, whose place in the palette is 0)."""

    palette: tuple[int, ...]
    cells: np.ndarray
    missing: tuple[str, ...]


def swapped(panel: Panel, way: str, catalogue: Catalogue) -> Swapped:
    """The panel's chart in the balloons of this way to load; colours that no cell uses and that have none fall out.

    Raises ValueError in words where the sheet type is gone."""
    sheet = catalogue.sheet(panel.sheet_id)
    if sheet is None:
        raise ValueError(NO_SHEETS)
    fitting = catalogue.fitting(sheet.sized_diameter_m, LOADINGS[way].shape)  # type: ignore[index]
    cells, items = cells_array(panel), palette_of(panel, catalogue)
    used = set(np.unique(cells[cells != EMPTY]).tolist())
    palette: list[int] = []
    missing: list[str] = []
    number = np.full(len(items) + 1, EMPTY, dtype=np.int64)
    for old, item in enumerate(items):
        match: LatexItem | None = fitted(item, fitting)
        if match is None and old not in used:
            continue
        if match is None:
            missing.append(item.words if item else "a colour that was taken out of stock")
        if match is not None and match.id in palette:
            number[old] = palette.index(match.id)
            continue
        number[old] = len(palette)
        palette.append(match.id if match else 0)
    return Swapped(tuple(palette), number[cells], tuple(missing))


@transaction.atomic
def panel_reload(*, panel: Panel, version: int, way: str, catalogue: Catalogue) -> Panel:
    """Raises NoSuchBalloons, Changed where the chart is no longer that of `version`."""
    if way not in LOADINGS:
        raise ValueError("Choose one of the ways to load.")
    new = swapped(panel, way, catalogue)
    if new.missing:
        raise NoSuchBalloons(list(new.missing), LOADINGS[way].shape)
    values: dict[str, Any] = {
        "loading": way,
        "palette": list(new.palette),
        "cells": new.cells.astype(CELLS_AS).tobytes(),
        "recipe": panel.recipe | {"loading": way} if panel.recipe else panel.recipe,
        "changed": timezone.now(),
    }
    if not Panel.objects.filter(pk=panel.pk, version=version).update(**values, version=F("version") + 1):
        raise Changed(Panel.objects.get(pk=panel.pk))
    _measures_keep(panel.piece_id, {"loading": way})
    return Panel.objects.get(pk=panel.pk)


@transaction.atomic
def tying_choose(*, piece: Piece, version: int, wishes: Wishes) -> None:
    """Whether pairs may lie between rows, whether strings wind. Raises Changed."""
    if not Piece.objects.filter(pk=piece.pk, version=version).exists():
        raise Changed(Piece.objects.get(pk=piece.pk))
    _measures_keep(piece.pk, {KEY: wishes.to_plain()})


def _measures_keep(piece_id: int, more: dict[str, Any]) -> None:
    piece = Piece.objects.select_for_update().get(pk=piece_id)
    Piece.objects.filter(pk=piece_id).update(measures=piece.measures | more, version=F("version") + 1)
