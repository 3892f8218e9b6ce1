"""A chart as a file of our own, in plain JSON, and back without loss. docs/panel-file.md describes it."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from decor.calc.picture.chart import Chart
from decor.calc.picture.lattice import KINDS, Lattice
from jobs.designs.drawing import rgb_of_hex

FORMAT = "knotbook panel"
VERSION = 1
MOST_BYTES = 2_000_000
_FINISHES = ("plain", "pearl", "metallic", "clear")
_LOADINGS = ("paired", "two-sided", "sandwich", "strung")


class FileRefused(ValueError):
    """Why a file is not taken, in words."""


@dataclass(frozen=True)
class FileColour:
    """A balloon's colour by its words and as it looks on screen."""

    colour: str
    finish: str
    rgb: str

    @property
    def words(self) -> str:
        return self.colour if self.finish == "plain" else f"{self.finish} {self.colour}"


@dataclass(frozen=True)
class PanelFile:
    title: str
    chart: Chart
    palette: tuple[FileColour, ...]
    loading: str


def written(panel: PanelFile) -> str:
    """One row of cells a line, so that two files can be compared by eye."""
    lattice = panel.chart.lattice
    head = {
        "format": FORMAT,
        "version": VERSION,
        "title": panel.title,
        "loading": panel.loading,
        "lattice": {
            "kind": lattice.kind,
            "rows": lattice.rows,
            "columns": lattice.columns,
            "pitch_m": lattice.pitch_m,
            "row_pitch_m": lattice.row_pitch_m,
        },
        "palette": [{"colour": one.colour, "finish": one.finish, "rgb": one.rgb} for one in panel.palette],
    }
    rows = ",\n  ".join(json.dumps(row) for row in panel.chart.cells.tolist())
    return json.dumps(head, ensure_ascii=False, indent=1)[:-2] + f',\n "cells": [\n  {rows}\n ]\n}}\n'


def read(data: bytes) -> PanelFile:
    """Raises FileRefused with the reason in words."""
    if len(data) > MOST_BYTES:
        raise FileRefused("This file is too large to be a panel's chart.")
    try:
        plain = json.loads(data.decode("utf-8-sig"))
    except (UnicodeDecodeError, ValueError, RecursionError):
        raise FileRefused("This file is not JSON.") from None
    if not isinstance(plain, dict) or plain.get("format") != FORMAT:
        raise FileRefused("This is not a panel's chart: it does not begin with the words “knotbook panel”.")
    if plain.get("version") != VERSION:
        raise FileRefused(f"This chart is of version {plain.get('version')}; this program reads version {VERSION}.")
    palette = _palette(plain.get("palette"))
    chart = _chart(plain)
    if int(chart.cells.max()) >= len(palette):
        raise FileRefused(f"A cell has colour {int(chart.cells.max())}, but there are only {len(palette)} colours.")
    title, loading = plain.get("title"), plain.get("loading")
    if not isinstance(title, str) or not title.strip() or len(title) > 120 or not title.isprintable():
        raise FileRefused("The title is missing, or longer than 120 letters.")
    if loading not in _LOADINGS:
        raise FileRefused(f"The way to load is one of {', '.join(_LOADINGS)}.")
    return PanelFile(title.strip(), chart, palette, loading)


def _palette(given: Any) -> tuple[FileColour, ...]:
    if not isinstance(given, list) or not 1 <= len(given) <= 400:
        raise FileRefused("The palette is missing, or has no colours.")
    return tuple(_colour(one, number) for number, one in enumerate(given))


def _colour(given: Any, number: int) -> FileColour:
    try:
        colour, finish, rgb = (given[name] for name in ("colour", "finish", "rgb"))
        rgb_of_hex(rgb)
    except (KeyError, TypeError, ValueError):
        raise FileRefused(f"Colour {number} needs a colour, a finish and an rgb like #7db3d8.") from None
    if not isinstance(colour, str) or not colour or len(colour) > 30 or not colour.isprintable():
        raise FileRefused(f"Colour {number} has no name, or one longer than 30 letters.")
    if finish not in _FINISHES:
        raise FileRefused(f"The finish of colour {number} is one of {', '.join(_FINISHES)}.")
    return FileColour(colour, finish, rgb.lower())


def _chart(plain: dict[str, Any]) -> Chart:
    lattice, cells = plain.get("lattice"), plain.get("cells")
    if not isinstance(lattice, dict) or lattice.get("kind") not in KINDS or not isinstance(cells, list):
        raise FileRefused("The lattice or the cells are missing.")
    whole = all(_whole_numbers(row) for row in cells)
    if not whole:
        raise FileRefused("Cells are rows of whole numbers: a colour from 0, or -1 for an empty cell.")
    try:
        chart = Chart(cells, Lattice(*(lattice.get(n) for n in ("kind", "rows", "columns", "pitch_m", "row_pitch_m"))))
    except (ValueError, TypeError, OverflowError) as wrong:
        raise FileRefused(f"The chart does not fit together: {wrong}.") from wrong
    if chart.cells.max() < 0:
        raise FileRefused("Every cell of this chart is empty.")
    return chart


def _whole_numbers(row: Any) -> bool:
    most = 32_767
    return isinstance(row, list) and all(type(cell) is int and -1 <= cell <= most for cell in row)


def file_colours(items: Sequence[Any], lost_rgb: str) -> tuple[FileColour, ...]:
    """The balloons of a panel's palette; one that was since taken out of stock stands as what was lost."""
    return tuple(
        FileColour(item.colour, item.finish, item.rgb.lower()) if item else FileColour("lost", "plain", lost_rgb)
        for item in items
    )
