"""A sheet as it lies on the table: its lines in the order in which they are loaded, and which chart they are of."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from decor.calc.picture.chart import EMPTY
from decor.calc.picture.sheets import PlacedSheet, SheetPlan
from jobs.designs.catalogue import Catalogue
from jobs.designs.charting import cells_array
from jobs.designs.models import Panel
from jobs.designs.sheets.plans import panel_plan

Up = Literal["top", "left", "bottom", "right"]
UPS: tuple[Up, ...] = get_args(Up)
"""Which edge of the chart lies away from the loader. "left" is a quarter turn clockwise, so that the lines on the table
are the chart's columns."""

TURNS: dict[Up, int] = {"top": 0, "left": -1, "bottom": 2, "right": 1}
UP_WORDS: dict[Up, str] = {
    "top": "top edge up",
    "left": "left edge up, a quarter turn clockwise",
    "bottom": "bottom edge up",
    "right": "right edge up, a quarter turn the other way",
}


@dataclass(frozen=True)
class Line:
    """One line on the table: `number` is the chart's row, or its column where the sheet lies turned a quarter, from 1;
    `cells` the panel's cell numbers from left to right as it lies."""

    number: int
    cells: tuple[int, ...]
    colours: tuple[int, ...]

    @property
    def filled(self) -> int:
        return sum(colour != EMPTY for colour in self.colours)

    def runs(self) -> list[tuple[int, int]]:
        """[(colour, length)] from left to right, empty cells as -1."""
        runs: list[tuple[int, int]] = []
        for colour in self.colours:
            if runs and runs[-1][0] == colour:
                runs[-1] = (colour, runs[-1][1] + 1)
            else:
                runs.append((colour, 1))
        return runs


def table_plan(panel: Panel, catalogue: Catalogue) -> SheetPlan:
    """ValueError in words where the sheet type is gone."""
    return panel_plan(panel, catalogue)


def table_sheets(panel: Panel, catalogue: Catalogue) -> tuple[PlacedSheet, ...]:
    return table_plan(panel, catalogue).sheets


def lines_of(panel: Panel, sheet: PlacedSheet, up: Up) -> tuple[Line, ...]:
    """The lines that hold a balloon, the one furthest from the loader first."""
    down, across = slice(sheet.row_start, sheet.row_stop), slice(sheet.column_start, sheet.column_stop)
    numbers = np.arange(panel.rows * panel.columns).reshape(panel.rows, panel.columns)
    turned = np.rot90(numbers[down, across], TURNS[up])
    colours = np.rot90(cells_array(panel)[down, across], TURNS[up])
    along_rows = up in ("top", "bottom")
    return tuple(
        Line(
            number=int(cells[0] // panel.columns if along_rows else cells[0] % panel.columns) + 1,
            cells=tuple(cells.tolist()),
            colours=tuple(colour.tolist()),
        )
        for cells, colour in zip(turned, colours, strict=True)
        if (colour != EMPTY).any()
    )


def line_word(up: Up) -> str:
    return "row" if up in ("top", "bottom") else "column"


def sheet_key(panel: Panel, sheet: PlacedSheet) -> str:
    """Names what is to be loaded into this sheet: its cells, their colours, the way and the place. Another sheet's
    cells may change without it."""
    part = cells_array(panel)[sheet.row_start : sheet.row_stop, sheet.column_start : sheet.column_stop]
    palette = [*panel.palette, 0]  # empty is -1, the last
    ids = np.array(palette, dtype=np.int64)[part]
    # As text: a panel that was just made has a choice there, one that was read a word.
    place = (panel.sheet_id, str(panel.loading), sheet.row_start, sheet.row_stop, sheet.column_start, sheet.column_stop)
    return hashlib.sha256(repr(place).encode() + ids.tobytes()).hexdigest()[:40]


def chart_key(panel: Panel, sheet: PlacedSheet, up: Up) -> str:
    """What a loaded row was loaded from; rows of a sheet that lies otherwise are other rows."""
    return f"{sheet_key(panel, sheet)}:{up}"


def entity_of(panel: Panel, face: int, number: int) -> str:
    return f"table:{panel.pk}:{face}:{number}"


def faces_of(panel: Panel) -> Sequence[int]:
    return (0, 1) if panel.loading == Panel.Loading.SANDWICH else (0,)
