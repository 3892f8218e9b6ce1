"""A client, a venue and an event to book, change and look at; days are counted from today, as the past is refused."""

from datetime import date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from inventory.models import Latex, Sheet
from jobs.clients.models import Client
from jobs.designs.models import Piece
from jobs.events.models import Event, Venue

DUBLIN = ZoneInfo("Europe/Dublin")


def coming(days: int = 30) -> date:
    return date.today() + timedelta(days=days)


def at(day: date, hour: int, minute: int = 0, zone: ZoneInfo = DUBLIN) -> datetime:
    return datetime.combine(day, time(hour, minute), tzinfo=zone)


@pytest.fixture
def ann(db) -> Client:
    return Client.objects.create(name="Ann Reed", organisation="Harbour Library", phone="01632 960 220")


@pytest.fixture
def hall(db) -> Venue:
    return Venue.objects.create(
        name="Quay Hall", address="1 The Quay", drive_minutes=25, distance_km=18, time_zone="Europe/Dublin"
    )


@pytest.fixture
def stock(db) -> tuple[Sheet, Latex]:
    sheet = Sheet.objects.create(
        kind="sheet", name="Sheet 13 × 22", rows=22, columns=13, pitch_m=0.119, sized_diameter_m=0.119,
        lattice="offset", tabs_per_side=22, tabs_per_end=13, pack_price=Decimal("12"), uses=3, returnable=True,
    )  # fmt: skip
    sky = Latex.objects.create(
        kind="latex",
        name="5 in sky",
        nominal_in=5,
        colour="sky",
        rgb="#7db3d8",
        pack_size=100,
        pack_price=Decimal("6.20"),
    )
    return sheet, sky


def make_event(client: Client, venue: Venue, day: date | None = None, **given: object) -> Event:
    day = day or coming()
    zone = venue.zone
    values = {
        "title": "Harbour library centenary",
        "load_in": at(day, 14, zone=zone),
        "doors": at(day, 17, zone=zone),
        "ends": at(day, 22, zone=zone),
        "strike": at(day, 22, 30, zone=zone),
    }
    return Event.objects.create(client=client, venue=venue, **{**values, **given})


@pytest.fixture
def event(ann, hall) -> Event:
    return make_event(ann, hall)


ROUGH_PANEL = {
    "rough": True, "width": 3.0, "height": 2.5, "unit": "m", "loading": "paired", "colours": [],
}  # fmt: skip


@pytest.fixture
def panel(event, stock) -> Piece:
    return Piece.objects.create(event=event, kind="panel", title="Lighthouse panel", measures=ROUGH_PANEL)
