"""The picture panel: sheets opened, joined and loaded with balloons."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from decor.calc.checks import check_above_zero, check_not_negative, check_whole
from decor.calc.physics.balloons import NominalSize, size_checked
from decor.calc.picture.lattice import KINDS, Kind, Lattice
from decor.calc.pieces.needs import (
    BUILT_AT,
    MOST_BALLOONS,
    BuiltAt,
    Joins,
    LatexNeed,
    PieceNeeds,
    Shape,
    SheetNeed,
    Task,
    flat_room_m3,
    skills_for,
    slow_fill_min,
)
from decor.calc.work.rates import Rates

Way = Literal["paired", "two-sided", "sandwich", "strung"]


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
    lattice: Kind = "square"
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
        if self.lattice not in KINDS:
            raise ValueError("lattice must be square, offset or hex")
        if self.way not in LOADINGS:
            raise ValueError("way must be paired, two-sided, sandwich or strung")
        if self.built_at not in BUILT_AT:
            raise ValueError("built_at must be workshop or venue")

    @property
    def cells(self) -> int:
        """Cells that hold a colour."""
        return sum(count for _, count in self.counts)

    @cached_property
    def net(self) -> Lattice:
        """How its cells stand."""
        return Lattice(self.lattice, self.rows, self.columns, self.pitch_m, self.row_pitch_m)

    @property
    def width_m(self) -> float:
        """Width with the outer half-pitches, and the half-pitch by which odd rows stand out [m]."""
        return self.net.width_m

    @property
    def height_m(self) -> float:
        """Height with the outer half-pitches [m]."""
        return self.net.height_m

    def needs(self, rates: Rates) -> PieceNeeds:
        """See `needs`."""
        return needs(self, rates)


def _check_cells(given: PanelMeasures) -> None:
    check_whole("rows", given.rows, 1)
    check_whole("columns", given.columns, 1)
    if given.rows * given.columns > MOST_BALLOONS:
        raise ValueError(
            f"rows × columns must be at most {MOST_BALLOONS:,} cells: this panel has {given.rows * given.columns:,}"
        )
    check_above_zero("pitch_m", given.pitch_m)
    if given.row_pitch_m is not None:
        check_above_zero("row_pitch_m", given.row_pitch_m)
    check_above_zero("sized_diameter_m", given.sized_diameter_m)
    if not given.counts:
        raise ValueError("counts must name at least one colour")
    for _, count in given.counts:
        check_whole("counts", count, 1)
    if given.cells > given.rows * given.columns:
        raise ValueError("counts must not add to more than the panel's cells")


def _check_sheet(given: PanelMeasures) -> None:
    check_whole("sheet_rows", given.sheet_rows, 1)
    check_whole("sheet_columns", given.sheet_columns, 1)
    check_whole("tabs_side", given.tabs_side, 0)
    check_whole("tabs_top", given.tabs_top, 0)
    check_not_negative("sheet_weight_kg", given.sheet_weight_kg)


@dataclass(frozen=True)
class SheetGrid:
    """Sheets side by side (`across`) and one above another (`down`), in `layers`; all joins, and those left to the
    venue since they lie between sections. `section_across` × `section_down` sheets are carried as one."""

    across: int
    down: int
    layers: int
    joins: Joins
    venue_joins: Joins
    section_across: int
    section_down: int
    fits_van: bool

    @property
    def sheets(self) -> int:
        return self.across * self.down * self.layers

    @property
    def sections(self) -> int:
        return -(-self.across // self.section_across) * -(-self.down // self.section_down)


def sheet_grid(measures: PanelMeasures, rates: Rates) -> SheetGrid:
    """How the panel is cut into sheets and sections.

    Sheets lie on a plain grid from the origin corner, the last ones reaching over the edge. A panel that is built
    in the workshop is carried in the sections that leave the fewest tabs to join at the venue, among those that
    pass the van's door flat; if not even a single sheet does, `fits_van` is False.
    """
    across = -(-measures.columns // measures.sheet_columns)
    down = -(-measures.rows // measures.sheet_rows)
    layers = LOADINGS[measures.way].layers
    joins = _joins(measures, (across - 1) * down, across * (down - 1), layers)
    if measures.built_at == "venue":
        return SheetGrid(across, down, layers, joins, joins, across, down, fits_van=True)
    choices = [
        (_between(measures, across, down, wide, high, layers), wide, high)
        for wide in range(1, across + 1)
        for high in range(1, down + 1)
        if _passes_door(measures, wide, high, rates)
    ]
    if not choices:
        whole = _between(measures, across, down, 1, 1, layers)
        return SheetGrid(across, down, layers, joins, whole, 1, 1, fits_van=False)
    venue, wide, high = min(choices, key=lambda choice: (choice[0].tabs, choice[0].edges, -choice[1]))
    return SheetGrid(across, down, layers, joins, venue, wide, high, fits_van=True)


def _joins(measures: PanelMeasures, side_edges: int, top_edges: int, layers: int) -> Joins:
    tabs = side_edges * measures.tabs_side + top_edges * measures.tabs_top
    return Joins((side_edges + top_edges) * layers, tabs * layers)


def _between(measures: PanelMeasures, across: int, down: int, wide: int, high: int, layers: int) -> Joins:
    """Joins between sections of `wide` × `high` sheets."""
    return _joins(measures, (-(-across // wide) - 1) * down, across * (-(-down // high) - 1), layers)


def _passes_door(measures: PanelMeasures, wide: int, high: int, rates: Rates) -> bool:
    width_m = min(wide * measures.sheet_columns, measures.columns) * measures.pitch_m
    height_m = min(high * measures.sheet_rows, measures.rows) * measures.net.row_pitch_m
    return min(width_m, height_m) <= rates.van_door_m and max(width_m, height_m) <= rates.van_length_m


def needs(measures: PanelMeasures, rates: Rates) -> PieceNeeds:
    """Materials and work of one panel.

    Raises ValueError naming `sized_diameter_m` or `nominal_in` where no balloon of the studio's table serves.
    """
    loading = LOADINGS[measures.way]
    size = size_checked(measures.nominal_in, measures.sized_diameter_m, loading.shape, rates.sizes)
    grid = sheet_grid(measures, rates)
    depth_m = measures.sized_diameter_m * loading.depth
    balloons = measures.cells * loading.balloons
    built_room = measures.width_m * measures.height_m * depth_m * rates.packing_room_factor
    at_venue = measures.built_at == "venue"
    return PieceNeeds(
        latex=_latex(measures, size, rates),
        sheets=(SheetNeed(measures.sheet_key, grid.sheets),),
        joins=grid.joins,
        hardware=(),
        tasks=_tasks(measures, grid, balloons, rates),
        weight_kg=balloons * size.mass_kg + grid.sheets * measures.sheet_weight_kg,
        packed_volume_m3=flat_room_m3(balloons, grid.sheets, rates) if at_venue else built_room,
        width_m=measures.width_m,
        height_m=measures.height_m,
        depth_m=depth_m,
        skills=skills_for(height_m=measures.height_m, rigged=True),
        hanging=True,
        sections=grid.sections,
        hang_points=max(2, int(measures.width_m / rates.hang_point_every_m) + 1),
        fits_van=grid.fits_van,
        says=f"{measures.columns} wide, {measures.rows} high, {measures.way}",
    )


def _latex(measures: PanelMeasures, size: NominalSize, rates: Rates) -> tuple[LatexNeed, ...]:
    each = LOADINGS[measures.way].balloons
    word = "one balloon each" if each == 1 else "two balloons each"
    cells: dict[int | None, int] = {}
    for key, count in measures.counts:
        cells[key] = cells.get(key, 0) + count
    return tuple(
        LatexNeed(
            key=key,
            nominal_in=size.nominal_in,
            shape=LOADINGS[measures.way].shape,
            quantity=count * each,
            sized_diameter_m=measures.sized_diameter_m,
            elongation=rates.elongation_panel,
            says=f"{count:,} {'cell' if count == 1 else 'cells'}, {word}",
        )
        for key, count in cells.items()
    )


def _tasks(measures: PanelMeasures, grid: SheetGrid, balloons: int, rates: Rates) -> tuple[Task, ...]:
    at, loading = measures.built_at, LOADINGS[measures.way]
    tabs_here = grid.joins.tabs if at == "venue" else grid.joins.tabs - grid.venue_joins.tabs
    tabs_there = grid.joins.tabs - tabs_here
    strips = min(2 * grid.joins.edges + rates.opening_strips_per_sheet * grid.sheets, 4 * grid.sheets)
    waiting = slow_fill_min(balloons, measures.sized_diameter_m, rates.elongation_panel, rates)
    area_m2 = measures.width_m * measures.height_m
    each = "one" if loading.balloons == 1 else "two"
    tasks = (
        Task("open", grid.sheets, at, says=f"{grid.across} across, {grid.down} down, {grid.layers} deep"),
        Task("strip", strips, at, says="two at each join, and those that opening needs off"),
        Task("join", tabs_here, at, says=f"{grid.joins.edges} joins"),
        Task(loading.inflate_task, balloons, at, says=f"{measures.cells:,} cells, {each} each", extra_min=waiting),
        Task(f"load {measures.way}", measures.cells, at, says=f"{measures.cells:,} cells"),
        Task("join", tabs_there, "venue", says=f"{grid.sections} sections"),
        Task("rig", max(1.0, area_m2 / 10.0), "venue", people=rates.rig_people, says=f"{area_m2:.1f} m²"),
        Task("dress", 1, "venue", says="1 piece"),
    )
    return tuple(task for task in tasks if task.units > 0)
