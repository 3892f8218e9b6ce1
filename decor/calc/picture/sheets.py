"""How a panel is put together from framework sheets."""

from dataclasses import dataclass
from typing import Literal, SupportsIndex

from decor.calc.picture.lattice import size_in_cells, whole_number
from decor.calc.picture.sheets_tiling import Tiling, tile

__all__ = ["Edge", "Join", "PlacedSheet", "Section", "SheetPlan", "Tiling", "plan_grid", "tile"]

Orientation = Literal["upright", "level"]
Edge = Literal["left", "right", "top", "bottom"]


@dataclass(frozen=True)
class PlacedSheet:
    """One sheet of a panel and the box round the cells of the panel that it carries (stops are exclusive).

    ``number`` counts from 1, row by row from the origin corner, which is the top-left one. ``size`` is its type's
    number among those planned with, ``section`` counts from 1. Of the whole sheet ``skip_rows`` and ``skip_columns``
    lie before the box. ``filled`` are the cells that hold a balloon, -1 where all of them do.
    """

    number: int
    row_start: int
    row_stop: int
    column_start: int
    column_stop: int
    size: int = 0
    section: int = 1
    skip_rows: int = 0
    skip_columns: int = 0
    filled: int = -1

    @property
    def rows(self) -> int:
        return self.row_stop - self.row_start

    @property
    def columns(self) -> int:
        return self.column_stop - self.column_start

    @property
    def cells(self) -> int:
        """Cells that hold a balloon."""
        return self.rows * self.columns if self.filled < 0 else self.filled


@dataclass(frozen=True)
class Join:
    """One edge between two sheets; ``first`` is the number of the left or upper one, ``second`` of the other.

    An ``upright`` join stands left of column ``at`` and runs along rows ``start`` up to ``stop``;
    a ``level`` one lies above row ``at`` and runs along columns ``start`` up to ``stop``.
    """

    first: int
    second: int
    orientation: Orientation
    at: int
    start: int
    stop: int

    @property
    def length_cells(self) -> int:
        """Cells along the join: one join tab each."""
        return self.stop - self.start


def section_letter(number: int) -> str:
    """A, B, … Z, AA, … of a section counted from 1.

    >>> [section_letter(n) for n in (1, 26, 27)]
    ['A', 'Z', 'AA']
    """
    letters = ""
    while number:
        number, at = divmod(number - 1, 26)
        letters = chr(ord("A") + at) + letters
    return letters


@dataclass(frozen=True)
class Section:
    """Sheets that are joined before loading and carried as one, by number; the box round their cells."""

    number: int
    sheets: tuple[int, ...]
    row_start: int
    row_stop: int
    column_start: int
    column_stop: int

    @property
    def letter(self) -> str:
        return section_letter(self.number)


@dataclass(frozen=True)
class SheetPlan:
    """The sheets of a panel, in order of their numbers, the joins between them, and the sections they are carried in
    (none where that was not asked). `fits` is False where not even every sheet passes the doors."""

    sheets: tuple[PlacedSheet, ...]
    joins: tuple[Join, ...]
    sections: tuple[Section, ...] = ()
    fits: bool = True

    @property
    def order(self) -> tuple[int, ...]:
        """Sheet numbers as they are put together: section by section, each row by row from the origin corner."""
        return tuple(sheet.number for sheet in sorted(self.sheets, key=lambda sheet: (sheet.section, sheet.number)))

    def left_for_venue(self) -> tuple[Join, ...]:
        """The joins between sections."""
        section = {sheet.number: sheet.section for sheet in self.sheets}
        return tuple(join for join in self.joins if section[join.first] != section[join.second])


def plan_grid(
    rows: SupportsIndex, columns: SupportsIndex, sheet_rows: SupportsIndex, sheet_columns: SupportsIndex
) -> SheetPlan:
    """Covers a panel with sheets of one type, all lying alike, from the top-left corner.

    Sheets are never turned. Where the panel ends inside a sheet, the spare cells lie on the
    panel's right and bottom outside, as a cut edge has no join tabs.

    Args:
        rows, columns: the panel in cells, from 1, at most 100,000 cells.
        sheet_rows, sheet_columns: one sheet in cells, from 1.

    Raises:
        ValueError: naming the argument that is wrong.

    >>> plan = plan_grid(22, 26, 22, 13)
    >>> [(sheet.number, sheet.column_start, sheet.column_stop) for sheet in plan.sheets]
    [(1, 0, 13), (2, 13, 26)]
    >>> [(join.orientation, join.at, join.length_cells) for join in plan.joins]
    [('upright', 13, 22)]
    """
    down, across = size_in_cells(rows, columns)
    bands = _cut(down, whole_number("sheet_rows", sheet_rows))
    files = _cut(across, whole_number("sheet_columns", sheet_columns))
    sheets: list[PlacedSheet] = []
    joins: list[Join] = []
    for row_start, row_stop in bands:
        for column_start, column_stop in files:
            number = len(sheets) + 1
            sheets.append(PlacedSheet(number, row_start, row_stop, column_start, column_stop))
            if column_start:
                joins.append(Join(number - 1, number, "upright", column_start, row_start, row_stop))
            if row_start:
                joins.append(Join(number - len(files), number, "level", row_start, column_start, column_stop))
    return SheetPlan(tuple(sheets), tuple(joins))


def _cut(length: int, piece: int) -> list[tuple[int, int]]:
    return [(start, min(start + piece, length)) for start in range(0, length, piece)]
