"""The event at a glance: each room tells how it stands, and the most urgent gives the page its one act."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import SafeString

from decor.studio.models import Studio
from jobs.crew.rows import PROMISED
from jobs.crew.rows import glance_row as crew_row
from jobs.designs.catalogue import Catalogue
from jobs.designs.kinds import kind_of
from jobs.designs.models import Piece
from jobs.desk.matters import SETTLE_FROM, Line, lines_of
from jobs.desk.stock import stock_row
from jobs.estimates.known import Known
from jobs.estimates.rows import glance_row as price_row
from jobs.events.models import ENDED, Event
from jobs.events.rows import Row
from jobs.proofs.rows import glance_row as proof_row
from jobs.proofs.rows import price_told

ROOMS: tuple[Callable[[Event, Known], Row], ...] = (
    stock_row,
    lambda event, _: crew_row(event),
    proof_row,
    lambda event, known: price_told(event, price_row(event, known)),
)
MONTH_LIST = 30
COLOURS_FIRST = 35


@dataclass(frozen=True)
class DrawnPiece:
    piece: Piece
    words: str
    drawing: SafeString
    balloons: int
    is_open: bool


@dataclass(frozen=True)
class Glance:
    event: Event
    pieces: list[DrawnPiece]
    rows: list[Row]
    act: tuple[str, str] | None
    to_settle: int


def glance_of(event: Event, studio: Studio) -> Glance:
    """`event` comes with its client, venue and reservation. All rooms tell from one reading of it."""
    known = Known(event, studio)
    rows = [row_of(event, known) for row_of in ROOMS]
    pieces = [_drawn(piece, known.background.catalogue) for piece in known.pieces]
    return Glance(
        event=event,
        pieces=pieces,
        rows=rows,
        act=the_act(event, rows, pieces, is_priced=known.finished is not None),
        to_settle=sum(row.urgency >= SETTLE_FROM for row in rows) if event.stage not in ENDED else 0,
    )


def _drawn(piece: Piece, catalogue: Catalogue) -> DrawnPiece:
    kind = kind_of(piece.kind)
    counts = kind.counts(piece, catalogue)
    each = sum(number for _, number in counts)
    is_open = not counts or any(item is None for item, _ in counts)
    return DrawnPiece(piece, kind.words(piece, catalogue), kind.drawing(piece, catalogue), each * piece.count, is_open)


def the_act(event: Event, rows: list[Row], pieces: list[DrawnPiece], *, is_priced: bool) -> tuple[str, str] | None:
    """What is most useful next. Nothing can be priced or held before there is a piece; once it is priced, a piece
    wants its picture and its colours before the client sees a proof or the stock is kept."""
    if event.stage in ENDED:
        return None
    if not pieces:
        return ("Add a piece", reverse("jobs:piece-add", args=[event.pk]))
    most = max((row for row in rows if row.act), key=lambda row: row.urgency, default=None)
    unsettled = next((drawn.piece for drawn in pieces if drawn.is_open), None)
    if unsettled and is_priced and (most is None or most.urgency < COLOURS_FIRST):
        return (kind_of(unsettled.kind).SETTLE, reverse("jobs:piece-measures", args=[event.pk, unsettled.pk]))
    if most:
        return most.act
    # All is settled: what is left is the day itself.
    return ("See the day sheets", reverse("jobs:day-sheet", args=[event.pk])) if event.stage in PROMISED else None


def month_lines(event: Event, now: datetime) -> list[Line]:
    """The events round this one, for the list beside it."""
    doors = timezone.localtime(event.doors, event.zone)
    starts = doors.replace(day=1, hour=0, minute=0)
    ends = (starts.replace(day=28) + timedelta(days=4)).replace(day=1)
    near = Event.objects.filter(doors__gte=starts, doors__lt=ends).select_related("venue", "reservation")[:MONTH_LIST]
    return lines_of(list(near), now)
