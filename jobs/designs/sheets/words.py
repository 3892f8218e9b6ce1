"""A sheet plan in words, as a decorator reads it while putting the panel together."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from decor.calc.picture.sheets import Edge, PlacedSheet, Section
from decor.calc.pieces.panel_sheets import STRIPS_ON, join_tabs, strips_to_pull
from jobs.designs.catalogue import Catalogue, SheetType
from jobs.designs.lengths import size_words
from jobs.designs.sheets.plans import Planned, kinds_of

PROVED = 0.0005
"""A gap below which nobody would look further, as a share."""


@dataclass(frozen=True)
class SheetLine:
    """One sheet: what to do with it before it is loaded."""

    number: int
    name: str
    where: str
    pull: str
    leave: str
    joins: str
    spare: str


@dataclass(frozen=True)
class SectionLine:
    letter: str
    numbers: str
    size: str
    sheets: tuple[SheetLine, ...]
    van: bool
    venue: bool | None


@dataclass(frozen=True)
class TypeLine:
    sheet: SheetType
    quantity: int
    cost: Decimal


def near_words(found: Planned) -> str:
    """How near the best the plan is."""
    if found.gap is None:
        return ""
    if found.gap < PROVED:
        return "Proved: no plan of these sheets costs less."
    return f"At most {found.gap * 100:.1f} % above what could be proved: no plan of these sheets saves more than that."


def types_of(found: Planned, layers: int) -> list[TypeLine]:
    """Sheets by type for one piece, most first."""
    counts = Counter(sheet.size for sheet in found.plan.sheets)
    return [
        TypeLine(found.types[size], number * layers, found.types[size].cost_per_use * number * layers)
        for size, number in counts.most_common()
    ]


def sections_of(found: Planned, catalogue: Catalogue, opening_strips: float) -> list[SectionLine]:
    """The sections with their sheets in the order in which they are put together."""
    pull = strips_to_pull(found.plan, kinds_of(found.types), opening_strips=opening_strips)
    lines = {sheet.number: _sheet_line(found, sheet, pull[sheet.number]) for sheet in found.plan.sheets}
    parts = found.plan.sections or (Section(1, tuple(lines), 0, *_far(found.plan.sheets)),)
    return [_section_line(found, part, lines, catalogue) for part in parts]


def _far(sheets: Iterable[PlacedSheet]) -> tuple[int, int, int]:
    every = list(sheets)
    return max(sheet.row_stop for sheet in every), 0, max(sheet.column_stop for sheet in every)


def _section_line(found: Planned, part: Section, lines: dict[int, SheetLine], catalogue: Catalogue) -> SectionLine:
    lattice = found.types[0].lattice_of(1, 1)
    wide = (part.column_stop - part.column_start) * lattice.pitch_m
    high = (part.row_stop - part.row_start) * lattice.row_pitch_m
    doors = found.doors
    return SectionLine(
        part.letter,
        counted(part.sheets),
        size_words(wide, high, catalogue.units),
        tuple(lines[number] for number in part.sheets),
        doors.van(wide, high) if doors else True,
        doors.venue(wide, high) if doors and doors.venue_m else None,
    )


def counted(numbers: Iterable[int]) -> str:
    """1, 2 and 5; long rows as 1 to 9.

    >>> counted([3]), counted([1, 2, 5]), counted([1, 2, 3, 4, 7])
    ('3', '1, 2 and 5', '1 to 4 and 7')
    """
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    words: list[str] = []
    for run in runs:
        words += [f"{run[0]} to {run[-1]}"] if len(run) > 2 else [str(number) for number in run]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _sheet_line(found: Planned, sheet: PlacedSheet, pull: tuple[Edge, ...]) -> SheetLine:
    kind = found.types[sheet.size]
    left = [edge for edge in STRIPS_ON[kind.strips] if edge not in pull]  # type: ignore[index]
    where = f"rows {sheet.row_start + 1} to {sheet.row_stop}, columns {sheet.column_start + 1} to {sheet.column_stop}"
    return SheetLine(
        sheet.number, kind.name, where, ", ".join(pull), ", ".join(left), _joins(found, sheet), _spare(sheet, kind)
    )


def _joins(found: Planned, sheet: PlacedSheet) -> str:
    """sheet 1 on the left (22 tabs), sheet 4 below (13 tabs, at the venue)"""
    tabs: Counter[tuple[int, str]] = Counter()
    later = {frozenset((join.first, join.second)) for join in found.plan.left_for_venue()}
    kind = kinds_of([found.types[sheet.size]])[0]
    for join in found.plan.joins:
        if sheet.number not in (join.first, join.second):
            continue
        mine = sheet.number == join.first
        upright = join.orientation == "upright"
        side = ("on the right" if mine else "on the left") if upright else ("below" if mine else "above")
        tabs[join.second if mine else join.first, side] += join_tabs(join, kind)
    words = []
    for (other, side), n in sorted(tabs.items()):
        more = [f"{n} {'tab' if n == 1 else 'tabs'}"] if n else []
        more += ["at the venue"] if frozenset((sheet.number, other)) in later else []
        words.append(f"sheet {other} {side}" + (f" ({', '.join(more)})" if more else ""))
    return ", ".join(words)


def _spare(sheet: PlacedSheet, kind: SheetType) -> str:
    """What is cut off or folded back, by edge, and cells inside that stay empty."""
    below = kind.rows - sheet.skip_rows - sheet.rows
    right = kind.columns - sheet.skip_columns - sheet.columns
    sides = [
        f"{number} {word if number == 1 else word + 's'} {side}"
        for number, word, side in (
            (sheet.skip_columns, "column", "on the left"),
            (right, "column", "on the right"),
            (sheet.skip_rows, "row", "at the top"),
            (below, "row", "at the bottom"),
        )
        if number
    ]
    act = "Cut off or fold back" if kind.can_be_cut else "Fold back"
    empty = sheet.rows * sheet.columns - sheet.cells
    words = [f"{act} {', '.join(sides)}"] if sides else []
    if empty:
        words.append(f"{'leave' if words else 'Leave'} {empty:,} {'cell' if empty == 1 else 'cells'} empty")
    return "; ".join(words)
