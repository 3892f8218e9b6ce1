"""Whom the invented studio works for, where, and what they want."""

from dataclasses import dataclass, field
from datetime import time
from typing import Any

from jobs.clients.models import Client
from jobs.clients.services import client_add
from jobs.events.models import Venue
from jobs.events.services import venue_add
from jobs.management.demo import pictures

ZONE = "Europe/Dublin"


@dataclass(frozen=True)
class Job:
    title: str
    client: Client
    venue: Venue
    in_days: int
    doors: time
    pieces: list[dict[str, Any]]
    hours: float = 5
    load_in_hours: float = 4
    panels: dict[str, tuple[bytes, str, int, int, list[str]]] = field(default_factory=dict)


def piece(kind: str, title: str, count: int = 1, built_at: str = "workshop", **measures: Any) -> dict[str, Any]:
    given = {"rough": True, "colours": [], **measures}
    return {"kind": kind, "title": title, "count": count, "built_at": built_at, "fill": "air", "measures": given}


def column(title: str, count: int, height: float, *colours: str, pattern: str = "spiral") -> dict[str, Any]:
    measures = {"height": height, "unit": "m", "balloons": 4, "pattern": pattern}
    return piece("column", title, count, **measures, colours=list(colours))


def panel(title: str, width: float, height: float, *colours: str, loading: str = "paired") -> dict[str, Any]:
    measures = {"width": width, "height": height, "unit": "m", "loading": loading}
    return piece("panel", title, **measures, colours=list(colours))


def clients() -> dict[str, Client]:
    return {
        "library": client_add(
            name="Maren Holt", organisation="Harbour Library", phone="01632 960 441", email="maren@harbour.example"
        ),
        "school": client_add(name="Tomas Vale", organisation="Ashdown School", phone="01632 960 442", email=""),
        "shop": client_add(name="Ines Fern", organisation="", phone="01632 960 443", email="ines@fernstreet.example"),
        "choir": client_add(name="Bea Lark", organisation="Tidewick Choir", phone="01632 960 444", email=""),
        "sailing": client_add(name="Joss Keel", organisation="Sailing Club", phone="01632 960 445", email=""),
    }


def venues() -> dict[str, Venue]:
    def add(name: str, **facts: Any) -> Venue:
        return venue_add(venue=Venue(name=name, time_zone=ZONE, **facts))

    return {
        "quay": add(
            "Quay Hall",
            address="2 Quay Street\nTidewick",
            access="Side door on Cooper Lane, two steps. Van may stand there for 30 minutes. Ring Sam for the lift.",
            contact_name="Sam Orr",
            contact_phone="01632 960 210",
            ceiling_m=6.5,
            drive_minutes=25,
            distance_km=14,
            cautions="Heat detectors along the middle beam: keep two metres clear.",
        ),
        "school": add(
            "Ashdown School",
            address="Ashdown Road, Tidewick",
            access="Report to the office. Gym doors are 1.8 m wide.",
            contact_name="Office",
            contact_phone="01632 960 211",
            ceiling_m=5,
            drive_minutes=15,
            distance_km=7,
        ),
        "shop": add(
            "18 Fern Street",
            address="18 Fern Street, Tidewick",
            access="Street door, no parking before 9.",
            contact_name="Ines Fern",
            contact_phone="01632 960 443",
            ceiling_m=3.2,
            drive_minutes=10,
            distance_km=4,
        ),
        "boats": add(
            "Boathouse lawn",
            address="Slip Road, Tidewick",
            access="Grass, dry only. Power from the boathouse.",
            contact_name="Joss Keel",
            contact_phone="01632 960 445",
            indoors=False,
            drive_minutes=35,
            distance_km=22,
            cautions="Windy from midday. Nothing may fly off over the water.",
        ),
    }


def jobs_of(who: dict[str, Client], where: dict[str, Venue]) -> dict[str, Job]:
    sea = ["white", "red", "navy", "sky", "yellow", "green", "black"]
    return {
        "opening": Job(
            "Fern Street opening",
            who["shop"],
            where["shop"],
            1,
            time(14, 0),
            [panel("Kite panel", 1.84, 1.84)],
            panels={
                "Kite panel": (
                    pictures.kite(),
                    "Net 8 by 8",
                    16,
                    16,
                    ["white", "red", "yellow", "navy", "green", "black"],
                )
            },
        ),
        "school": Job(
            "Ashdown school fair",
            who["school"],
            where["school"],
            6,
            time(13, 0),
            [column("Doorway columns", 2, 2.1, "red", "white", "blue")],
        ),
        "library": Job(
            "Harbour library centenary",
            who["library"],
            where["quay"],
            17,
            time(17, 0),
            [panel("Lighthouse panel", 3.3, 2.6, *sea), column("Spiral columns", 2, 1.8, "red", "white", "navy")],
            panels={"Lighthouse panel": (pictures.lighthouse(), "Net 13 wide, 22 high", 22, 26, sea)},
        ),
        "regatta": Job(
            "Regatta prize-giving",
            who["sailing"],
            where["boats"],
            17,
            time(18, 0),
            [column("Lawn columns", 4, 1.8, "navy", "white")],
        ),
        "choir": Job("Choir jubilee", who["choir"], where["quay"], 31, time(19, 30), [panel("Name panel", 2.4, 1.2)]),
    }


def past_jobs(who: dict[str, Client], where: dict[str, Venue]) -> dict[str, Job]:
    return {
        "autumn": Job(
            "Harvest supper",
            who["choir"],
            where["school"],
            -45,
            time(18, 0),
            [column("Door columns", 2, 2.1, "orange", "yellow")],
        ),
        "last": Job(
            "Winter market",
            who["sailing"],
            where["quay"],
            -8,
            time(11, 0),
            [column("Stall columns", 2, 1.8, "green", "red")],
        ),
    }
