from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from decor.calc.picture.sheets import plan_grid
from decor.calc.pieces.needs import Joins
from decor.calc.pieces.panel import PanelMeasures, needs, sheet_grid
from decor.calc.work.rates import Rates

RATES = Rates()
SIZES = st.integers(1, 60)


def panel(**changes) -> PanelMeasures:
    usual = {
        "rows": 22,
        "columns": 26,
        "pitch_m": 0.125,
        "sheet_rows": 22,
        "sheet_columns": 13,
        "sized_diameter_m": 0.119,
        "counts": ((1, 400), (2, 172)),
        "sheet_key": 7,
        "sheet_weight_kg": 0.4,
        "tabs_side": 22,
        "tabs_top": 13,
    }
    return PanelMeasures(**(usual | changes))


@st.composite
def panels(draw, **fixed):
    rows, columns = draw(SIZES), draw(SIZES)
    first = draw(st.integers(1, rows * columns))
    counts = ((1, first),) if first == rows * columns else ((1, first), (None, rows * columns - first))
    return panel(
        **{
            "rows": rows,
            "columns": columns,
            "counts": counts,
            "sheet_rows": draw(SIZES),
            "sheet_columns": draw(SIZES),
            "way": draw(st.sampled_from(["paired", "two-sided", "sandwich", "strung"])),
            "lattice": draw(st.sampled_from(["square", "offset", "hex"])),
            "built_at": draw(st.sampled_from(["workshop", "venue"])),
        }
        | fixed
    )


@pytest.mark.parametrize(
    ("way", "balloons", "sheets", "tabs", "depths", "shape"),
    [
        ("paired", 572, 2, 22, 1, "round"),
        ("strung", 572, 2, 22, 1, "double-ended"),
        ("two-sided", 1144, 2, 22, 2, "double-ended"),
        ("sandwich", 1144, 4, 44, 2, "round"),
    ],
)
def test_each_way_takes_its_balloons_sheets_and_joins(way, balloons, sheets, tabs, depths, shape):
    got = needs(panel(way=way), RATES)
    assert got.balloons == balloons
    assert [(need.key, need.quantity) for need in got.sheets] == [(7, sheets)]
    assert got.joins == Joins(edges=sheets // 2, tabs=tabs)
    assert got.depth_m == pytest.approx(depths * 0.119)
    assert {need.shape for need in got.latex} == {shape}


@given(panels())
def test_balloons_by_colour_add_to_the_cells(measures):
    each = {"paired": 1, "strung": 1, "two-sided": 2, "sandwich": 2}[measures.way]
    got = needs(measures, RATES)
    assert {need.key: need.quantity for need in got.latex} == {key: each * n for key, n in measures.counts}
    assert got.balloons == measures.rows * measures.columns * each


@given(panels())
def test_sheets_and_joins_are_those_of_the_sheet_plan(measures):
    """The plan names every sheet and every join, and is told for the build book; the estimate only counts them."""
    plan = plan_grid(measures.rows, measures.columns, measures.sheet_rows, measures.sheet_columns)
    grid = sheet_grid(measures, RATES)
    assert (grid.across * grid.down, grid.sheets) == (len(plan.sheets), len(plan.sheets) * grid.layers)
    tabs = {"upright": measures.tabs_side, "level": measures.tabs_top}
    assert grid.joins == Joins(
        len(plan.joins) * grid.layers, sum(tabs[join.orientation] for join in plan.joins) * grid.layers
    )
    section = {
        sheet.number: (
            sheet.row_start // measures.sheet_rows // grid.section_down,
            sheet.column_start // measures.sheet_columns // grid.section_across,
        )
        for sheet in plan.sheets
    }
    assert len(set(section.values())) == grid.sections
    if measures.built_at == "workshop":
        left = [join for join in plan.joins if section[join.first] != section[join.second]]
        assert grid.venue_joins == Joins(
            len(left) * grid.layers, sum(tabs[join.orientation] for join in left) * grid.layers
        )


def test_a_wide_panel_leaves_the_workshop_in_sections_that_pass_the_door():
    """26 × 22 cells of 125 mm are 3.25 × 2.75 m; the door is 1.7 m, so its two sheets travel apart."""
    got = needs(panel(), RATES)
    assert got.sections == 2 and got.fits_van
    assert [(task.place, task.units) for task in got.tasks if task.kind == "join"] == [("venue", 22)]
    wide_door = Rates(van_door_m=3.0, van_length_m=4.0)
    whole = needs(panel(), wide_door)
    assert whole.sections == 1
    assert [(task.place, task.units) for task in whole.tasks if task.kind == "join"] == [("workshop", 22)]


def test_a_sheet_that_passes_no_door_is_told():
    assert not needs(panel(sheet_columns=26), RATES).fits_van
    assert needs(panel(sheet_columns=26, built_at="venue"), RATES).fits_van


def test_built_at_the_venue_it_takes_little_room_and_no_workshop():
    here, there = needs(panel(), RATES), needs(panel(built_at="venue"), RATES)
    assert there.packed_volume_m3 < here.packed_volume_m3 / 10
    assert {task.place for task in there.tasks} == {"venue"}


def test_empty_cells_take_no_balloon():
    assert needs(panel(counts=((1, 10),)), RATES).balloons == 10


def test_the_same_colour_named_twice_is_one_need():
    got = needs(panel(counts=((1, 10), (2, 5), (1, 3))), RATES)
    assert [(need.key, need.quantity) for need in got.latex] == [(1, 13), (2, 5)]


def test_weight_is_latex_and_sheets():
    assert needs(panel(), RATES).weight_kg == pytest.approx(572 * 0.0010 + 2 * 0.4)


def test_hex_rows_stand_closer():
    assert panel(lattice="hex").height_m == pytest.approx(22 * 0.125 * 0.8660254)
    assert panel(lattice="hex").width_m == pytest.approx(26.5 * 0.125)
    assert panel(row_pitch_m=0.1).height_m == pytest.approx(2.2)


def test_rigging_takes_two_people_and_grows_beyond_10_m2():
    small = next(task for task in needs(panel(), RATES).tasks if task.kind == "rig")
    large = next(
        task for task in needs(panel(rows=100, columns=100, counts=((1, 10_000),)), RATES).tasks if task.kind == "rig"
    )
    assert (small.units, small.people) == (1.0, 2)
    assert large.units == pytest.approx(12.5 * 12.5 / 10)


@settings(max_examples=60)
@given(panels(), st.integers(0, 3), st.integers(0, 3))
def test_a_larger_panel_never_needs_less(measures, more_rows, more_columns):
    rows, columns = measures.rows + more_rows, measures.columns + more_columns
    larger = replace(measures, rows=rows, columns=columns, counts=((1, rows * columns),))
    small, large = needs(measures, RATES), needs(larger, RATES)
    assert large.balloons >= small.balloons
    assert large.sheets[0].quantity >= small.sheets[0].quantity
    assert large.joins.tabs >= small.joins.tabs
    assert large.weight_kg >= small.weight_kg - 1e-9
    assert large.packed_volume_m3 >= small.packed_volume_m3 - 1e-12


def test_alike_pieces_need_a_multiple():
    one = needs(panel(), RATES)
    three = one.times(3)
    assert three.balloons == 3 * one.balloons
    assert three.joins.tabs == 3 * one.joins.tabs
    assert sum(task.units for task in three.tasks) == pytest.approx(3 * sum(task.units for task in one.tasks))
    assert three.width_m == one.width_m
    with pytest.raises(ValueError, match="count"):
        one.times(0)


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"rows": 0}, "rows"),
        ({"columns": -3}, "columns"),
        ({"rows": 2.5}, "rows"),
        ({"pitch_m": 0.0}, "pitch_m"),
        ({"row_pitch_m": -0.1}, "row_pitch_m"),
        ({"sheet_rows": 0}, "sheet_rows"),
        ({"sheet_columns": 0}, "sheet_columns"),
        ({"sheet_weight_kg": -1.0}, "sheet_weight_kg"),
        ({"tabs_side": -1}, "tabs_side"),
        ({"tabs_top": -1}, "tabs_top"),
        ({"sized_diameter_m": 0.0}, "sized_diameter_m"),
        ({"counts": ()}, "counts"),
        ({"counts": ((1, 0),)}, "counts"),
        ({"counts": ((1, 573),)}, "counts"),
        ({"lattice": "spiral"}, "lattice"),
        ({"way": "glued"}, "way"),
        ({"built_at": "home"}, "built_at"),
        ({"rows": 400, "columns": 251, "counts": ((1, 5),)}, "at most 100,000 cells: this panel has 100,400"),
    ],
)
def test_bad_measures_are_refused_by_name(changes, named):
    with pytest.raises(ValueError, match=named):
        panel(**changes)


def test_100_000_cells_are_taken():
    assert needs(panel(rows=400, columns=250, counts=((1, 100_000),)), RATES).balloons == 100_000


def test_a_cell_that_no_balloon_fills_is_refused():
    with pytest.raises(ValueError, match="sized_diameter_m"):
        needs(panel(sized_diameter_m=0.9), RATES)
    with pytest.raises(ValueError, match="sized_diameter_m"):
        needs(panel(nominal_in=5, sized_diameter_m=0.15), RATES)


def test_the_smallest_size_that_serves_is_taken():
    assert {need.nominal_in for need in needs(panel(sized_diameter_m=0.15), RATES).latex} == {9}
