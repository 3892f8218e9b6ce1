"""What stands on the pages at the table, in words."""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from django.utils import timezone

from decor.calc.picture.chart import Chart
from decor.calc.picture.loading import Strings
from decor.calc.picture.sheets import PlacedSheet, section_letter
from decor.calc.pieces.panel_ways import LOADINGS
from decor.studio.models import User
from jobs.designs.catalogue import Catalogue, LatexItem
from jobs.designs.charting import NO_COLOUR, chart_of, palette_of
from jobs.designs.models import Panel, Piece
from jobs.designs.sheets.plans import blocks_of
from jobs.designs.table.lines import Line, Up, line_word
from jobs.designs.table.pace import Table, balloons_a_cell, cells_per_second_now
from jobs.designs.table.services import loaders_now
from jobs.designs.tying import pairs_for, strings_for, wishes_of

MOST_PLANNED = 20_000
"""Cells up to which pairs and strings are worked out for the page: a second's work, done once for each chart."""
FEW, SOME = 6, 14

Hints = Callable[[Line], tuple[tuple[str, ...], bool]]
"""What the way to load adds to a line, and whether it is loaded from right to left."""


@dataclass(frozen=True)
class ShownRun:
    count: int
    words: str
    colour: int


@dataclass(frozen=True)
class ShownLine:
    """`state` is "now", "next" or nothing, for a page without script."""

    number: int
    place: int
    runs: tuple[ShownRun, ...]
    short: str
    hints: tuple[str, ...]
    backwards: bool
    size: str
    state: str


@dataclass(frozen=True)
class ShownColour:
    number: int
    rgb: str


@dataclass(frozen=True)
class ShownSheet:
    number: int
    face: int
    words: str
    lines: int
    share: int
    cells: int
    cells_in: int
    people: str
    mine: bool

    @property
    def done(self) -> bool:
        return self.cells_in >= self.cells


def colour_words(palette: Sequence[LatexItem | None], number: int) -> str:
    if number < 0:
        return "leave empty"
    item = palette[number]
    return item.words if item else "no longer in stock"


def rgb_of(item: LatexItem | None) -> str:
    return item.rgb if item else NO_COLOUR


def shown_lines(
    lines: Sequence[Line],
    palette: Sequence[LatexItem | None],
    loaded: set[int],
    hints: Hints,
) -> list[ShownLine]:
    waiting = [line.number for line in lines if line.number not in loaded][:2]
    states = dict(zip(waiting, ("now", "next"), strict=False))
    shown = []
    for place, line in enumerate(lines, start=1):
        words, backwards = hints(line)
        runs = [ShownRun(length, colour_words(palette, colour), colour) for colour, length in line.runs()]
        if backwards:
            runs.reverse()
        shown.append(
            ShownLine(
                number=line.number,
                place=place,
                runs=tuple(runs),
                short=" · ".join(f"{run.count} {run.words}" for run in runs),
                hints=words,
                backwards=backwards,
                size="few" if len(runs) <= FEW else "some" if len(runs) <= SOME else "many",
                state=states.get(line.number, ""),
            )
        )
    return shown


def hints_for(panel: Panel, catalogue: Catalogue, table: Table, up: Up) -> Hints:
    """Its pairs, or its strings, as the pair list and the slips have them."""
    if panel.rows * panel.columns > MOST_PLANNED or panel.loading in ("two-sided", "sandwich"):
        return lambda line: ((), False)
    palette, wishes = palette_of(panel, catalogue), wishes_of(panel.piece)
    chart, sections = _chart(panel, catalogue), blocks_of(table.plan, panel.rows, panel.columns)
    if panel.loading == Panel.Loading.STRUNG:
        strings = strings_for(chart, sections, wishes)
        places, bags = _places(strings, int(table.rates.string_balloons))
        if wishes.winding:
            return lambda line: (winding_words(line, bags, line_word(up)), False)
        return lambda line: string_words(line, places, bags, line_word(up))
    pairs = pairs_for(chart, sections, wishes).pairs.tolist()
    mates = {one: other for pair in pairs for one, other in (pair, pair[::-1])}
    return lambda line: (pair_words(line, mates, chart, palette, line_word(up)), False)


def _chart(panel: Panel, catalogue: Catalogue) -> Chart:
    sheet = catalogue.sheet(panel.sheet_id)
    assert sheet is not None  # the table has sheets
    return chart_of(panel, sheet)


def _places(strings: Strings, balloons: int) -> tuple[dict[int, int], dict[int, tuple[int, int]]]:
    """Each cell's place in the order, and (bag number, place in the bag), from 1."""
    order = strings.order.tolist()
    places = {cell: place for place, cell in enumerate(order)}
    bags = {
        order[at]: (bag.number, at - bag.start + 1)
        for bag in strings.bags(balloons)
        for at in range(bag.start, bag.stop)
    }
    return places, bags


def winding_words(line: Line, bags: dict[int, tuple[int, int]], word: str) -> tuple[str, ...]:
    """A winding way goes over many lines at once, so a line says only which strings it takes a part of."""
    numbers = sorted({bags[cell][0] for cell, colour in zip(line.cells, line.colours, strict=True) if colour >= 0})
    strings = f"String {numbers[0]}" if len(numbers) == 1 else f"Strings {', '.join(map(str, numbers))}"
    return (f"{strings}, along the line drawn in the build book. Tick a {word} once all of it is in.",)


def string_words(
    line: Line, places: dict[int, int], bags: dict[int, tuple[int, int]], word: str
) -> tuple[tuple[str, ...], bool]:
    """Which string the line is loaded from and where on it; whether it runs from right to left."""
    filled = [cell for cell, colour in zip(line.cells, line.colours, strict=True) if colour >= 0]
    at = [places[cell] for cell in filled]
    steps = {later - earlier for earlier, later in pairwise(at)}
    if steps - {1} and steps - {-1}:
        other = "column" if word == "row" else "row"
        return ((f"The strings run along the {other}s: let another edge lie up.",), False)
    backwards = steps == {-1}
    if backwards:
        filled.reverse()
    stretches: dict[int, list[int]] = {}
    for cell in filled:
        number, place = bags[cell]
        stretches.setdefault(number, []).append(place)
    words = [
        f"String {number}, balloon {found[0]}" + (f" to {found[-1]}" if len(found) > 1 else "")
        for number, found in stretches.items()
    ]
    return (tuple(words), backwards)


def pair_words(
    line: Line, mates: dict[int, int], chart: Chart, palette: Sequence[LatexItem | None], word: str
) -> tuple[str, ...]:
    """How the line's balloons are tied: pairs within it, pairs with a line or a sheet beside it, single ones."""
    kinds = {name: Counter[str]() for name in ("within", "sheet", "line", "single")}
    colours, columns, own = chart.cells.reshape(-1), chart.lattice.columns, set(line.cells)
    for cell in line.cells:
        colour, mate = int(colours[cell]), mates.get(cell)
        if colour < 0 or (mate in own and mate is not None and mate < cell):
            continue
        if mate is None:
            kinds["single"][colour_words(palette, colour)] += 1
            continue
        along = mate // columns == cell // columns if word == "row" else mate % columns == cell % columns
        where = "within" if mate in own else "sheet" if along else "line"
        kinds[where][_kind(palette, colour, int(colours[mate]))] += 1
    said = {
        "within": "Pairs",
        "sheet": "Pairs shared with the sheet beside it",
        "line": f"Pairs shared with the {word} before or after",
        "single": "Single",
    }
    return tuple(f"{said[where]}: {_listed(counts)}" for where, counts in kinds.items() if counts)


def _kind(palette: Sequence[LatexItem | None], one: int, other: int) -> str:
    first, second = (colour_words(palette, number) for number in sorted((one, other)))
    return first if first == second else f"{first} with {second}"


def _listed(counts: Counter[str]) -> str:
    return ", ".join(f"{number} {words}" for words, number in counts.most_common())


def usual_up(panel: Panel, catalogue: Catalogue, table: Table) -> Up:
    """The edge that lies up unless the loader says otherwise: of strings the one along which they begin."""
    if panel.loading != Panel.Loading.STRUNG or panel.rows * panel.columns > MOST_PLANNED:
        return "top"
    sections = blocks_of(table.plan, panel.rows, panel.columns)
    strings = strings_for(_chart(panel, catalogue), sections, wishes_of(panel.piece))
    if strings.route == "columns":
        return "right" if strings.corner.endswith("right") else "left"
    return "bottom" if strings.corner.startswith("bottom") else "top"


def sheet_words(sheet: PlacedSheet, sections: int) -> str:
    of = f"section {section_letter(sheet.section)}, " if sections > 1 else ""
    return (
        f"{of}rows {sheet.row_start + 1} to {sheet.row_stop}, columns {sheet.column_start + 1} to {sheet.column_stop}"
    )


def shown_sheets(table: Table, now: datetime, me: User) -> list[ShownSheet]:
    people: dict[tuple[int, int], list[str]] = {}
    for loader in loaders_now(table.panel, now=now):
        name = "you" if loader.user_id == me.pk else str(loader.user)
        people.setdefault((loader.sheet_number, loader.face), []).append(name)
    shown, sections = [], len({sheet.section for sheet in table.sheets})
    for face in table.faces:
        for sheet in table.sheets:
            cells, cells_in = table.filled(sheet.number), table.cells_in(sheet.number, face)
            if cells:
                shown.append(
                    ShownSheet(
                        number=sheet.number,
                        face=face,
                        words=sheet_words(sheet, sections),
                        lines=len(table.lines(sheet.number, "top")),
                        share=100 * cells_in // cells,
                        cells=cells,
                        cells_in=cells_in,
                        people=" and ".join(people.get((sheet.number, face), [])),
                        mine="you" in people.get((sheet.number, face), []),
                    )
                )
    return shown


def pace_now(table: Table, sheet: PlacedSheet | None, now: datetime, zone: ZoneInfo | str) -> str:
    """ "41 balloons a minute, section done about 11:25"; of the whole panel where no sheet is named."""
    sheets = [s for s in table.sheets if sheet is None or s.section == sheet.section]
    numbers = {one.number for one in sheets}
    pace = cells_per_second_now([row for row in table.timed if row.sheet in numbers], now)
    if pace <= 0:
        return ""
    left = sum(table.filled(one) - table.cells_in(one, face) for one in numbers for face in table.faces)
    many = {one.section for one in table.sheets}
    what = "section" if sheet is not None and len(many) > 1 else "panel"
    each = balloons_a_cell(table.panel)
    if left <= 0:
        return f"{pace * 60 * each:.0f} balloons a minute, the {what} is in"
    done = timezone.localtime(now + timedelta(seconds=left / pace), ZoneInfo(str(zone)))
    day = "" if done.date() == timezone.localtime(now, ZoneInfo(str(zone))).date() else f"{done:%a} "
    return f"{pace * 60 * each:.0f} balloons a minute, {what} done about {day}{done:%H:%M}"


def work_zone(piece: Piece) -> ZoneInfo | str:
    """The clock on the wall where it is loaded."""
    return piece.event.zone if piece.built_at == Piece.BuiltAt.VENUE else timezone.get_current_timezone_name()


def way_words(panel: Panel, face: int) -> str:
    if panel.loading == Panel.Loading.SANDWICH:
        return (
            "Second sheet: lay it over the first and pull it over the upper balloon of each pair."
            if face
            else "First sheet: push the lower balloon of each pair in; the upper one stands up."
        )
    if panel.loading == Panel.Loading.TWO_SIDED:
        return f"Each is a unit of {LOADINGS['two-sided'].balloons} balloons, pushed half-way through."
    if panel.loading == Panel.Loading.STRUNG:
        return "Roll the string in one balloon after the other."
    return "Two tied balloons roll into two neighbouring cells."
