"""What a piece's page shows."""

from dataclasses import dataclass
from types import ModuleType
from typing import Any

from django.utils.safestring import SafeString, mark_safe

from decor.calc.picture.sheets import plan_grid
from jobs.designs.catalogue import Catalogue, LatexItem
from jobs.designs.charting import NO_COLOUR, chart_of, hexes, joins_of, palette_of
from jobs.designs.drawing import colour_letters, plain_svg
from jobs.designs.kinds.panel import MOST_DRAWN
from jobs.designs.models import Panel, Piece
from jobs.designs.stock import free_for


@dataclass(frozen=True)
class Swatch:
    """One colour of a piece with how many it takes, alike pieces together, and how many the event could have."""

    words: str
    rgb: str
    letter: str
    number: int
    free: int | None

    @property
    def short(self) -> int:
        return 0 if self.free is None else max(0, self.number - self.free)


def swatches(piece: Piece, counts: list[tuple[LatexItem | None, int]], letters: dict[int, str]) -> list[Swatch]:
    free = free_for(piece.event, [item.id for item, _ in counts if item])
    return [
        Swatch(
            words=item.words if item else "colour open",
            rgb=item.rgb if item else NO_COLOUR,
            letter=letters.get(item.id, "") if item else "",
            number=number * piece.count,
            free=free.get(item.id) if item else None,
        )
        for item, number in counts
    ]


def piece_page(
    piece: Piece, kind: ModuleType, catalogue: Catalogue, *, plain: bool = False, sheet: str = ""
) -> dict[str, Any]:
    panel: Panel | None = getattr(piece, "panel", None)
    try:
        facts, counts = kind.facts(piece, catalogue), kind.counts(piece, catalogue)
        words = kind.words(piece, catalogue)
        picture = None if panel and plain else kind.drawing(piece, catalogue)
        wrong = ""
    except ValueError as refusal:
        # Stock was changed under the piece: say it, rather than fail.
        facts, counts, words, picture, wrong = [], [], kind.NAME, None, str(refusal)
    letters = dict(zip(panel.palette, colour_letters(len(panel.palette)), strict=True)) if panel else {}
    colours = swatches(piece, counts, letters)
    context = {
        "piece": piece,
        "event": piece.event,
        "kind": kind,
        "panel": panel,
        "facts": facts,
        "words": words,
        "picture": picture,
        "wrong": wrong,
        "colours": colours,
        "short": sum(colour.short for colour in colours),
        "rough": piece.measures.get("rough"),
    }
    if panel and plain and not wrong:
        context |= _plain(panel, catalogue, sheet)
    return context


def _plain(panel: Panel, catalogue: Catalogue, asked: str) -> dict[str, Any]:
    """The lettered chart: whole where it can be read so, else sheet by sheet."""
    sheet_type = catalogue.sheet(panel.sheet_id)
    sheets = plan_grid(panel.rows, panel.columns, sheet_type.rows, sheet_type.columns).sheets
    whole = panel.rows * panel.columns <= MOST_DRAWN
    chosen = next((one for one in sheets if str(one.number) == asked), None if whole else sheets[0])
    columns = chosen.columns if chosen else panel.columns
    svg = plain_svg(
        chart_of(panel, sheet_type),
        hexes(palette_of(panel, catalogue)),
        letters=colour_letters(len(panel.palette)),
        title=f"{panel.piece.title}, plain chart" + (f", sheet {chosen.number}" if chosen else ""),
        joins=joins_of(sheet_type, panel.rows, panel.columns),
        rows=(chosen.row_start, chosen.row_stop) if chosen else None,
        columns=(chosen.column_start, chosen.column_stop) if chosen else None,
    )
    return {
        "plain": SafeString(mark_safe(svg)),
        "plain_width": next(name for most, name in WIDTHS if columns <= most),
        "whole": whole,
        "sheet_numbers": [one.number for one in sheets] if 1 < len(sheets) <= MOST_SHEETS_LISTED else [],
        "sheet_shown": chosen.number if chosen else None,
    }


MOST_SHEETS_LISTED = 60
WIDTHS = [(16, ""), (30, "wide-30"), (60, "wide-60"), (120, "wide-120"), (100_000, "wide-all")]
"""How wide a lettered chart is drawn so that its letters can be read, as classes of the style sheet."""
