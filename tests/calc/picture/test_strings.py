"""Strings and winding routes: each filled cell once, and never more runs than row by row."""

import itertools

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings

from decor.calc.picture.chart import Chart
from decor.calc.picture.lattice import KINDS, Lattice
from decor.calc.picture.loading import plan_strings, serpentines, winding
from tests.calc.picture.test_pairs import charts, flat_art


def runs_by_hand(colours):
    return [(colour, len(list(group))) for colour, group in itertools.groupby(colours)]


@given(charts())
@settings(max_examples=150, deadline=None)
def test_each_filled_cell_once_block_after_block(drawn):
    chart, blocks = drawn
    cells = chart.cells.ravel()
    for strings in (*serpentines(chart, blocks), winding(chart, blocks)):
        assert sorted(strings.order.tolist()) == np.flatnonzero(cells >= 0).tolist()
        assert (np.diff(blocks[strings.order]) >= 0).all()
        assert strings.runs == runs_by_hand(cells[strings.order].tolist())
        bags = strings.bags(5)
        assert [bag.number for bag in bags] == list(range(1, len(bags) + 1))
        assert [cell for bag in bags for cell in range(bag.start, bag.stop)] == list(range(len(strings.order)))
        for bag in bags:
            assert set(blocks[strings.order[bag.start : bag.stop]].tolist()) == {bag.block}
            assert sum(length for _, length in bag.runs) == bag.balloons <= 6


@given(charts())
@settings(max_examples=100, deadline=None)
def test_the_best_serpentine(drawn):
    chart, _ = drawn
    best = plan_strings(chart)
    there_and_back = [row if at % 2 == 0 else row[::-1] for at, row in enumerate(chart.cells) if (row >= 0).any()]
    if not there_and_back:
        assert not best.runs
        return
    filled = np.concatenate(there_and_back)
    if (chart.cells >= 0).all():
        assert len(best.runs) <= len(runs_by_hand(filled.tolist()))
    assert len(best.runs) == min(len(strings.runs) for strings in serpentines(chart))


def test_eight_ways_that_all_differ():
    chart = Chart(np.zeros((3, 4), int), Lattice("square", 3, 4, 0.1))
    orders = {(strings.route, strings.corner): strings.order.tolist() for strings in serpentines(chart)}
    assert len({tuple(order) for order in orders.values()}) == 8
    assert orders["rows", "top left"] == [0, 1, 2, 3, 7, 6, 5, 4, 8, 9, 10, 11]
    assert orders["rows", "bottom right"] == [11, 10, 9, 8, 4, 5, 6, 7, 3, 2, 1, 0]
    assert orders["columns", "top right"] == [3, 7, 11, 10, 6, 2, 1, 5, 9, 8, 4, 0]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(("rows", "columns"), [(12, 14), (12, 13), (11, 14), (2, 9), (1, 9), (9, 1)])
def test_a_winding_route_touches_from_cell_to_cell(kind, rows, columns):
    """A path through every cell is to be had on each of these, whatever the colours."""
    random = np.random.default_rng(3)
    chart = Chart(random.integers(0, 3, (rows, columns)), Lattice(kind, rows, columns, 0.1))
    assert not winding(chart).long_steps.any()


def test_odd_by_odd_leaves_no_cell_out():
    route = winding(flat_art("square", 45, 37))
    assert len(route.order) == 45 * 37 and route.long_steps.sum() <= 1


@pytest.mark.parametrize("kind", KINDS)
def test_winding_needs_far_fewer_runs(kind):
    chart = flat_art(kind, 60, 50)
    row_by_row = len(runs_by_hand(chart.cells.ravel().tolist()))
    assert len(winding(chart).runs) < 0.7 * len(plan_strings(chart).runs) <= 0.7 * row_by_row


def test_the_tree_is_the_one_of_least_weight():
    """Its walk's changes of colour, against networkx's minimum spanning tree over the same squares."""
    cells = np.random.default_rng(8).integers(0, 3, (12, 16))
    squares = nx.grid_2d_graph(6, 8)

    def differ(*places):
        return int(cells[places[0]] != cells[places[1]])

    for (a, b), (c, d) in squares.edges:
        top, left = 2 * a, 2 * b
        if a == c:
            new = differ((top, left + 1), (top, left + 2)) + differ((top + 1, left + 1), (top + 1, left + 2))
            old = differ((top, left + 1), (top + 1, left + 1)) + differ((top, left + 2), (top + 1, left + 2))
        else:
            new = differ((top + 1, left), (top + 2, left)) + differ((top + 1, left + 1), (top + 2, left + 1))
            old = differ((top + 1, left), (top + 1, left + 1)) + differ((top + 2, left), (top + 2, left + 1))
        squares.edges[(a, b), (c, d)]["weight"] = new - old
    tree = nx.minimum_spanning_tree(squares)
    alone = sum(
        differ((2 * a, 2 * b), (2 * a, 2 * b + 1)) + differ((2 * a + 1, 2 * b), (2 * a + 1, 2 * b + 1))
        + differ((2 * a, 2 * b), (2 * a + 1, 2 * b)) + differ((2 * a, 2 * b + 1), (2 * a + 1, 2 * b + 1))
        for a, b in squares.nodes
    )  # fmt: skip
    around = alone + sum(weight for *_, weight in tree.edges.data("weight"))
    route = winding(Chart(cells, Lattice("square", 12, 16, 0.1)))
    # A ring has a change for each of its runs; opened at one of them it has one fewer.
    assert route.changes == around - 1


def test_bags_end_with_their_row_where_that_is_near():
    strings = plan_strings(Chart(np.zeros((10, 24), int), Lattice("square", 10, 24, 0.1)))
    assert [bag.balloons for bag in strings.bags(50)] == [48, 48, 48, 48, 48]
    assert strings.bags(50)[0].runs == ((0, 48),)
    with pytest.raises(ValueError, match=r"^length"):
        strings.bags(0)
