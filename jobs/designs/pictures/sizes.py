"""How large a panel of this picture could be on this studio's sheets."""

import math
from dataclasses import dataclass

from decor.calc.picture import outlines
from decor.calc.picture.lattice import MOST_CELLS, Lattice
from decor.calc.picture.reading_distance import told_apart_until_m, whole_from_m
from decor.calc.pieces.panel import LOADINGS
from jobs.designs.catalogue import SheetType
from jobs.designs.fits import Fit, cells_for
from jobs.designs.lengths import size_words

CELLS = {"photograph": (900, 3_000, 7_000), "flat": (300, 900, 2_500)}
"""Cells of a small, a middle and a large panel: faces can be told from about 900, look like themselves from about
3,000; logos need fewer (tried out on open pictures; common practice, no source)."""
NAMES = ("small", "middle", "large")
_ROOM = 0.25
"""A suggestion may have this much more or less, if that uses whole sheets better."""


@dataclass(frozen=True)
class Size:
    """One panel size in words: `seen_from` and `seen_until` say from how far it is taken in, and adds detail."""

    name: str
    rows: int
    columns: int
    sheet_id: int
    sheets: int
    balloons: int
    measures: str
    seen_from: str
    seen_until: str


def suggested(sheet: SheetType, tall: float, kind: str) -> list[tuple[int, int]]:
    """Rows and columns of a small, a middle and a large panel of a picture ``tall`` times as high as wide: of the
    sizes near each the one that leaves the fewest cells of its sheets unused."""
    return [_whole_sheets(sheet, tall, cells) for cells in CELLS.get(kind, CELLS["photograph"])]


def _whole_sheets(sheet: SheetType, tall: float, cells: int) -> tuple[int, int]:
    best, least = (1, 1), math.inf
    middle = columns_of(sheet, tall, cells)
    for columns in range(max(1, round(middle * (1 - _ROOM / 2))), round(middle * (1 + _ROOM / 2)) + 2):
        rows = rows_for(sheet, columns, tall)
        if rows * columns > MOST_CELLS:
            continue
        spare = sheet.sheets_for(rows, columns) * sheet.rows * sheet.columns / (rows * columns) - 1.0
        off = abs(math.log(rows * columns / cells))
        if (loss := spare + 0.2 * off) < least:
            best, least = (rows, columns), loss
    return best


def columns_of(sheet: SheetType, tall: float, cells: int) -> float:
    step = sheet.lattice_of(1, 1).row_pitch_m / sheet.pitch_m
    return math.sqrt(cells * step / tall)


def rows_for(sheet: SheetType, columns: int, tall: float) -> int:
    """So that the picture keeps its shape."""
    width_m = sheet.lattice_of(1, columns).width_m
    return max(1, round(width_m * tall / sheet.lattice_of(1, 1).row_pitch_m))


def columns_for(sheet: SheetType, rows: int, tall: float) -> int:
    height_m = rows * sheet.lattice_of(1, 1).row_pitch_m
    return cells_for(sheet, height_m / tall, height_m).columns


def size_of(name: str, fit: Fit, *, outline: str, loading: str, alike: int, units: str) -> Size:
    lattice = fit.sheet.lattice_of(fit.rows, fit.columns)
    return Size(
        name=name,
        rows=fit.rows,
        columns=fit.columns,
        sheet_id=fit.sheet.id,
        sheets=fit.sheets * LOADINGS[loading].layers * alike,
        balloons=_cells(outline, lattice) * LOADINGS[loading].balloons * alike,
        measures=size_words(lattice.width_m, lattice.height_m, units),
        seen_from=_far(whole_from_m(lattice.width_m, lattice.height_m), units),
        seen_until=_far(told_apart_until_m(lattice.pitch_m), units),
    )


def _cells(outline: str, lattice: Lattice) -> int:
    """With a balloon, as far as the outline alone tells."""
    if outline not in ("round", "heart", "arch"):
        return lattice.cells
    try:
        return int(outlines.outline(outline, lattice).sum())
    except ValueError:
        return lattice.cells


def _far(distance_m: float, units: str) -> str:
    """To two figures: nobody stands more exactly."""
    distance = distance_m / 0.3048 if units == "imperial" else distance_m
    places = 1 - math.floor(math.log10(distance))
    return f"{round(distance, places):,.{max(0, min(places, 1))}f} {'ft' if units == 'imperial' else 'm'}"
