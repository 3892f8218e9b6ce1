"""What a build book says, as plain data for its template: sheet plan, charts, runs, prep list."""

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from decor.calc.materials import spares_and_why
from decor.calc.picture.chart import EMPTY, Chart
from decor.calc.picture.sheets import Join, PlacedSheet, SheetPlan
from decor.calc.pieces.panel import LOADINGS
from decor.calc.pieces.panel_sheets import SheetKind, join_tabs
from decor.calc.units import m_to_inches
from jobs.designs.book_charts import Look, Part, chart_png
from jobs.designs.book_lists import PairList, Slip, UnitList, in_columns, pair_list, slips_of, unit_list
from jobs.designs.catalogue import LatexItem, SheetType
from jobs.designs.charting import hexes
from jobs.designs.drawing import colour_letters, rgb_of_hex
from jobs.designs.raster import balloons_jpeg
from jobs.designs.sheets.words import SectionLine
from jobs.designs.tying import Wishes, pairs_for, strings_for

MOST_COLUMNS, MOST_ROWS = 30, 34
"""So many cells of a chart keep letters of 7 points or more within the margins of A4 and Letter."""

SMALL = 16
"""Sheets of no more cells than this either way stand several on a page, each with all its charts side by side."""
_SMALL_CELL_MM, _SMALL_CHART_MM = 4.8, 88.0
_CHARTS_BESIDE_MM = 106.0
_MARGINS = 2.4
"""What a chart's numbers take beside its cells, in cells."""

Pictures = dict[str, bytes]


@dataclass(frozen=True)
class Colour:
    letter: str
    words: str
    rgb: str
    cells: int
    balloons: int
    spares: int
    nominal_in: float


@dataclass(frozen=True)
class RowRuns:
    """One row of one sheet, spelt out: "4 A, 2 B, 7 A"."""

    number: int
    words: str


@dataclass(frozen=True)
class ChartPage:
    """One page's part of a sheet; `part_words` is empty where the sheet is one part. `name` is its picture's, and
    that of its turned and mirrored ones with `-turned` and `-back`."""

    sheet: PlacedSheet
    name: str
    part: Part
    rows: tuple[RowRuns, ...]
    joins: tuple[str, ...]
    part_words: str
    letters: tuple[tuple[str, str], ...] = ()
    """What each letter on it stands for."""

    @property
    def row_lines(self) -> list[list[RowRuns]]:
        return in_columns(self.rows, 2)

    @property
    def title(self) -> str:
        return f"Sheet {self.sheet.number}" + (f", {self.part_words}" if self.part_words else "")

    @property
    def brief(self) -> str:
        """A link among many."""
        (top, _), (left, _) = self.part.rows, self.part.columns
        return (
            f"{self.sheet.number}, from row {top + 1}, column {left + 1}" if self.part_words else f"{self.sheet.number}"
        )

    def across(self, *, turned: bool) -> int:
        """Cells side by side on the page."""
        start, stop = self.part.rows if turned else self.part.columns
        return stop - start

    @property
    def small(self) -> bool:
        return max(self.across(turned=False), self.across(turned=True)) <= SMALL

    @property
    def wide_mm(self) -> float:
        """Of a small sheet's chart as it hangs."""
        return self._small_mm(self.across(turned=False))

    @property
    def turned_wide_mm(self) -> float:
        return self._small_mm(self.across(turned=True))

    @property
    def room_beside(self) -> bool:
        """For the rows, beside a small sheet's two charts."""
        return self.wide_mm + self.turned_wide_mm <= _CHARTS_BESIDE_MM

    def _small_mm(self, cells: int) -> float:
        most = max(self.across(turned=False), self.across(turned=True))
        return round((cells + _MARGINS) * min(_SMALL_CELL_MM, _SMALL_CHART_MM / (most + _MARGINS)), 1)

    @property
    def size_words(self) -> str:
        (top, bottom), (left, right) = self.part.rows, self.part.columns
        return f"rows {top + 1} to {bottom}, columns {left + 1} to {right}"


@dataclass(frozen=True)
class Book:
    chart: Chart
    plan: SheetPlan
    plan_svg: str
    look: Look
    colours: tuple[Colour, ...]
    pages: tuple[ChartPage, ...]
    sheet: SheetType
    way: str
    sized_mm: int
    sized_in: float
    tabs: int
    sections: int
    pairs: PairList | None = None
    slips: tuple[Slip, ...] = ()
    assembly: tuple[SectionLine, ...] = ()
    units: UnitList | None = None
    route_words: str = ""

    @property
    def balloons(self) -> int:
        return sum(colour.balloons for colour in self.colours)

    @property
    def spares(self) -> int:
        return sum(colour.spares for colour in self.colours)

    @property
    def slip_lines(self) -> list[list[Slip]]:
        return [list(self.slips[at : at + 2]) for at in range(0, len(self.slips), 2)]

    @property
    def types(self) -> Counter[str]:
        """How many there are of each sheet type that the plan took."""
        return Counter(line.name for part in self.assembly for line in part.sheets)

    @property
    def types_mix(self) -> bool:
        return len(self.types) > 1

    @property
    def sheet_words(self) -> str:
        if not self.types_mix:
            return next(iter(self.types), self.sheet.name)
        return ", ".join(f"{count} of {name}" for name, count in self.types.most_common())

    @property
    def has_back(self) -> bool:
        """Whether the panel shows its picture from behind too, mirrored."""
        return self.way in ("two-sided", "sandwich")


def book_of(
    chart: Chart,
    palette: Sequence[LatexItem | None],
    sheet: SheetType,
    plan: SheetPlan,
    *,
    way: str,
    spare_share: float,
    sections: np.ndarray | None = None,
    wishes: Wishes | None = None,
    string_balloons: int = 50,
    assembly: Sequence[SectionLine] = (),
    burst: Mapping[int, float] | None = None,
) -> Book:
    """`sections` (n,) are the cells' section numbers, one for all where there are none; `assembly` the sections' sheets
    in the order in which they are put together; `burst` {stock number: share of those used that burst}, where enough
    is known."""
    wishes = wishes or Wishes()
    letters = colour_letters(len(palette))
    words = [item.words if item else "a colour that was taken out of stock" for item in palette]
    number = np.zeros(chart.lattice.cells, dtype=np.int64) if sections is None else sections
    bare = Book(
        chart=chart,
        plan=plan,
        plan_svg=plan_svg(chart, plan),
        look=Look(hexes(palette), letters),
        colours=_colours(chart, palette, letters, words, way, spare_share, burst or {}),
        pages=tuple(page for placed in plan.sheets for page in _pages(chart, letters, words, plan, placed, sheet)),
        sheet=sheet,
        way=way,
        sized_mm=round(sheet.sized_diameter_m * 1000),
        sized_in=round(m_to_inches(sheet.sized_diameter_m), 2),
        tabs=sum(tabs_of(join, sheet) for join in plan.joins),
        sections=len(np.unique(number[chart.cells.ravel() != EMPTY])),
        assembly=tuple(assembly),
    )
    return _tied(bare, number, words, wishes, string_balloons)


def _tied(book: Book, sections: np.ndarray, words: list[str], wishes: Wishes, string_balloons: int) -> Book:
    """The book with the list that its way of loading asks for."""
    if book.way == "paired":
        pairs = pairs_for(book.chart, sections, wishes)
        pages = tuple(replace(page, part=replace(page.part, links=pairs.pairs)) for page in book.pages)
        return replace(book, pages=pages, pairs=pair_list(pairs, sections, book.look.letters, words))
    if book.way == "strung":
        strings = strings_for(book.chart, sections, wishes)
        winds = strings.route == "winding" and len(strings.order)
        route = tuple(np.split(strings.order, np.flatnonzero(np.diff(strings.blocks)) + 1)) if winds else ()
        pages = tuple(replace(page, part=replace(page.part, route=route)) for page in book.pages)
        slips, says = slips_of(strings, string_balloons, book.look.letters, words)
        return replace(book, pages=pages, slips=slips, route_words=says)
    return replace(book, units=unit_list(book.chart, sections, book.look.letters, words))


def _colours(
    chart: Chart,
    palette: Sequence[LatexItem | None],
    letters: Sequence[str],
    words: Sequence[str],
    way: str,
    spare_share: float,
    burst: Mapping[int, float],
) -> tuple[Colour, ...]:
    each, counts, rgb = LOADINGS[way].balloons, chart.counts(), hexes(palette)  # type: ignore[index]
    return tuple(
        Colour(
            letter=letters[number],
            words=words[number],
            rgb=rgb[number],
            cells=counts[number],
            balloons=counts[number] * each,
            spares=spares_and_why(counts[number] * each, spare_share, burst.get(item.id) if item else None)[0],
            nominal_in=item.nominal_in if item else 0.0,
        )
        for number, item in enumerate(palette)
        if counts[number]
    )


def pictures_of(book: Book, tell: Callable[[float], None] = lambda share: None) -> Pictures:
    """Every picture of the book by its name; `tell` hears how far it is, 0 to 1."""
    # Enough for paper, and never more pixels a cell than the painter takes.
    width = min(1400, book.chart.lattice.columns * 60)
    rgb = [rgb_of_hex(colour) for colour in book.look.rgb]
    found: Pictures = {"panel": balloons_jpeg(book.chart, rgb, width, joins=book.plan.joins)}
    for at, page in enumerate(book.pages):
        views = {"": page.part, "-turned": replace(page.part, turned=True)}
        if book.has_back:
            views["-back"] = replace(page.part, mirrored=True)
        for name, part in views.items():
            found[page.name + name] = chart_png(book.chart, book.look, part, book.plan.joins)
        tell((at + 1) / len(book.pages))
    return found


def tabs_of(join: Join, kind: SheetType) -> int:
    """As the estimate counts them: those of the cells that meet."""
    return join_tabs(join, SheetKind(kind.id, kind.rows, kind.columns, kind.tabs_side, kind.tabs_end))


def _pages(
    chart: Chart,
    letters: Sequence[str],
    words: Sequence[str],
    plan: SheetPlan,
    sheet: PlacedSheet,
    kind: SheetType,
) -> list[ChartPage]:
    rows = _parts(sheet.row_start, sheet.row_stop, MOST_ROWS)
    columns = _parts(sheet.column_start, sheet.column_stop, MOST_COLUMNS)
    many = len(rows) * len(columns) > 1
    joins = join_words(plan, sheet, kind)
    return [
        ChartPage(
            sheet=sheet,
            name=f"s{sheet.number}r{down[0]}c{across[0]}",
            part=Part(down, across),
            rows=tuple(RowRuns(row + 1, run_words(chart, letters, row, across)) for row in range(*down)),
            joins=joins,
            part_words=f"rows {down[0] + 1} to {down[1]}, columns {across[0] + 1} to {across[1]}" if many else "",
            letters=tuple(
                (letters[colour], words[colour])
                for colour in np.unique(chart.cells[slice(*down), slice(*across)]).tolist()
                if colour != EMPTY
            ),
        )
        for down in rows
        for across in columns
    ]


def _parts(start: int, stop: int, most: int) -> list[tuple[int, int]]:
    """As even as they can be: a last page of two columns would be hard to load from."""
    count = math.ceil((stop - start) / most)
    edges = [start + round((stop - start) * n / count) for n in range(count + 1)]
    return list(pairwise(edges))


def run_words(chart: Chart, letters: Sequence[str], row: int, columns: tuple[int, int]) -> str:
    """The runs of a row from the origin side: 4 A, 2 empty, 7 B."""
    runs = chart.runs(row, start=columns[0], stop=columns[1])
    return ", ".join(f"{length} {letters[colour] if colour >= 0 else 'empty'}" for colour, length in runs)


def join_words(plan: SheetPlan, sheet: PlacedSheet, kind: SheetType) -> tuple[str, ...]:
    """Where this sheet meets its neighbours, as seen with the origin corner at the top left."""
    sides = {
        ("upright", "first"): "right edge",
        ("upright", "second"): "left edge",
        ("level", "first"): "bottom edge",
        ("level", "second"): "top edge",
    }
    found = []
    for join in plan.joins:
        if sheet.number in (join.first, join.second):
            mine = "first" if sheet.number == join.first else "second"
            other = join.second if mine == "first" else join.first
            tabs = tabs_of(join, kind)
            words = f", {tabs} {'tab' if tabs == 1 else 'tabs'}" if tabs else ""
            found.append(f"{sides[join.orientation, mine]} to sheet {other}{words}")
    return tuple(found)


_DASHES = 'stroke-width="1.8" stroke-dasharray="6 4"'
_DOTS = 'stroke-width="3.4" stroke-linecap="round" stroke-dasharray="0.1 7"'


def plan_svg(chart: Chart, plan: SheetPlan) -> str:
    """The sheets as numbered boxes, the origin corner of each blacked, joins dashed, those of the venue dotted."""
    scale = 480 / max(chart.lattice.columns, chart.lattice.rows)
    step = scale * chart.lattice.row_pitch_m / chart.lattice.pitch_m
    width, height = chart.lattice.columns * scale, chart.lattice.rows * step
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-2 -2 {width + 4:.1f} {height + 4:.1f}" class="plan" '
        'font-family="Figtree, DejaVu Sans, sans-serif" '
        'role="img" aria-label="Sheet plan">'
    ]
    for sheet in plan.sheets:
        x, y = sheet.column_start * scale, sheet.row_start * step
        w, h = sheet.columns * scale, sheet.rows * step
        size = max(9.0, min(w, h) / 4)
        parts.append(
            f'<rect x="{x:.1f}" y="{y:.1f}" width="{w:.1f}" height="{h:.1f}" fill="#fff" stroke="#1E2421"/>'
            f'<path d="M{x:.1f} {y:.1f}h{size / 2:.1f}l-{size / 2:.1f} {size / 2:.1f}z" fill="#1E2421"/>'
            f'<text x="{x + w / 2:.1f}" y="{y + h / 2 + size * 0.35:.1f}" text-anchor="middle" '
            f'font-size="{size:.1f}" font-weight="650" fill="#1E2421">{sheet.number}</text>'
        )
    later = set(plan.left_for_venue())
    parts += [_join_line(join, scale, step, late=join in later) for join in plan.joins]
    return "".join([*parts, "</svg>"])


def _join_line(join: Join, scale: float, step: float, *, late: bool) -> str:
    """Dashed, or dotted where it is joined at the venue."""
    if join.orientation == "upright":
        line = f"M{join.at * scale:.1f} {join.start * step:.1f}V{join.stop * step:.1f}"
    else:
        line = f"M{join.start * scale:.1f} {join.at * step:.1f}H{join.stop * scale:.1f}"
    return (
        f'<path d="{line}" fill="none" stroke="#fff" stroke-width="4"/>'
        f'<path d="{line}" fill="none" stroke="#1E2421" {_DOTS if late else _DASHES}/>'
    )
