"""The picture panel: sheets opened, joined and loaded with balloons."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from decor.calc.pieces.needs import (
    BUILT_AT,
    MOST_BALLOONS,
    BuiltAt,
    PieceNeeds,
    Shape,
)
from decor.calc.work.rates import Rates

LatticeKind = Literal["square", "offset", "hex"]
Way = Literal["paired", "two-sided", "sandwich", "strung"]

LATTICES: tuple[LatticeKind, ...] = ("square", "offset", "hex")
HEX_ROW_PITCH = math.sqrt(3.0) / 2.0


@dataclass(frozen=True)
class Loading:
    """A way to load: balloons in a cell, layers of sheets, depth in balloons, their shape, which tasks it takes."""

    balloons: int
    layers: int
    depth: float
    shape: Shape
    inflate_task: str


LOADINGS: dict[Way, Loading] = {
    "paired": Loading(1, 1, 1.0, "round", "inflate pairs"),
    "two-sided": Loading(2, 1, 2.0, "double-ended", "inflate pairs"),
    "sandwich": Loading(2, 2, 2.0, "round", "inflate pairs"),
    "strung": Loading(1, 1, 1.0, "double-ended", "inflate strings"),
}


@dataclass(frozen=True)
class PanelMeasures:
    """A panel of one sheet type.

    `rows` × `columns` of cells; `pitch_m` along a row and `row_pitch_m` between rows (by default the pitch, on a hex
    lattice 0.8660 of it). A sheet has `sheet_rows` × `sheet_columns` cells, `tabs_side` join tabs along a left or
    right edge and `tabs_top` along a top or bottom edge. `counts` are cells by colour, (stock number or None,
    cells); cells that are not counted stay empty. `nominal_in` None takes the smallest size that serves.
    """

    rows: int
    columns: int
    pitch_m: float
    sheet_rows: int
    sheet_columns: int
    sized_diameter_m: float
    counts: tuple[tuple[int | None, int], ...]
    lattice: LatticeKind = "square"
    way: Way = "paired"
    row_pitch_m: float | None = None
    sheet_key: int | None = None
    sheet_weight_kg: float = 0.0
    tabs_side: int = 0
    tabs_top: int = 0
    nominal_in: float | None = None
    built_at: BuiltAt = "workshop"

    def __post_init__(self) -> None:
        _check_cells(self)
        _check_sheet(self)
        if self.lattice not in LATTICES:
            raise ValueError("lattice must be square, offset or hex")
        if self.way not in LOADINGS:
            raise ValueError("way must be paired, two-sided, sandwich or strung")
        if self.built_at not in BUILT_AT:
            raise ValueError("built_at must be workshop or venue")

    @property
    def cells(self) -> int:
        """Cells that hold a colour."""
        return sum(count for _, count in self.counts)

    @property
    def row_step_m(self) -> float:
        """Distance between neighbouring rows [m]."""
        if self.row_pitch_m is not None:
            return self.row_pitch_m
        return self.pitch_m * (HEX_ROW_PITCH if self.lattice == "hex" else 1.0)

    @property
    def width_m(self) -> float:
        """Width with the outer half-pitches, and the half-pitch by which odd rows stand out [m]."""
        moved = 0.5 if self.lattice != "square" and self.rows > 1 else 0.0
        return (self.columns + moved) * self.pitch_m

    @property
    def height_m(self) -> float:
        """Height with the outer half-pitches [m]."""
        return self.rows * self.row_step_m

    def needs(self, rates: Rates) -> PieceNeeds:
        """See `needs`."""
        return needs(self, rates)


def _whole(name: str, value: int, least: int) -> None:
    if isinstance(value, bool) or int(value) != value or value < least:
        raise ValueError(f"{name} must be a whole number, {least} or more")


def _above_zero(name: str, value: float) -> None:
    if not (math.isfinite(value) and value > 0):
        raise ValueError(f"{name} must be above 0")


def _check_cells(given: PanelMeasures) -> None:
    _whole("rows", given.rows, 1)
    _whole("columns", given.columns, 1)
    if given.rows * given.columns > MOST_BALLOONS:
        raise ValueError(
            f"rows × columns must be at most {MOST_BALLOONS:,} cells: this panel has {given.rows * given.columns:,}"
        )
    _above_zero("pitch_m", given.pitch_m)
    if given.row_pitch_m is not None:
        _above_zero("row_pitch_m", given.row_pitch_m)
    _above_zero("sized_diameter_m", given.sized_diameter_m)
    if not given.counts:
        raise ValueError("counts must name at least one colour")
    for _, count in given.counts:
        _whole("counts", count, 1)
    if given.cells > given.rows * given.columns:
        raise ValueError("counts must not add to more than the panel's cells")


def _check_sheet(given: PanelMeasures) -> None:
    _whole("sheet_rows", given.sheet_rows, 1)
    _whole("sheet_columns", given.sheet_columns, 1)
    _whole("tabs_side", given.tabs_side, 0)
    _whole("tabs_top", given.tabs_top, 0)
    if not (math.isfinite(given.sheet_weight_kg) and given.sheet_weight_kg >= 0):
        raise ValueError("sheet_weight_kg must be 0 or more")
