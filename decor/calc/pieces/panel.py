"""The picture panel: sheets opened, joined and loaded with balloons."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from decor.calc.checks import check_above_zero, check_not_negative, check_whole
from decor.calc.physics.balloons import NominalSize, size_checked
from decor.calc.picture.lattice import KINDS, Kind, Lattice
from decor.calc.pieces.needs import (
    BUILT_AT,
    MOST_BALLOONS,
    BuiltAt,
    LatexNeed,
    PieceNeeds,
    flat_room_m3,
    skills_for,
)
from decor.calc.pieces.panel_sheets import PanelSheets, SheetGrid, sheet_grid
from decor.calc.pieces.panel_ways import LOADINGS, Loading, Way
from decor.calc.pieces.panel_work import panel_tasks
from decor.calc.work.rates import Rates

__all__ = ["LOADINGS", "Loading", "PanelMeasures", "SheetGrid", "Way", "needs", "sheet_grid"]


@dataclass(frozen=True)
class PanelMeasures:
    """A panel of one sheet type.

    `rows` × `columns` of cells; `pitch_m` along a row and `row_pitch_m` between rows (by default the pitch, on a hex
    lattice 0.8660 of it). A sheet has `sheet_rows` × `sheet_columns` cells, `tabs_side` join tabs along a left or
    right edge and `tabs_top` along a top or bottom edge. `counts` are cells by colour, (stock number or None,
    cells); cells that are not counted stay empty. `nominal_in` None takes the smallest size that serves.
    `mixed_pairs`, `pairs_between_rows` and `colour_changes` are those of its chart's pairs or strings; None while
    there is no chart. `sheets` are the figures of its sheet plan; without them the sheets lie on a plain grid.
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
    mixed_pairs: int | None = None
    pairs_between_rows: int | None = None
    colour_changes: int | None = None
    sheets: PanelSheets | None = None

    def __post_init__(self) -> None:
        _check_cells(self)
        _check_sheet(self)
        _check_tying(self)
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


def _check_tying(given: PanelMeasures) -> None:
    for name, most in (
        ("mixed_pairs", given.cells // 2),
        ("pairs_between_rows", given.cells // 2),
        ("colour_changes", given.cells - 1),
    ):
        value = getattr(given, name)
        if value is not None:
            check_whole(name, value, 0)
            if value > most:
                raise ValueError(f"{name} must be at most {most:,} of {given.cells:,} cells, not {value:,}")


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
        sheets=grid.needs(measures),
        joins=grid.joins,
        hardware=(),
        tasks=panel_tasks(measures, grid, balloons, rates),
        weight_kg=balloons * size.mass_kg + grid.weight_kg(measures),
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
