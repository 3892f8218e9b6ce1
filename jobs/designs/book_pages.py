"""What a build book says, as plain data for its template: sheet plan, a chart a sheet, runs, prep list."""

import base64
import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from decor.calc.materials import spares_for
from decor.calc.picture.chart import Chart
from decor.calc.picture.sheets import Join, PlacedSheet, SheetPlan, plan_grid
from decor.calc.pieces.panel import LOADINGS
from decor.calc.units import m_to_inches
from jobs.designs.catalogue import LatexItem, SheetType
from jobs.designs.charting import hexes
from jobs.designs.drawing import colour_letters, plain_svg, rgb_of_hex
from jobs.designs.raster import balloons_jpeg

# So many cells of a chart keep letters of 7 points or more within the margins of A4 and Letter.
MOST_COLUMNS, MOST_ROWS = 30, 34


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
    """One page's part of a sheet; `part_words` is empty where the sheet is one part."""

    sheet: PlacedSheet
    svg: str
    rows: tuple[RowRuns, ...]
    joins: tuple[str, ...]
    part_words: str


@dataclass(frozen=True)
class Book:
    chart: Chart
    plan: SheetPlan
    plan_svg: str
    picture: str
    colours: tuple[Colour, ...]
    pages: tuple[ChartPage, ...]
    sheet: SheetType
    way: str
    sized_mm: int
    sized_in: float
    tabs: int

    @property
    def balloons(self) -> int:
        return sum(colour.balloons for colour in self.colours)

    @property
    def spares(self) -> int:
        return sum(colour.spares for colour in self.colours)


def book_of(
    chart: Chart, palette: Sequence[LatexItem | None], sheet: SheetType, *, way: str, spare_share: float
) -> Book:
    plan = plan_grid(chart.lattice.rows, chart.lattice.columns, sheet.rows, sheet.columns)
    letters = colour_letters(len(palette))
    rgb = hexes(palette)
    per_cell = LOADINGS[way].balloons  # type: ignore[index]
    counts = chart.counts()
    colours = tuple(
        Colour(
            letter=letters[number],
            words=item.words if item else "a colour that was taken out of stock",
            rgb=rgb[number],
            cells=counts[number],
            balloons=counts[number] * per_cell,
            spares=spares_for(counts[number] * per_cell, spare_share),
            nominal_in=item.nominal_in if item else 0.0,
        )
        for number, item in enumerate(palette)
        if counts[number]
    )
    # Enough for paper, and never more pixels a cell than the painter takes.
    width = min(1400, chart.lattice.columns * 60)
    return Book(
        chart=chart,
        plan=plan,
        plan_svg=plan_svg(chart, plan),
        picture=_data_address(balloons_jpeg(chart, [rgb_of_hex(c) for c in rgb], width, joins=plan.joins)),
        colours=colours,
        pages=tuple(page for placed in plan.sheets for page in _pages(chart, rgb, letters, plan, placed, sheet)),
        sheet=sheet,
        way=way,
        sized_mm=round(sheet.sized_diameter_m * 1000),
        sized_in=round(m_to_inches(sheet.sized_diameter_m), 2),
        tabs=sum(tabs_of(join, sheet) for join in plan.joins),
    )


def _data_address(jpeg: bytes) -> str:
    """A picture, not SVG: the PDF maker loses `use` elements, and some readers lose gradients."""
    return "data:image/jpeg;base64," + base64.b64encode(jpeg).decode()


def tabs_of(join: Join, kind: SheetType) -> int:
    """All that the sheets' edges have, as the estimate counts them: spare cells are joined too, and folded back."""
    return kind.tabs_side if join.orientation == "upright" else kind.tabs_end


def _pages(
    chart: Chart, rgb: list[str], letters: list[str], plan: SheetPlan, sheet: PlacedSheet, kind: SheetType
) -> list[ChartPage]:
    rows = _parts(sheet.row_start, sheet.row_stop, MOST_ROWS)
    columns = _parts(sheet.column_start, sheet.column_stop, MOST_COLUMNS)
    many = len(rows) * len(columns) > 1
    pages = []
    for down in rows:
        for across in columns:
            title = f"Sheet {sheet.number}, rows {down[0] + 1} to {down[1]}, columns {across[0] + 1} to {across[1]}"
            svg = plain_svg(
                chart,
                rgb,
                letters=letters,
                title=title,
                joins=plan.joins,
                rows=down,
                columns=across,
                prefix=f"s{sheet.number}r{down[0]}c{across[0]}",
            )
            runs = tuple(RowRuns(row + 1, run_words(chart, letters, row, across)) for row in range(*down))
            part = title.split(", ", 1)[1] if many else ""
            pages.append(ChartPage(sheet, svg, runs, join_words(plan, sheet, kind), part))
    return pages


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


def plan_svg(chart: Chart, plan: SheetPlan) -> str:
    """The sheets as numbered boxes, the origin corner of each blacked, joins dashed with their tabs."""
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
    parts += [_join_line(join, scale, step) for join in plan.joins]
    return "".join([*parts, "</svg>"])


def _join_line(join: Join, scale: float, step: float) -> str:
    if join.orientation == "upright":
        line = f"M{join.at * scale:.1f} {join.start * step:.1f}V{join.stop * step:.1f}"
    else:
        line = f"M{join.start * scale:.1f} {join.at * step:.1f}H{join.stop * scale:.1f}"
    return (
        f'<path d="{line}" fill="none" stroke="#fff" stroke-width="4"/>'
        f'<path d="{line}" fill="none" stroke="#1E2421" stroke-width="1.8" stroke-dasharray="6 4"/>'
    )
