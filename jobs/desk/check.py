"""The last screen of a booking: every answer once more, in words."""

from dataclasses import dataclass
from typing import Any

from decor.studio.templatetags.desk import clock, day, in_zone, plural
from jobs.designs.kinds import kind_of
from jobs.desk import drafts
from jobs.desk.models import BookingDraft
from jobs.events.models import Venue
from jobs.events.times import Span


@dataclass(frozen=True)
class Line:
    what: str
    stands: str
    lines: tuple[str, ...]
    url: str


def check_rows(draft: BookingDraft) -> list[Line]:
    """Of a draft with nothing missing."""
    client, venue = drafts.draft_client(draft), drafts.draft_venue(draft)
    span = drafts.draft_span(draft, venue)
    reached = " · ".join(part for part in (client.phone, client.email) if part)
    who = tuple(part for part in (client.organisation, reached) if part)
    return [
        Line("Who", client.name, who, "jobs:book-who"),
        Line("Where", venue.name, _place(venue), "jobs:book-where"),
        _when(span, venue),
        _what(drafts.draft_pieces(draft)),
    ]


def _place(venue: Venue) -> tuple[str, ...]:
    stands = "indoors" if venue.indoors else "outdoors"
    way = f"{stands}, {venue.drive_minutes} min drive, {venue.distance_km:g} km"
    return tuple(part for part in (", ".join(venue.address.splitlines()), way) if part)


def _when(span: Span, venue: Venue) -> Line:
    local = {name: in_zone(at, venue.zone) for name, at in vars(span).items()}
    doors = local["doors"]
    lines = [_moment("Load-in", local["load_in"], doors), _moment("doors", doors, doors)]
    lines.append(f"{_moment('Ends', local['ends'], doors)}, {_moment('strike', local['strike'], local['ends'])}")
    return Line("When", day(doors), (f"{lines[0]}, {lines[1]}", lines[2]), "jobs:book-when")


def _moment(word: str, at: Any, beside: Any) -> str:
    """The day only where it is another one than that of what stands beside it."""
    return f"{word} {clock(at)}" if at.date() == beside.date() else f"{word} {day(at)}, {clock(at)}"


def _several(piece: dict[str, Any]) -> str:
    return f"{piece['count']} × " if piece["count"] > 1 else ""


def _what(pieces: list[dict[str, Any]]) -> Line:
    if not pieces:
        return Line("What", "Not known yet", (), "jobs:book-what")
    words = [f"{_several(p)}{p['title']}, {kind_of(p['kind']).rough_words(p['measures'])}" for p in pieces]
    count = plural(sum(p["count"] for p in pieces), "piece,pieces")
    return Line("What", count, tuple(words), "jobs:book-what")
