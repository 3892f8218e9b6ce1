"""What one crew member needs for one event: plain words and drawings only. No row of a table goes to the page, so
that no wage, cost or price can."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import quote

from django.utils import timezone
from django.utils.safestring import SafeString

from decor.studio.templatetags.desk import day_words, plural
from jobs.crew.capacity import CALLED_OFF
from jobs.crew.models import Shift
from jobs.crew.skills import WORDS
from jobs.crew.words import dial, span_words
from jobs.day.work import Step, cautions_of, codes_caution, moment_words, needs_of, order_of_work
from jobs.designs.catalogue import Catalogue, catalogue_now
from jobs.designs.kinds import all_kinds
from jobs.designs.models import Piece
from jobs.events.models import Event, Venue


@dataclass(frozen=True)
class Phone:
    name: str
    number: str

    @property
    def dial(self) -> str:
        return dial(self.number)


@dataclass(frozen=True)
class OwnShift:
    when: str
    task: str
    note: str
    leads: bool


@dataclass(frozen=True)
class Moment:
    what: str
    clock: str
    day: str


@dataclass(frozen=True)
class SheetPiece:
    title: str
    size: str
    count: str
    build: str
    colours: str
    drawing: SafeString | None


@dataclass(frozen=True)
class Place:
    name: str
    address: str
    map_link: str
    access: str
    contact: Phone | None
    mind: str
    zone: str


@dataclass(frozen=True)
class DaySheet:
    event_id: int
    number: str
    title: str
    day: str
    called_off: str
    name: str
    shifts: tuple[OwnShift, ...]
    leads: tuple[Phone, ...]
    place: Place
    moments: tuple[Moment, ...]
    pieces: tuple[SheetPiece, ...]
    steps: tuple[Step, ...]
    cautions: tuple[str, ...]
    codes: str

    @property
    def leading(self) -> bool:
        return any(shift.leads for shift in self.shifts)


def day_sheet(event: Event, member_id: int | None) -> DaySheet:
    """`member_id` None shows the sheet without anybody's own times. `event` comes with its venue."""
    catalogue = catalogue_now()
    pieces = list(Piece.objects.filter(event=event).select_related("panel", "event__venue"))
    needs = needs_of(pieces, catalogue)
    rows = Shift.objects.filter(event=event, member=member_id) if member_id else Shift.objects.none()
    own = list(rows.values_list("starts", "ends", "task", "note"))
    name = rows.values_list("member__name", flat=True).first() or ""
    return DaySheet(
        event_id=event.pk,
        number=event.number,
        title=event.title,
        day=day_words(timezone.localtime(event.doors, event.zone), year=True),
        called_off=event.stage if event.stage in CALLED_OFF else "",
        name=name,
        shifts=tuple(_own(event, *row) for row in own),
        leads=_leads(event),
        place=_place(event.venue),
        moments=_moments(event),
        pieces=tuple(_piece(piece, catalogue) for piece in pieces),
        steps=tuple(order_of_work(event, pieces, needs)),
        cautions=tuple(cautions_of(event, pieces, needs)),
        codes=codes_caution(),
    )


def _own(event: Event, starts: datetime, ends: datetime, task: str, note: str) -> OwnShift:
    return OwnShift(span_words(starts, ends, event.zone), WORDS[task], note, task == "lead")


def _leads(event: Event) -> tuple[Phone, ...]:
    rows = Shift.objects.filter(event=event, task="lead").values_list("member__name", "member__phone")
    return tuple(dict.fromkeys(Phone(*row) for row in rows))


def _place(venue: Venue) -> Place:
    contact = Phone(venue.contact_name or "On site", venue.contact_phone)
    return Place(
        name=venue.name,
        address=venue.address,
        map_link=_map_link(f"{venue.name}, {' '.join(venue.address.split())}") if venue.address.strip() else "",
        access=venue.access,
        contact=contact if venue.contact_name or venue.contact_phone else None,
        mind=venue.cautions,
        zone=venue.time_zone.replace("_", " "),
    )


def _map_link(words: str) -> str:
    """RFC 5870 with the address to look for, as nobody enters a venue's degrees; phones open their own map."""
    return f"geo:0,0?q={quote(words)}"


def _moments(event: Event) -> tuple[Moment, ...]:
    names = [("Load-in", event.load_in), ("Doors", event.doors), ("End", event.ends), ("Strike", event.strike)]
    doors = timezone.localtime(event.doors, event.zone).date()
    return tuple(
        Moment(what, moment_words(at, event), "" if local.date() == doors else day_words(local))
        for what, at in names
        for local in [timezone.localtime(at, event.zone)]
    )


def _piece(piece: Piece, catalogue: Catalogue) -> SheetPiece:
    kind = all_kinds().get(piece.kind)
    fill = "helium" if piece.fill == Piece.Fill.HELIUM else "air"
    size, colours, drawing = "", "", None
    if kind is not None:
        try:
            size = kind.words(piece, catalogue)
            colours = _colours(kind.counts(piece, catalogue), piece.count)
            drawing = kind.drawing(piece, catalogue)
        except ValueError:
            # A rough piece that cannot be worked out yet is still to be carried: its title stays.
            drawing = None
    return SheetPiece(
        title=piece.title,
        size=size,
        count=f"{piece.count} alike" if piece.count > 1 else "",
        build=f"built at the {piece.built_at}, {fill}",
        colours=colours,
        drawing=drawing,
    )


def _colours(counts: Sequence[tuple], count: int) -> str:
    words = [f"{number * count:,} {item.words if item else 'of an open colour'}" for item, number in counts]
    total = plural(sum(number for _, number in counts) * count, "balloon,balloons")
    return f"{total}: {', '.join(words)}" if words else ""
