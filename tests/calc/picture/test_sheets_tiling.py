"""Sheet covers against every possible one, against a set-partition program written anew, and by their rules.

The exhaustive search and the program below know nothing of the code under test: they lay whole sheets at every
position and count costs cell by cell.
"""

from functools import cache

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from decor.calc.picture.sheets import tile
from decor.calc.picture.sheets_bands import bands
from decor.calc.picture.sheets_costs import CannotTile, Ground, SheetSize
from decor.calc.picture.sheets_plan import covers, joined_edges, plan_of, sectioned
from tests.benchmarks.bench_sheets import one_after_another, paid

JOIN, TRIM = 0.08, 0.02
SIZES = [(4, 4, 3.0), (2, 4, 1.9)]


def every_place(outline, sizes, join=JOIN, trim=TRIM):
    """(cells, cost) of each sheet wherever it carries a cell."""
    high, wide = outline.shape
    at = lambda row, column: 0 <= row < high and 0 <= column < wide and bool(outline[row, column])  # noqa: E731
    found = []
    for rows, columns, cost in sizes:
        for top in range(1 - rows, high):
            for left in range(1 - columns, wide):
                inside = {(r, c) for r in range(top, top + rows) for c in range(left, left + columns)}
                held = {cell for cell in inside if at(*cell)}
                if not held:
                    continue
                joins = cuts = 0
                for row, column in held:
                    for near in ((row + 1, column), (row - 1, column), (row, column + 1), (row, column - 1)):
                        joins += near not in inside and at(*near)
                        cuts += near in inside and not at(*near)
                found.append((frozenset(held), cost + join * joins / 2 + trim * cuts))
    return found


def cheapest_of_all(outline, sizes, **prices):
    """Every way to cover, the first free cell first."""
    places = every_place(outline, sizes, **prices)

    @cache
    def rest(left):
        if not left:
            return 0.0
        first = min(left)
        return min((cost + rest(left - held) for held, cost in places if first in held and held <= left), default=1e9)

    return rest(frozenset(zip(*(axis.tolist() for axis in np.nonzero(outline)), strict=True)))


def by_program(outline, sizes):
    """The set-partition program over all positions, by HiGHS."""
    places = every_place(outline, sizes)
    number = {cell: at for at, cell in enumerate(zip(*(axis.tolist() for axis in np.nonzero(outline)), strict=True))}
    table = np.zeros((len(number), len(places)))
    for column, (held, _) in enumerate(places):
        table[[number[cell] for cell in held], column] = 1
    ones = np.ones(len(number))
    answer = milp(
        np.array([cost for _, cost in places]),
        constraints=LinearConstraint(table, ones, ones),
        bounds=Bounds(0, 1),
        integrality=np.ones(len(places)),
    )
    return answer.fun


outlines = st.tuples(st.integers(1, 7), st.integers(1, 7), st.integers(0, 2**49 - 1)).map(
    lambda given: np.array([(given[2] >> bit) & 1 for bit in range(given[0] * given[1])], bool).reshape(given[:2])
)


@settings(max_examples=12, deadline=None)
@given(outlines)
def test_small_outlines_are_covered_as_cheaply_as_any_search_finds(outline):
    assume(outline.any())
    best = cheapest_of_all(outline, SIZES)
    found = tile(outline, SIZES, join_cost=JOIN, trim_cost=TRIM, seconds=20)
    assert found.cost == pytest.approx(best)
    assert found.bound <= best + 1e-6


@pytest.mark.parametrize("shape", [(8, 8), (7, 9), (9, 7), (5, 11), (10, 6)])
def test_rectangles_cost_what_the_set_partition_program_says(shape):
    outline = np.ones(shape, bool)
    found = tile(outline, SIZES, join_cost=JOIN, trim_cost=TRIM)
    assert found.cost == pytest.approx(by_program(outline, SIZES))


@settings(max_examples=40, deadline=None)
@given(outlines, st.booleans())
def test_each_cell_is_under_one_sheet_and_no_cut_edge_inside(outline, even):
    assume(outline.any())
    sizes = [SheetSize(4, 3, 3.0, even_rows=even), SheetSize(2, 3, 1.7, even_rows=even)]
    found = tile(outline, sizes, join_cost=JOIN, trim_cost=TRIM, prove=False)
    under = np.zeros(outline.shape, int)
    for number, (row, column, size) in enumerate(found.places, start=1):
        assert not even or row % 2 == 0
        for r in range(max(row, 0), min(row + sizes[size].rows, outline.shape[0])):
            for c in range(max(column, 0), min(column + sizes[size].columns, outline.shape[1])):
                if outline[r, c]:
                    assert not under[r, c]
                    under[r, c] = number
    assert ((under > 0) == outline).all()
    for axis in (0, 1):
        met = np.diff(under, axis=axis) != 0
        for r, c in zip(*np.nonzero(met), strict=True):
            pair = under[r, c], under[(r + 1, c) if axis == 0 else (r, c + 1)]
            if min(pair) == 0:
                continue
            # Both end here with an edge of their own.
            one, other = (found.places[number - 1] for number in pair)
            if axis == 0:
                assert one.row + sizes[one.size].rows == r + 1 == other.row
            else:
                assert one.column + sizes[one.size].columns == c + 1 == other.column


@settings(max_examples=40, deadline=None)
@given(outlines)
def test_never_dearer_than_one_after_another_and_the_cost_adds_up(outline):
    assume(outline.any())
    sizes = [SheetSize(*size) for size in SIZES]
    ground = Ground.of(outline, sizes)
    costs = [ground.costs(size, JOIN, TRIM) for size in sizes]
    plain = one_after_another(ground, sizes, costs)
    found = tile(outline, sizes, join_cost=JOIN, trim_cost=TRIM, prove=False)
    assert found.cost <= paid(ground, costs, plain) + 1e-9
    assert found.cost == pytest.approx(
        sum(sizes[place.size].cost for place in found.places) + JOIN * found.joins + TRIM * found.cuts
    )
    held = sum(sizes[place.size].rows * sizes[place.size].columns for place in found.places)
    assert found.spare == held - outline.sum()


def test_the_bound_holds_and_is_near_on_a_circle_of_2_800_cells():
    down, across = np.mgrid[:60, :60] - 29.5
    circle = down**2 + across**2 <= 900
    sizes = [(12, 12, 9.0), (12, 24, 16.0), (6, 12, 5.5)]
    found = tile(circle, sizes, join_cost=JOIN, trim_cost=TRIM)
    assert 0 < found.bound <= found.cost
    assert found.gap < 0.06


def test_a_sheet_that_starts_alike_cannot_follow_an_odd_row():
    tall = np.ones((10, 4), bool)
    with pytest.raises(CannotTile, match="odd number of rows"):
        tile(tall, [SheetSize(5, 4, 1.0, even_rows=True)])
    assert len(tile(tall, [SheetSize(5, 4, 1.0)]).places) == 2
    mixed = tile(tall, [SheetSize(5, 4, 1.0, even_rows=True), SheetSize(4, 4, 1.0, even_rows=True)])
    assert all(place.row % 2 == 0 for place in mixed.places)


def test_sheets_that_do_not_join_somewhere():
    wide = np.ones((4, 8), bool)
    with pytest.raises(CannotTile, match="do not join"):
        tile(wide, [SheetSize(4, 4, 1.0, sides=False)])
    assert len(tile(wide, [SheetSize(4, 4, 1.0, ends=False)]).places) == 2
    apart = wide.copy()
    apart[:, 4] = False
    assert len(tile(apart, [SheetSize(4, 4, 1.0, sides=False)]).places) == 2


def test_corners_that_must_meet_corners_lie_in_a_grid():
    down, across = np.mgrid[:20, :20] - 9.5
    circle = down**2 + across**2 <= 100
    found = tile(circle, [SheetSize(4, 6, 1.0, parts=False)], trim_cost=0.01)
    assert len({place.row % 4 for place in found.places}) == 1
    assert len({place.column % 6 for place in found.places}) == 1


def test_100_000_cells_are_answered():
    found = tile(np.ones((316, 316), bool), [(12, 12, 9.0), (24, 24, 30.0)], join_cost=JOIN, prove=False)
    assert found.placements and found.cost > 0


def test_an_empty_outline_takes_no_sheet():
    assert tile(np.zeros((5, 5), bool), SIZES).placements == ()


@pytest.mark.parametrize(
    ("outline", "sizes", "prices", "named"),
    [
        (np.ones(4, bool), SIZES, {}, "outline"),
        (np.ones((2, 2)), SIZES, {}, "outline"),
        (np.ones((400, 300), bool), SIZES, {}, "outline"),
        (np.ones((2, 2), bool), [], {}, "sheet_sizes"),
        (np.ones((2, 2), bool), [(0, 2, 1.0)], {}, "sheet_sizes"),
        (np.ones((2, 2), bool), [(2, 2, -1.0)], {}, "sheet_sizes"),
        (np.ones((2, 2), bool), SIZES, {"join_cost": -1}, "join_cost"),
        (np.ones((2, 2), bool), SIZES, {"trim_cost": float("nan")}, "trim_cost"),
    ],
)
def test_bad_input_is_named(outline, sizes, prices, named):
    with pytest.raises(ValueError, match=named):
        tile(outline, sizes, **prices)


def test_bands_in_both_directions():
    sizes = [SheetSize(*size) for size in SIZES]
    ground = Ground.of(np.ones((8, 8), bool), sizes)
    costs = [ground.costs(size, JOIN, TRIM) for size in sizes]
    for upright in (False, True):
        places = bands(ground, sizes, costs, upright=upright)
        assert covers(np.ones((8, 8), bool), places, sizes)


def test_a_plan_is_numbered_joined_and_cut_into_sections_that_pass():
    sizes = [SheetSize(4, 4, 1.0)]
    outline = np.ones((8, 12), bool)
    plan = plan_of(outline, tile(outline, sizes, prove=False).places, sizes)
    assert [(sheet.number, sheet.row_start, sheet.column_start) for sheet in plan.sheets] == [
        (1, 0, 0), (2, 0, 4), (3, 0, 8), (4, 4, 0), (5, 4, 4), (6, 4, 8),
    ]  # fmt: skip
    assert sum(join.length_cells for join in plan.joins) == 7 * 4
    assert joined_edges(plan)[5] == {"left", "right", "top"}
    parts = sectioned(plan, lambda wide, high: min(wide, high) <= 4 and max(wide, high) <= 8, pitch_m=1, row_pitch_m=1)
    assert parts.fits and len(parts.sections) == 3
    assert sorted(parts.order) == [1, 2, 3, 4, 5, 6]
    assert {part.letter for part in parts.sections} == {"A", "B", "C"}
    assert sum(join.length_cells for join in parts.left_for_venue()) == 16
    assert not sectioned(plan, lambda wide, high: False, pitch_m=1, row_pitch_m=1).fits


def test_cells_that_appear_outside_the_sheets_end_a_plan():
    sizes = [SheetSize(4, 4, 1.0)]
    outline = np.zeros((8, 8), bool)
    outline[:4, :4] = True
    places = tile(outline, sizes, prove=False).places
    assert covers(outline, places, sizes)
    fewer = outline.copy()
    fewer[0, 0] = False
    assert covers(fewer, places, sizes)
    more = outline.copy()
    more[5, 5] = True
    assert not covers(more, places, sizes)
    with pytest.raises(ValueError, match="places"):
        plan_of(more, places, sizes)
