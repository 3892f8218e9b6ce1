"""What a piece's page shows."""

from dataclasses import dataclass
from datetime import datetime
from types import ModuleType
from typing import Any

from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe

from decor.studio.models import Studio
from jobs.designs.catalogue import Catalogue, LatexItem
from jobs.designs.charting import NO_COLOUR, chart_of, hexes, palette_of
from jobs.designs.drawing import colour_letters, plain_svg
from jobs.designs.kinds.panel import MOST_DRAWN
from jobs.designs.models import EarlierChart, Panel, PanelDraft, Piece
from jobs.designs.sheets.plans import panel_plan
from jobs.designs.stock import free_for
from jobs.designs.taken import Taken, taken_with
from jobs.events.models import Stage


@dataclass(frozen=True)
class Swatch:
    """One colour of a piece with how many it takes, alike pieces together, and with their spares; how many there are,
    and how many are taken of these by all pieces together, spares counted in."""

    words: str
    rgb: str
    letter: str
    number: int
    needed: int
    free: int | None
    taken: int

    @property
    def missing(self) -> int:
        """By all pieces together."""
        return 0 if self.free is None else max(0, self.taken - self.free)

    @property
    def short(self) -> int:
        """By this piece, the other ones having taken theirs first."""
        return min(self.needed, self.missing)

    @property
    def spares(self) -> int:
        return self.needed - self.number


def swatches(
    piece: Piece, counts: list[tuple[LatexItem | None, int]], letters: dict[int, str], taken: Taken
) -> list[Swatch]:
    free = free_for(piece.event, [item.id for item, _ in counts if item])
    found = []
    for item, cells in counts:
        number = cells * piece.count
        needed = max(number, taken.here.get(item.id, 0)) if item else number
        found.append(
            Swatch(
                words=item.words if item else "colour open",
                rgb=item.rgb if item else NO_COLOUR,
                letter=letters.get(item.id, "") if item else "",
                number=number,
                needed=needed,
                free=free.get(item.id) if item else None,
                taken=max(needed, taken.all.get(item.id, 0)) if item else number,
            )
        )
    return found


def piece_page(
    piece: Piece, kind: ModuleType, catalogue: Catalogue, studio: Studio, *, plain: bool = False, sheet: str = ""
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
    named = any(item for item, _ in counts)
    taken = taken_with(piece, catalogue, studio) if named else Taken({}, {}, others=False)
    colours = swatches(piece, counts, letters, taken)
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
        "beside": taken.others,
        "rough": piece.measures.get("rough"),
        "earlier": _earlier(panel),
    }
    context["draft"] = kind.KEY == "panel" and PanelDraft.objects.filter(piece=piece).exists()
    context["act"] = next_step(piece, kind, short=context["short"], draft=context["draft"])
    if panel and plain and not wrong:
        context |= _plain(panel, catalogue, sheet)
    return context


def _earlier(panel: Panel | None) -> datetime | None:
    """Until when another chart stood, where it can be put back."""
    found = EarlierChart.objects.filter(panel=panel) if panel else EarlierChart.objects.none()
    return found.values_list("since", flat=True).first()


def next_step(piece: Piece, kind: ModuleType, *, short: int, draft: bool) -> tuple[str, str]:
    """The one most useful thing for this piece now: its address and its words."""

    def to(name: str) -> str:
        return reverse(f"jobs:{name}", args=[piece.event_id, piece.pk])

    if draft:
        return to("panel-colours"), "Go on with the draft"
    if getattr(piece, "panel", None) is None:
        rough = piece.measures.get("rough")
        return to("piece-measures"), kind.SETTLE if rough else "Change size and colours"
    if short:
        return to("panel-colours"), "Settle the colours"
    if piece.event.stage == Stage.IN_PRODUCTION:
        return to("panel-table"), "Load at the table"
    return to("build-book"), "Go to the build book"


def _plain(panel: Panel, catalogue: Catalogue, asked: str) -> dict[str, Any]:
    """The lettered chart: whole where it can be read so, else sheet by sheet."""
    sheet_type = catalogue.sheet(panel.sheet_id)
    plan = panel_plan(panel, catalogue)
    sheets = plan.sheets
    whole = panel.rows * panel.columns <= MOST_DRAWN
    chosen = next((one for one in sheets if str(one.number) == asked), None if whole else sheets[0])
    columns = chosen.columns if chosen else panel.columns
    svg = plain_svg(
        chart_of(panel, sheet_type),
        hexes(palette_of(panel, catalogue)),
        letters=colour_letters(len(panel.palette)),
        title=f"{panel.piece.title}, plain chart" + (f", sheet {chosen.number}" if chosen else ""),
        joins=plan.joins,
        rows=(chosen.row_start, chosen.row_stop) if chosen else None,
        columns=(chosen.column_start, chosen.column_stop) if chosen else None,
    )
    return {
        "plain": SafeString(mark_safe(svg)),
        "plain_width": next(name for most, name in WIDTHS if columns <= most),
        "whole": whole,
        "sheet_shown": chosen.number if chosen else None,
    } | listed_sheets([one.number for one in sheets], chosen.number if chosen else None)


def listed_sheets(numbers: list[int], shown: int | None) -> dict[str, Any]:
    """So many links at a time, those round the sheet that is shown, and the sheets with which the links before and
    after them begin."""
    first = numbers.index(shown) // MOST_SHEETS_LISTED * MOST_SHEETS_LISTED if shown in numbers else 0
    stop = first + MOST_SHEETS_LISTED
    return {
        "sheet_numbers": numbers[first:stop] if len(numbers) > 1 else [],
        "sheets_before": numbers[first - MOST_SHEETS_LISTED] if first else None,
        "sheets_after": numbers[stop] if stop < len(numbers) else None,
    }


MOST_SHEETS_LISTED = 60
WIDTHS = [(16, ""), (30, "wide-30"), (60, "wide-60"), (120, "wide-120"), (100_000, "wide-all")]
"""How wide a lettered chart is drawn so that its letters can be read, as classes of the style sheet."""
