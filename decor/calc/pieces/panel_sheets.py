"""How a panel is put together from sheets: how many, their joins, and the sections that pass the doors."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from decor.calc.checks import check_whole
from decor.calc.picture.sheets import Edge, Join, PlacedSheet, SheetPlan
from decor.calc.picture.sheets_plan import joined_edges
from decor.calc.pieces.needs import Joins, SheetNeed
from decor.calc.pieces.panel_ways import LOADINGS
from decor.calc.work.rates import Rates

if TYPE_CHECKING:
    from decor.calc.pieces.panel import PanelMeasures

Strips = Literal["all", "sides", "ends", "none"]


@dataclass(frozen=True)
class SheetKind:
    """What a sheet type gives to a plan's figures: its stock number, cells, join tabs along a whole left or right edge
    and along a whole top or bottom one, weight, and which edges have strips."""

    key: int | None
    rows: int
    columns: int
    tabs_side: int = 0
    tabs_top: int = 0
    weight_kg: float = 0.0
    strips: Strips = "all"


@dataclass(frozen=True)
class PanelSheets:
    """The figures of one layer's sheet plan: sheets by stock number, all joins, those left to the venue, edge strips
    to pull, sections. `across` and `down` are the most sheets met along a row and along a column,
    `sections_down` the most sections along a column. `fits` is False where a sheet passes no door."""

    sheets: tuple[tuple[int | None, int], ...]
    joins: Joins
    venue_joins: Joins
    strips: int
    sections: int
    across: int
    down: int
    sections_down: int
    weight_kg: float
    fits: bool = True

    def __post_init__(self) -> None:
        for name in ("strips", "sections", "across", "down", "sections_down"):
            check_whole(name, getattr(self, name), 0 if name == "strips" else 1)
        if not self.sheets:
            raise ValueError("sheets must name at least one sheet")


def join_tabs(join: Join, kind: SheetKind) -> int:
    """Tabs that are wrapped along a join: its share of the edge's, and one at least where the edge has any."""
    of, along = (kind.tabs_side, kind.rows) if join.orientation == "upright" else (kind.tabs_top, kind.columns)
    return max(1, round(join.length_cells * of / along)) if of else 0


def plan_figures(plan: SheetPlan, kinds: Sequence[SheetKind], *, opening_strips: float) -> PanelSheets:
    """What a sheet plan comes to; `kinds` in the order of its size numbers."""
    kind_of = {sheet.number: kinds[sheet.size] for sheet in plan.sheets}
    counts = Counter(kinds[sheet.size].key for sheet in plan.sheets)
    pulled = strips_to_pull(plan, kinds, opening_strips=opening_strips)

    def joined(joins: Sequence[Join]) -> Joins:
        return Joins(len(joins), sum(join_tabs(join, kind_of[join.first]) for join in joins))

    return PanelSheets(
        sheets=tuple(sorted(counts.items(), key=lambda item: item[0] or 0)),
        joins=joined(plan.joins),
        venue_joins=joined(plan.left_for_venue()),
        strips=sum(len(edges) for edges in pulled.values()),
        sections=max(1, len(plan.sections)),
        across=_most(plan.sheets, "row"),
        down=_most(plan.sheets, "column"),
        sections_down=_most_sections(plan),
        weight_kg=sum(kind.weight_kg for kind in kind_of.values()),
        fits=plan.fits,
    )


def _most(sheets: Sequence[PlacedSheet], along: str) -> int:
    """The most sheets that one row, or one column, meets."""
    ends = max(getattr(sheet, f"{along}_stop") for sheet in sheets)
    met = np.zeros(ends + 1, dtype=np.int64)
    for sheet in sheets:
        met[getattr(sheet, f"{along}_start")] += 1
        met[getattr(sheet, f"{along}_stop")] -= 1
    return int(met.cumsum().max())


def _most_sections(plan: SheetPlan) -> int:
    if not plan.sections:
        return 1
    met = np.zeros(max(part.column_stop for part in plan.sections) + 1, dtype=np.int64)
    for part in plan.sections:
        met[part.column_start] += 1
        met[part.column_stop] -= 1
    return int(met.cumsum().max())


STRIPS_ON: dict[Strips, tuple[Edge, ...]] = {
    "all": ("bottom", "top", "right", "left"),
    "sides": ("right", "left"),
    "ends": ("bottom", "top"),
    "none": (),
}
"""Edges that have strips, in the order in which opening takes them off where no join has done so."""


def strips_to_pull(
    plan: SheetPlan, kinds: Sequence[SheetKind], *, opening_strips: float
) -> dict[int, tuple[Edge, ...]]:
    """By sheet number: the edges whose strip comes off, those at joins and as many as opening needs."""
    met = joined_edges(plan)
    found: dict[int, tuple[Edge, ...]] = {}
    for sheet in plan.sheets:
        edges = STRIPS_ON[kinds[sheet.size].strips]
        off = [edge for edge in edges if edge in met[sheet.number]]
        more = max(0, round(opening_strips) - len(off))
        off += [edge for edge in edges if edge not in off][:more]
        found[sheet.number] = tuple(off)
    return found


@dataclass(frozen=True)
class SheetGrid:
    """A panel's sheets in all `layers`: `across` × `down` of them on a plain grid, or those of its plan; all joins,
    and those left to the venue since they lie between sections. `section_across` × `section_down` sheets are carried
    as one on a plain grid."""

    across: int
    down: int
    layers: int
    joins: Joins
    venue_joins: Joins
    section_across: int
    section_down: int
    fits_van: bool
    planned: PanelSheets | None = None

    @property
    def sheets(self) -> int:
        one = sum(n for _, n in self.planned.sheets) if self.planned else self.across * self.down
        return one * self.layers

    @property
    def sections(self) -> int:
        if self.planned:
            return self.planned.sections
        return -(-self.across // self.section_across) * -(-self.down // self.section_down)

    def strips(self, rates: Rates) -> float:
        """Edge strips to pull."""
        if self.planned:
            return self.planned.strips * self.layers
        return min(2 * self.joins.edges + rates.opening_strips_per_sheet * self.sheets, 4 * self.sheets)

    def needs(self, measures: PanelMeasures) -> tuple[SheetNeed, ...]:
        """Sheets by type."""
        if self.planned:
            return tuple(SheetNeed(key, number * self.layers) for key, number in self.planned.sheets)
        return (SheetNeed(measures.sheet_key, self.sheets),)

    def weight_kg(self, measures: PanelMeasures) -> float:
        """Of the sheets alone."""
        return self.planned.weight_kg * self.layers if self.planned else self.sheets * measures.sheet_weight_kg


def sheet_grid(measures: PanelMeasures, rates: Rates) -> SheetGrid:
    """How the panel is cut into sheets and sections.

    With a plan's figures in the measures, as they say. Otherwise sheets lie on a plain grid from the origin corner,
    the last ones reaching over the edge; a panel that is built in the workshop is carried in the sections that leave
    the fewest tabs to join at the venue, among those that pass the van's door flat; if not even a single sheet does,
    `fits_van` is False.
    """
    layers = LOADINGS[measures.way].layers
    if measures.sheets:
        return _planned(measures, measures.sheets, layers)
    across = -(-measures.columns // measures.sheet_columns)
    down = -(-measures.rows // measures.sheet_rows)
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


def _planned(measures: PanelMeasures, figures: PanelSheets, layers: int) -> SheetGrid:
    joins, venue = (
        replace(joins, edges=joins.edges * layers, tabs=joins.tabs * layers)
        for joins in (figures.joins, figures.venue_joins)
    )
    at_venue = measures.built_at == "venue"
    section_down = -(-figures.down // figures.sections_down)
    return SheetGrid(
        figures.across,
        figures.down,
        layers,
        joins,
        joins if at_venue else venue,
        figures.across,
        section_down,
        fits_van=at_venue or figures.fits,
        planned=figures,
    )


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
