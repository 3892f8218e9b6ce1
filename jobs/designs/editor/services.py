"""Cells painted or locked by hand, and the outline they make: the one way in which a chart changes but by being made
anew."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from django.db import transaction
from django.utils import timezone

from decor.calc.picture.chart import EMPTY
from decor.studio.versions import Changed
from jobs.designs.charting import CELLS_AS
from jobs.designs.editor.merging import UNKNOWN, Numbers, Stroke, merged, runs_of
from jobs.designs.models import Panel
from jobs.designs.pictures.recipe import bits_text, bytes_bits


class Unpaintable(ValueError):
    """Why a cell cannot be painted so, in words."""


@dataclass(frozen=True)
class Painted:
    """`before` is the chart's version that the stroke met; `disputed` is what somebody else painted meanwhile, a flat
    list of start, length, the colour that stands and the one that was wanted, in the panel's numbers."""

    panel: Panel
    before: int
    disputed: list[int]


@transaction.atomic
def cells_paint(
    *, panel: Panel, stroke: Stroke, palette: Sequence[int], addable: Collection[int] = (), version: int | None = None
) -> Painted:
    """The stroke, whose colours are numbers into `palette` (latex item ids; -1 empties a cell), wherever the chart
    still shows what its painter saw. The cells are marked as painted by hand, so that a chart made anew keeps them.
    A colour of `addable` that the panel lacks becomes one of its palette.

    Raises Unpaintable with the reason in words; Changed where `version` is given and the chart is another."""
    found = _locked(panel, version)
    size, before = found.rows * found.columns, found.version
    colours = [*found.palette]
    wanted = Stroke(
        stroke.at, _translated(stroke.now, palette, colours, addable), _seen(stroke.was, palette, found.palette)
    )
    if len(wanted) and int(wanted.at.max()) >= size:
        raise Unpaintable(f"The panel is {found.columns} wide and {found.rows} high; that cell is outside it.")
    result = merged(_cells(found), wanted)
    if (result.cells == EMPTY).all():
        raise Unpaintable("At least one cell must keep a balloon.")
    marks = bytes_bits(bytes(found.painted), size)
    marks[wanted.at[result.done]] = True
    if result.done.any():
        found.palette = colours
        found.cells, found.painted = result.cells.astype(CELLS_AS).tobytes(), np.packbits(marks).tobytes()
        _write(found, "palette", "cells", "painted")
    off = ~result.done
    disputed = runs_of(wanted.at[off], result.cells[wanted.at[off]], wanted.now[off])
    return Painted(found, before, disputed)


@transaction.atomic
def cells_lock(*, panel: Panel, stroke: Stroke) -> Painted:
    """Cells locked (1) or unlocked (0). Whoever says it last is right: nothing is lost by a lock."""
    found = _locked(panel, None)
    size, before = found.rows * found.columns, found.version
    if len(stroke) and int(stroke.at.max()) >= size:
        raise Unpaintable(f"The panel is {found.columns} wide and {found.rows} high; that cell is outside it.")
    marks = bytes_bits(bytes(found.locked), size)
    marks[stroke.at] = stroke.now == 1
    found.locked = np.packbits(marks).tobytes() if marks.any() else b""
    _write(found, "locked")
    return Painted(found, before, [])


@transaction.atomic
def outline_keep(*, panel: Panel) -> Painted:
    """The cells that have a balloon become the panel's outline: a chart made anew leaves the others empty."""
    found = _locked(panel, None)
    before, filled = found.version, _cells(found) != EMPTY
    painted = not bool(filled.all())
    found.recipe = found.recipe | {
        "outline": {"kind": "painted", "cells": bits_text(filled)} if painted else {"kind": "whole"}
    }
    _write(found, "recipe")
    return Painted(found, before, [])


def _locked(panel: Panel, version: int | None) -> Panel:
    """The row itself, held until the end: two painters at one moment go one after the other."""
    found: Panel = Panel.objects.select_for_update().get(pk=panel.pk)
    if version is not None and found.version != version:
        raise Changed(found)
    return found


def _write(panel: Panel, *fields: str) -> None:
    panel.version, panel.changed = panel.version + 1, timezone.now()
    panel.save(update_fields=[*fields, "version", "changed"])


def _cells(panel: Panel) -> np.ndarray:
    return np.frombuffer(bytes(panel.cells), dtype=CELLS_AS)


def _translated(numbers: Numbers, palette: Sequence[int], colours: list[int], addable: Collection[int]) -> Numbers:
    """From numbers into the painter's palette to those into `colours`, to which new ones are added."""
    table = np.full(len(palette) + 1, EMPTY, dtype=np.int64)
    for number in np.unique(numbers).tolist():
        if number == EMPTY:
            continue
        if not 0 <= number < len(palette):
            raise Unpaintable("That colour is not one of the panel's.")
        if palette[number] not in colours:
            if palette[number] not in addable:
                raise Unpaintable("That colour is not one of the panel's.")
            colours.append(palette[number])
        table[number] = colours.index(palette[number])
    return table[numbers]


def _seen(numbers: Numbers, palette: Sequence[int], colours: Sequence[int]) -> Numbers:
    table = [colours.index(item) if item in colours else UNKNOWN for item in palette]
    known = np.array([*table, EMPTY], dtype=np.int64)
    inside = (numbers >= EMPTY) & (numbers < len(palette))
    return np.where(inside, known[np.where(inside, numbers, 0)], UNKNOWN)
