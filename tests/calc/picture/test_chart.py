import itertools
import json

import numpy as np
import pytest
from hypothesis import given

from decor.calc.picture.chart import Chart
from decor.calc.picture.lattice import Lattice

from .strategies import charts

SMALL = Lattice("offset", 2, 4, 0.1)


def test_runs_spell_the_row_out_with_empty_cells():
    chart = Chart([[1, 1, -1, 0], [2, 2, 2, 2]], SMALL)
    assert chart.runs(0) == [(1, 2), (-1, 1), (0, 1)]
    assert chart.runs(1) == [(2, 4)]


def test_runs_of_part_of_a_row():
    chart = Chart([[1, 1, -1, 0], [2, 2, 2, 2]], SMALL)
    assert chart.runs(0, start=1, stop=3) == [(1, 1), (-1, 1)]


@given(charts())
def test_runs_and_counts_come_back_to_the_cells(chart):
    tally = {}
    for row in range(chart.lattice.rows):
        runs = chart.runs(row)
        spelt = [colour for colour, length in runs for _ in range(length)]
        assert spelt == chart.cells[row].tolist()
        assert all(one[0] != other[0] for one, other in itertools.pairwise(runs))
        for colour, length in runs:
            tally[colour] = tally.get(colour, 0) + length
    tally.pop(-1, None)
    assert chart.counts() == tally
    assert sum(tally.values()) == chart.filled


@given(charts())
def test_json_there_and_back(chart):
    assert Chart.from_plain(json.loads(json.dumps(chart.to_plain()))) == chart


def test_a_changed_chart_is_a_new_one():
    chart = Chart([[0, 0, 0, 0], [0, 0, 0, 0]], SMALL)
    changed = chart.with_cells([(1, 2, 3), (0, 0, -1), (1, 2, 1)])
    assert changed.cells.tolist() == [[-1, 0, 0, 0], [0, 0, 1, 0]]
    assert chart.counts() == {0: 8}
    assert hash(chart) != hash(changed)
    with pytest.raises(ValueError, match="read-only"):
        chart.cells[0, 0] = 1


def test_the_chart_does_not_follow_the_array_it_was_made_from():
    cells = np.zeros((2, 4), dtype=np.int32)
    chart = Chart(cells, SMALL)
    cells[0, 0] = 2
    assert chart.counts() == {0: 8}


@pytest.mark.parametrize(
    "cells",
    [
        [[0, 0, 0, 0]],
        [0] * 8,
        [[0, 0, 0, -2], [0] * 4],
        [[0.5] * 4] * 2,
        [["a"] * 4] * 2,
        [[0], [0, 1]],
        [[2**40] * 4] * 2,
        [[True] * 4] * 2,
    ],
)
def test_bad_cells_are_named(cells):
    with pytest.raises(ValueError, match=r"^cells:"):
        Chart(cells, SMALL)


def test_places_outside_are_named():
    chart = Chart([[0] * 4] * 2, SMALL)
    with pytest.raises(ValueError, match=r"^row:"):
        chart.runs(2)
    with pytest.raises(ValueError, match=r"^row:"):
        chart.runs(-1)
    with pytest.raises(ValueError, match=r"^column:"):
        chart.with_cells([(0, 4, 0)])
    with pytest.raises(ValueError, match=r"^cells:"):
        chart.with_cells([(0, 0, -5)])
    with pytest.raises(ValueError, match=r"^stop:"):
        chart.runs(0, start=2, stop=2)
    with pytest.raises(ValueError, match="'cells'"):
        Chart.from_plain({"kind": "hex", "rows": 1, "columns": 1, "pitch_m": 0.1, "row_pitch_m": 0.1})
