"""A sheet as it lies on the table, whichever edge is up."""

import numpy as np
import pytest

from jobs.designs.catalogue import catalogue_now
from jobs.designs.charting import cells_array
from jobs.designs.table.lines import UPS, chart_key, lines_of, sheet_key, table_sheets


@pytest.fixture
def second(panel):
    """Columns 4 to 6 of the panel."""
    return table_sheets(panel, catalogue_now())[1]


def test_with_the_top_edge_up_lines_are_the_charts_rows(panel, second):
    lines = lines_of(panel, second, "top")
    assert [line.number for line in lines] == [1, 2, 3, 4]
    assert [line.runs() for line in lines] == [[(1, 2), (0, 1)], [(0, 2), (-1, 1)], [(1, 1), (0, 2)], [(1, 3)]]


@pytest.mark.parametrize(
    ("up", "numbers", "first"),
    # Turned as a sheet of paper on a table would be: a quarter turn clockwise brings the left edge up, and the chart's
    # first column is then read from its foot to its head (geometry).
    [
        ("left", [4, 5, 6], (1, 1, 0, 1)),
        ("right", [6, 5, 4], (0, -1, 0, 1)),
        ("bottom", [4, 3, 2, 1], (1, 1, 1)),
    ],
)
def test_another_edge_up(panel, second, up, numbers, first):
    lines = lines_of(panel, second, up)
    assert [line.number for line in lines] == numbers
    assert lines[0].colours == first


@pytest.mark.parametrize("up", UPS)
def test_every_filled_cell_of_every_sheet_is_in_exactly_one_line(panel, up):
    cells = [
        cell
        for sheet in table_sheets(panel, catalogue_now())
        for line in lines_of(panel, sheet, up)
        for cell, colour in zip(line.cells, line.colours, strict=True)
        if colour >= 0
    ]
    assert sorted(cells) == np.flatnonzero(cells_array(panel).reshape(-1) >= 0).tolist()


def test_a_line_without_a_balloon_is_none(panel):
    first = table_sheets(panel, catalogue_now())[0]
    assert [line.number for line in lines_of(panel, first, "top")] == [1, 2, 4]


def test_another_cell_changes_the_key_of_its_own_sheet_only(panel):
    first, second = table_sheets(panel, catalogue_now())
    before = sheet_key(panel, first), sheet_key(panel, second)
    cells = cells_array(panel).copy()
    cells[0, 5] = 1
    panel.cells = cells.tobytes()
    assert sheet_key(panel, first) == before[0] and sheet_key(panel, second) != before[1]
    assert len({chart_key(panel, first, up) for up in UPS}) == 4


def test_the_same_balloons_in_another_order_of_the_palette_are_the_same_chart(panel):
    first = table_sheets(panel, catalogue_now())[0]
    before = sheet_key(panel, first)
    cells = cells_array(panel)
    panel.cells = np.where(cells < 0, cells, 1 - cells).astype("<i2").tobytes()
    panel.palette = panel.palette[::-1]
    assert sheet_key(panel, first) == before
