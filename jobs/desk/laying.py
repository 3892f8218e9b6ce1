"""On which sheets a panel is asked about while only its size is known: on those that cost least, and where they are not
there on the day, on others that are."""

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from jobs.designs.catalogue import Catalogue, SheetType
from jobs.designs.fits import rough_fit
from jobs.designs.kinds import panel
from jobs.estimates.inputs import AskedPiece, PieceLike
from jobs.estimates.needs import StockLine

Lines = Callable[[Sequence[PieceLike]], list[StockLine]]


@dataclass(frozen=True)
class Laid:
    """`instead` tells which cheaper sheets are short, where the pieces lie on others for that."""

    pieces: Sequence[PieceLike]
    lines: list[StockLine]
    instead: str = ""


def laid_on_free(pieces: Sequence[PieceLike], lines_of: Lines, catalogue: Catalogue) -> Laid:
    """The pieces as they are, unless sheets are short and rough panels laid on another type leave none short: then so,
    at the least cost."""
    lines = lines_of(pieces)
    short = {line.need.item_id: line for line in _sheets(lines) if line.short and line.need.item_id}
    if not short:
        return Laid(pieces, lines)
    words = ", ".join(f"{line.short:,} of {line.need.label}" for line in short.values())
    found = [
        Laid(moved, others, f"costs more, but {words} would be short")
        for sheet in catalogue.sheets_on_offer
        if sheet.id not in short
        and (moved := [_on(piece, sheet, set(short), catalogue) for piece in pieces]) != list(pieces)
        and _all_there(others := _lines(moved, lines_of), lines)
    ]
    return min(found, key=lambda laid: _cost(laid.lines, catalogue), default=Laid(pieces, lines))


def _sheets(lines: Sequence[StockLine]) -> list[StockLine]:
    return [line for line in lines if line.need.what == "sheet"]


def _on(piece: PieceLike, sheet: SheetType, short: set[int], catalogue: Catalogue) -> PieceLike:
    """Only what is asked about: a saved piece keeps the sheets that its maker chose."""
    if not isinstance(piece, AskedPiece) or piece.kind != panel.KEY or not piece.measures.get("rough"):
        return piece
    moved = on_sheet(piece.measures, sheet, short, catalogue)
    return replace(piece, measures=moved) if moved else piece


def on_sheet(
    measures: dict[str, Any], sheet: SheetType, short: Collection[int], catalogue: Catalogue
) -> dict[str, Any] | None:
    """A rough panel's measures on another type; None where it does not lie on one of those that are short, or where so
    many cells would be another size."""
    was = rough_fit(measures, catalogue).sheet
    if was.id not in short or (measures["unit"] == "cells" and _net(was) != _net(sheet)):
        return None
    return {**measures, "sheet": sheet.id}


def _net(sheet: SheetType) -> tuple[object, ...]:
    return sheet.lattice, sheet.pitch_m, sheet.row_pitch_m


def _lines(pieces: Sequence[PieceLike], lines_of: Lines) -> list[StockLine]:
    try:
        return lines_of(pieces)
    except ValueError:  # such a panel can't be made of them: too many cells, no balloon that fits
        return []


def _all_there(lines: list[StockLine], before: list[StockLine]) -> bool:
    """No sheet is short any more, and nothing else is that was not."""
    if any(line.short for line in _sheets(lines)):
        return False
    others = [sum(1 for line in some if line.short and line.need.what != "sheet") for some in (lines, before)]
    return bool(lines) and others[0] <= others[1]


def _cost(lines: Sequence[StockLine], catalogue: Catalogue) -> Decimal:
    costs = {sheet.id: sheet.cost_per_use for sheet in catalogue.sheets}
    return sum((line.need.quantity * costs[line.need.item_id or 0] for line in _sheets(lines)), Decimal(0))
