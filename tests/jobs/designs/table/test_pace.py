"""How fast it really goes, by hand-reckoned cases."""

from datetime import UTC, datetime, timedelta

import pytest

from decor.calc.work.rates import Rates
from jobs.designs.catalogue import catalogue_now
from jobs.designs.models import LoadedRow, Panel
from jobs.designs.table import pace, shown
from jobs.designs.table.lines import chart_key, table_sheets
from jobs.designs.table.pace import Table, Timed, cells_per_second_now, per_person_hour, working_seconds

NOW = datetime(2031, 6, 13, 10, 0, tzinfo=UTC)


def timed(by: int, cells: int, seconds: float | None, *, ago_min: float = 0, sheet: int = 1) -> Timed:
    return Timed(by, NOW - timedelta(minutes=ago_min), 0, sheet, cells, seconds)


def test_cells_a_person_hour_count_each_ones_own_time():
    # 60 cells in 300 s and 60 in 600 s: 120 cells in a quarter of a person-hour.
    rows = [timed(1, 60, 300), timed(2, 60, 600), timed(1, 500, None)]
    assert per_person_hour(rows, 1) == pytest.approx(480)
    assert per_person_hour(rows, 2) == pytest.approx(240), "of a sandwich both sheets are one cell"
    assert per_person_hour([timed(1, 59, 100)], 1) is None


@pytest.mark.parametrize(
    ("seconds", "cells", "counts"),
    [(299, 10, True), (301, 10, False), (899, 60, True), (901, 60, False), (None, 10, False), (0, 10, False)],
)
def test_a_pause_is_no_work_but_a_long_row_is(seconds, cells, counts):
    # At 720 cells an hour 60 cells take 300 s; three times that is still work.
    assert (working_seconds(seconds, cells, 720) is not None) is counts


def test_now_is_the_sum_of_those_at_work():
    rows = [timed(1, 30, 60), timed(1, 30, 60, ago_min=5), timed(2, 10, 40), timed(3, 100, 10, ago_min=16)]
    assert cells_per_second_now(rows, NOW) == pytest.approx(0.5 + 0.25)


def tick(panel: Panel, sheet: int, row: int, user, at: datetime, seconds: float | None, *, face: int = 0) -> None:
    key = chart_key(panel, table_sheets(panel, catalogue_now())[sheet - 1], "top")
    LoadedRow.objects.create(
        panel=panel, chart_key=key, face=face, sheet_number=sheet, row=row, by=user, at=at, seconds=seconds
    )


def test_the_line_at_the_table(panel, planner):
    # 3 cells in 60 s, twice: 6 cells in 2 minutes; 20 cells in all, of which 14 are left: 4 min 40 s.
    tick(panel, 1, 1, planner, NOW - timedelta(minutes=1), 60)
    tick(panel, 1, 2, planner, NOW, 60)
    table = Table(panel, catalogue_now(), Rates())
    assert shown.pace_now(table, table.sheets[0], NOW, "UTC") == "3 balloons a minute, panel done about 10:04"
    assert shown.pace_now(table, table.sheets[0], NOW + timedelta(hours=1), "UTC") == ""


def test_the_same_cells_ticked_with_the_sheet_turned_count_once(panel, planner):
    tick(panel, 1, 1, planner, NOW, None)
    turned = chart_key(panel, table_sheets(panel, catalogue_now())[0], "left")
    LoadedRow.objects.create(panel=panel, chart_key=turned, sheet_number=1, row=1, by=planner, at=NOW)
    # Row 1 has three cells, column 1 has three, one of them in both.
    assert Table(panel, catalogue_now(), Rates()).cells_in(1, 0) == 5


def test_what_loading_really_took(panel, planner, monkeypatch):
    monkeypatch.setattr(pace, "LEAST_CELLS", 5)
    catalogue = catalogue_now()
    assert pace.pace_words("paired", catalogue, Rates()) == ""
    tick(panel, 1, 1, planner, NOW, None)
    tick(panel, 1, 2, planner, NOW, 15)
    tick(panel, 2, 1, planner, NOW, 15)
    tick(panel, 2, 4, planner, NOW, 4000)
    # Six cells in half a minute; the first row's time is not known, the last was a pause.
    assert pace.panel_pace(panel, catalogue, Rates()) == pytest.approx(720)
    said = pace.pace_words("paired", catalogue, Rates())
    assert said == "Your last paired panel: 720 cells an hour, each person; the studio's rate says 700"
    assert pace.pace_words("strung", catalogue, Rates()) == ""
