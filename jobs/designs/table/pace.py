"""How fast it goes: now, at this panel, and what loading really took at the last ones."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property

import numpy as np
import numpy.typing as npt
from django.db.models import Max

from decor.calc.picture.chart import EMPTY
from decor.calc.pieces.panel_ways import LOADINGS
from decor.calc.work.rates import Rates
from jobs.designs.catalogue import Catalogue
from jobs.designs.charting import cells_array
from jobs.designs.models import LoadedRow, Panel
from jobs.designs.table.lines import Line, Up, faces_of, line_word, lines_of, sheet_key, table_plan

PAUSE_S = 300.0
"""A row that took longer than this was a pause, unless so many cells take it at the studio's own rate
(studio default, no source)."""
SLOW = 3.0
"""How many times as long as by the studio's rate a row may take and still be work (studio default, no source)."""
LATELY = timedelta(minutes=15)
"""What "now" is for a pace (studio default, no source)."""
LEAST_CELLS = 60
"""Fewer cells than this say nothing of a pace (studio default, no source)."""


@dataclass(frozen=True)
class Timed:
    """A row that is in, with its cells and what it took; `seconds` None where that is not known or was a pause."""

    by: int | None
    at: datetime
    face: int
    sheet: int
    cells: int
    seconds: float | None


class Table:
    """A panel at the table: its sheets, and what of them is in. Reads the panel's rows once, where they are not
    given."""

    def __init__(
        self, panel: Panel, catalogue: Catalogue, rates: Rates, *, rows: Sequence[LoadedRow] | None = None
    ) -> None:
        self.panel, self.rates = panel, rates
        self._given = rows
        self._cells = cells_array(panel)
        self.plan = table_plan(panel, catalogue)
        self.sheets = self.plan.sheets
        self.by_number = {sheet.number: sheet for sheet in self.sheets}
        self.faces = faces_of(panel)
        self.rate = cells_per_hour(rates, panel.loading)
        self._lines: dict[tuple[int, Up], dict[int, Line]] = {}

    @cached_property
    def keys(self) -> dict[int, str]:
        return {sheet.number: sheet_key(self.panel, sheet) for sheet in self.sheets}

    @cached_property
    def all_rows(self) -> list[LoadedRow]:
        found = LoadedRow.objects.filter(panel=self.panel) if self._given is None else self._given
        return sorted(found, key=lambda row: (row.at, row.pk))

    @cached_property
    def rows(self) -> list[tuple[LoadedRow, Up]]:
        """Of the chart as it is now."""
        found = []
        for row in self.all_rows:
            key, _, up = row.chart_key.partition(":")
            if self.keys.get(row.sheet_number) == key:
                found.append((row, up))
        return found  # type: ignore[return-value]

    def lines(self, number: int, up: Up) -> dict[int, Line]:
        """By their numbers, in the order of loading."""
        if (number, up) not in self._lines:
            lines = lines_of(self.panel, self.by_number[number], up)
            self._lines[number, up] = {line.number: line for line in lines}
        return self._lines[number, up]

    def _filled(self, number: int) -> npt.NDArray[np.bool_]:
        sheet = self.by_number[number]
        part = self._cells[sheet.row_start : sheet.row_stop, sheet.column_start : sheet.column_stop]
        return part != EMPTY  # type: ignore[no-any-return]

    def filled(self, number: int) -> int:
        return int(self._filled(number).sum())

    def cells_of(self, number: int, up: Up, line: int) -> int:
        """Balloons of one line, 0 where the sheet has no such line."""
        sheet, along_rows = self.by_number[number], line_word(up) == "row"
        at = line - 1 - (sheet.row_start if along_rows else sheet.column_start)
        filled = self._filled(number)
        if not 0 <= at < filled.shape[0 if along_rows else 1]:
            return 0
        return int((filled[at] if along_rows else filled[:, at]).sum())

    def cells_in(self, number: int, face: int) -> int:
        """Cells of the sheet that are in; where it was turned in between, no cell counts twice."""
        sheet, filled = self.by_number[number], self._filled(number)
        are_in = np.zeros_like(filled)
        for row, up in self.rows:
            if (row.sheet_number, row.face) == (number, face) and self.cells_of(number, up, row.row):
                if line_word(up) == "row":
                    are_in[row.row - 1 - sheet.row_start] = True
                else:
                    are_in[:, row.row - 1 - sheet.column_start] = True
        return int((are_in & filled).sum())

    def ups(self, number: int, face: int) -> set[Up]:
        """How the sheet lay for the rows that are in."""
        return {up for row, up in self.rows if (row.sheet_number, row.face) == (number, face)}

    def earlier(self, number: int, face: int) -> list[LoadedRow]:
        """Rows that were loaded from a chart that is no longer this one."""
        current = {row.pk for row, _ in self.rows}
        return [
            row for row in self.all_rows if (row.sheet_number, row.face) == (number, face) and row.pk not in current
        ]

    @cached_property
    def timed(self) -> list[Timed]:
        found = []
        for row, up in self.rows:
            if cells := self.cells_of(row.sheet_number, up, row.row):
                took = working_seconds(row.seconds, cells, self.face_rate)
                found.append(Timed(row.by_id, row.at, row.face, row.sheet_number, cells, took))
        return found

    @property
    def face_rate(self) -> float:
        """Cells an hour on one face: a rate counts a cell of a sandwich with both of its sheets."""
        return self.rate * len(self.faces)


def cells_per_hour(rates: Rates, way: str) -> float:
    return float(getattr(rates, f"load_{way.replace('-', '_')}_cells_per_hour"))


def working_seconds(seconds: float | None, cells: int, rate: float) -> float | None:
    """What a row took, or None where it is not known or somebody paused before it.

    >>> working_seconds(40.0, 26, 700.0), working_seconds(301.0, 26, 700.0), working_seconds(1200.0, 100, 400.0)
    (40.0, None, 1200.0)
    """
    if seconds is None or seconds <= 0:
        return None
    usual = cells / rate * 3600.0
    return seconds if seconds <= max(PAUSE_S, SLOW * usual) else None


def per_person_hour(rows: Iterable[Timed], faces: int) -> float | None:
    """Cells a person loads in an hour, both sheets of a sandwich counted as one cell; None while too little is known.
    A row counts only with its own time."""
    known = [row for row in rows if row.seconds is not None]
    cells = sum(row.cells for row in known)
    seconds = sum(row.seconds or 0.0 for row in known)
    return cells / faces / seconds * 3600.0 if cells >= LEAST_CELLS and seconds > 0 else None


def cells_per_second_now(rows: Iterable[Timed], now: datetime) -> float:
    """What all who are at it load together: the sum of each one's own pace of the last minutes."""
    own: dict[int | None, list[Timed]] = {}
    for row in rows:
        if row.seconds is not None and now - row.at <= LATELY:
            own.setdefault(row.by, []).append(row)
    return sum(sum(r.cells for r in each) / sum(r.seconds or 0.0 for r in each) for each in own.values())


def balloons_a_cell(panel: Panel) -> float:
    """On one face."""
    way = LOADINGS[panel.loading]  # type: ignore[index]
    return way.balloons / way.layers


def panel_pace(panel: Panel, catalogue: Catalogue, rates: Rates) -> float | None:
    """Cells per person-hour that loading this panel really took, None where too little is known."""
    try:
        table = Table(panel, catalogue, rates)
    except ValueError:
        return None
    return per_person_hour(table.timed, len(table.faces))


LAST_PANELS = 6


def way_pace(way: str, catalogue: Catalogue, rates: Rates) -> tuple[int, float] | None:
    """(panels, cells per person-hour) of the last panels that were loaded this way, each by its number of cells."""
    loaded = LoadedRow.objects.filter(panel__loading=way).values("panel").annotate(last=Max("at"))
    last = [found["panel"] for found in loaded.order_by("-last")[: 2 * LAST_PANELS]]
    if not last:
        return None
    panels = Panel.objects.select_related("piece__event__venue").in_bulk(last)
    rows: dict[int, list[LoadedRow]] = {}
    for row in LoadedRow.objects.filter(panel__in=last):
        rows.setdefault(row.panel_id, []).append(row)
    cells, seconds, count = 0.0, 0.0, 0
    for number in last:
        if count == LAST_PANELS:
            break
        if number not in panels or number not in rows:  # removed this very moment
            continue
        try:
            table = Table(panels[number], catalogue, rates, rows=rows[number])
        except ValueError:
            continue
        known = [row for row in table.timed if row.seconds is not None]
        if per_person_hour(known, len(table.faces)) is None:
            continue
        count += 1
        cells += sum(row.cells for row in known) / len(table.faces)
        seconds += sum(row.seconds or 0.0 for row in known)
    return (count, cells / seconds * 3600.0) if count else None


def pace_words(way: str, catalogue: Catalogue, rates: Rates) -> str:
    """What loading really took, for whoever plans the next panel: "Your last 6 paired panels: 640 cells an hour"."""
    found = way_pace(way, catalogue, rates)
    if found is None:
        return ""
    count, pace = found
    panels = f"Your last {count} {way} panels" if count > 1 else f"Your last {way} panel"
    return f"{panels}: {pace:,.0f} cells an hour, each person; the studio's rate says {cells_per_hour(rates, way):,.0f}"
