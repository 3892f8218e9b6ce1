"""What the next version of a proof would show, gathered from the event's pieces as they stand now."""

import re
from collections import Counter
from dataclasses import dataclass, replace
from html import escape

from decor.calc.inputs import PieceInput
from decor.calc.pieces.needs import PieceNeeds
from jobs.designs.catalogue import Catalogue, catalogue_now
from jobs.designs.charting import chart_of, palette_of
from jobs.designs.kinds import all_kinds
from jobs.designs.models import Panel, Piece
from jobs.designs.raster import balloons_jpeg
from jobs.estimates.inputs import Background, background_now, piece_input
from jobs.estimates.models import Estimate
from jobs.estimates.services import estimate_is_current, finished_estimate
from jobs.events.models import ENDED, Event
from jobs.proofs.payload import Colour, Picture, ShownPiece
from jobs.proofs.words import size_words

WIDTH_PX = 1200
MOST_HEIGHT_PX = 2400
OPEN_COLOUR = "Colour still open"
NO_COLOUR_RGB = (216, 210, 196)


@dataclass(frozen=True)
class Draft:
    """The next version before it is issued. `lacks` says what must be done first, `notes` what the client would
    still see as open. Its estimate is of exactly these pieces, so that pictures and price belong together."""

    pieces: tuple[Piece, ...]
    inputs: tuple[PieceInput, ...]
    background: Background
    estimate: Estimate | None
    lacks: tuple[str, ...]
    notes: tuple[str, ...]

    def shown(self) -> list[ShownPiece]:
        """Draws every picture, so call it outside a transaction."""
        return [replace(fact, picture=_picture(piece, self.background.catalogue)) for piece, fact in self.facts()]

    def facts(self) -> list[tuple[Piece, ShownPiece]]:
        """Sizes, colours and counts of each piece; nothing is drawn."""
        return [
            (piece, _facts(given, given.measures.needs(self.background.rates), self.background.catalogue))
            for piece, given in zip(self.pieces, self.inputs, strict=True)
        ]


def draft_of(event: Event) -> Draft:
    background = background_now()
    catalogue, pieces = background.catalogue, _pieces(event)
    inputs: list[PieceInput] = []
    lacks: list[str] = [] if pieces else ["The event has no piece yet."]
    for piece in pieces:
        try:
            inputs.append(piece_input(piece, catalogue))
        except ValueError as refusal:
            lacks.append(str(refusal))
    estimate = finished_estimate(event)
    if not lacks and (said := _estimate_lacks(estimate, background, pieces)):
        lacks.append(said)
    if event.stage in ENDED:
        lacks.append(f"The event is {event.stage}.")
    notes = tuple(note for piece in pieces if (note := _note(piece)))
    return Draft(tuple(pieces), tuple(inputs), background, estimate, tuple(lacks), notes)


# What no hand and no hour can mend: it is not offered to a client. A late day or a narrow door can still be settled.
IMPOSSIBLE = frozenset({"no-lift", "float-time", "ceiling"})


def _estimate_lacks(estimate: Estimate | None, background: Background, pieces: list[Piece]) -> str:
    if estimate is None:
        return "There is no finished estimate yet."
    if not estimate_is_current(estimate, background, pieces):
        return "Something has changed since the estimate; it must be worked out anew."
    problems = [problem for problem in (estimate.result or {}).get("problems", []) if problem["key"] in IMPOSSIBLE]
    return f"As entered it won't work. {problems[0]['says']}." if problems else ""


def _note(piece: Piece) -> str:
    if piece.kind == "panel" and _panel(piece) is None:
        return f"{piece.title} has no picture yet."
    return ""


def picture_of(piece: Piece) -> Picture | None:
    """As the next version would show it."""
    return _picture(piece, catalogue_now())


def _pieces(event: Event) -> list[Piece]:
    return list(Piece.objects.filter(event=event).select_related("panel", "event__venue"))


def _panel(piece: Piece) -> Panel | None:
    return getattr(piece, "panel", None)


def _facts(piece: PieceInput, needs: PieceNeeds, catalogue: Catalogue) -> ShownPiece:
    return ShownPiece(
        title=piece.title,
        count=piece.count,
        size=size_words(
            width_m=needs.width_m,
            height_m=needs.height_m,
            count=piece.count,
            imperial=catalogue.units == "imperial",
        ),
        balloons=needs.balloons * piece.count,
        colours=_colours(needs, piece.count, catalogue),
        picture=None,
    )


def _colours(needs: PieceNeeds, count: int, catalogue: Catalogue) -> tuple[Colour, ...]:
    """One entry a colour: the same colour in two sizes is one swatch to the client."""
    totals: Counter[tuple[str, str]] = Counter()
    for need in needs.latex:
        item = catalogue.balloon(need.key)
        key = (item.words.capitalize(), item.rgb.upper()) if item else (OPEN_COLOUR, "")
        totals[key] += need.quantity * count
    return tuple(Colour(name, rgb, number) for (name, rgb), number in totals.items())


def _picture(piece: Piece, catalogue: Catalogue) -> Picture | None:
    panel = _panel(piece)
    sheet = catalogue.sheet(panel.sheet_id) if panel else None
    if panel is not None and sheet is not None:
        return _photo(panel, catalogue)
    return _drawing(all_kinds()[piece.kind].drawing(piece, catalogue), piece.title)


def _photo(panel: Panel, catalogue: Catalogue) -> Picture:
    """A panel as a picture file: what was approved must look the same in any browser, in years."""
    sheet = catalogue.sheet(panel.sheet_id)
    assert sheet is not None
    chart = chart_of(panel, sheet)
    aspect = chart.lattice.height_m / chart.lattice.width_m
    width = max(1, round(min(WIDTH_PX, MOST_HEIGHT_PX / aspect)))
    palette = [_rgb(item.rgb) if item else NO_COLOUR_RGB for item in palette_of(panel, catalogue)]
    return Picture("image/jpeg", balloons_jpeg(chart, palette, width), width, round(width * aspect))


def _rgb(words: str) -> tuple[int, int, int]:
    red, green, blue = bytes.fromhex(words.removeprefix("#"))
    return red, green, blue


BOX = re.compile(r'viewBox="\S+ \S+ ([0-9.]+) ([0-9.]+)"')


def _drawing(svg: str, title: str) -> Picture | None:
    """A kind's own drawing, made to stand alone as a file."""
    text = str(svg)
    box = BOX.search(text)
    if box is None:
        return None
    across, down = float(box[1]), float(box[2])
    height = round(min(WIDTH_PX * down / across, MOST_HEIGHT_PX))
    width = max(1, round(height * across / down))
    head, rest = text.split(">", 1)
    head = re.sub(r'\s(?:xmlns|width|height)="[^"]*"', "", head)
    alone = f'{head} xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}">'
    return Picture("image/svg+xml", f"{alone}<title>{escape(title)}</title>{rest}".encode(), width, height)
