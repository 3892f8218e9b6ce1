"""The work that a panel takes."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from decor.calc.pieces.needs import Task, slow_fill_min
from decor.calc.pieces.panel_sheets import SheetGrid
from decor.calc.pieces.panel_ways import LOADINGS
from decor.calc.work.labour import TASK_KINDS
from decor.calc.work.rates import Rates

if TYPE_CHECKING:
    from decor.calc.pieces.panel import PanelMeasures


def panel_tasks(measures: PanelMeasures, grid: SheetGrid, balloons: int, rates: Rates) -> tuple[Task, ...]:
    """Everything from opening the sheets to dressing the hung panel."""
    at = measures.built_at
    tabs_here = grid.joins.tabs if at == "venue" else grid.joins.tabs - grid.venue_joins.tabs
    tabs_there = grid.joins.tabs - tabs_here
    area_m2 = measures.width_m * measures.height_m
    tasks = (
        Task("open", grid.sheets, at, says=f"{grid.across} across, {grid.down} down, {grid.layers} deep"),
        Task("strip", grid.strips(rates), at, says="those at joins, and those that opening needs off"),
        Task("join", tabs_here, at, says=f"{grid.joins.edges} joins"),
        *_tying(measures, balloons, rates),
        *_loading(measures, grid, rates),
        Task("join", tabs_there, "venue", says=f"{grid.sections} sections"),
        Task("rig", max(1.0, area_m2 / 10.0), "venue", people=rates.rig_people, says=f"{area_m2:.1f} m²"),
        Task("dress", 1, "venue", says="1 piece"),
    )
    return tuple(task for task in tasks if task.units > 0)


def _tying(measures: PanelMeasures, balloons: int, rates: Rates) -> tuple[Task, ...]:
    """Balloons inflated, sized and tied; what is mixed, and what is bagged by order, takes longer."""
    at, loading = measures.built_at, LOADINGS[measures.way]
    waiting = slow_fill_min(balloons, measures.sized_diameter_m, rates.elongation_panel, rates)
    each = "one" if loading.balloons == 1 else "two"
    tied = Task(loading.inflate_task, balloons, at, says=f"{measures.cells:,} cells, {each} each", extra_min=waiting)
    if measures.way == "strung":
        bags, changes = strings_in(measures.cells, rates), measures.colour_changes or 0
        return (
            tied,
            Task("change colours", changes, at, says=f"{changes:,} changes along the strings"),
            Task("bag strings", bags, at, says=f"{bags:,} strings of about {rates.string_balloons:,}"),
        )
    mixed = (measures.mixed_pairs or 0) if measures.way == "paired" else 0
    # In the other ways a cell's two balloons are of one colour.
    return (tied, Task("mixed pairs", mixed, at, says=f"{mixed:,} of two colours")) if mixed else (tied,)


def strings_in(cells: int, rates: Rates) -> int:
    """How many bags of strings."""
    return math.ceil(cells / rates.string_balloons)


def _loading(measures: PanelMeasures, grid: SheetGrid, rates: Rates) -> tuple[Task, ...]:
    at, kind = measures.built_at, f"load {measures.way}"
    between = 2 * (measures.pairs_between_rows or 0) if measures.way == "paired" else 0
    along = measures.cells - between
    slow_cells = first_rows_cells(measures, grid, rates)
    slow_min = slow_cells * TASK_KINDS[kind].minutes_per_unit(rates)
    says = f"{along:,} cells" + (" along the rows" if between else "")
    return (
        Task(kind, along, at, says=says, extra_min=slow_min, extra_says="for the first rows, which are the slowest"),
        Task("load between rows", between, at, says=f"{between:,} cells of pairs between two rows"),
    )


def first_rows_cells(measures: PanelMeasures, grid: SheetGrid, rates: Rates) -> float:
    """By how many cells' time the first rows of each section are slower.

    The first row takes `first_row_factor` times its time, and every row after it by the same step less, until after
    `first_rows` rows nothing is left of it (studio default, no source; a panel of fewer rows has fewer slow ones).
    """
    rows = min(int(rates.first_rows), -(-measures.rows // grid.down) * grid.section_down)
    slow_rows = (rates.first_row_factor - 1.0) * sum(1.0 - row / rates.first_rows for row in range(rows))
    # An outline's row is on the average as full as the panel.
    a_row = measures.columns * measures.cells / (measures.rows * measures.columns)
    rows_of_sections = -(-grid.down // grid.section_down)
    return min(slow_rows * a_row * rows_of_sections, (rates.first_row_factor - 1.0) * measures.cells)
