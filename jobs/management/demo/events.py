"""A few weeks of invented work, made by the same services that the screens call."""

from dataclasses import dataclass, field
from datetime import datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from decor.studio.models import User
from inventory.services import Shortage
from jobs.clients.models import Client
from jobs.clients.services import client_add
from jobs.crew.models import Member
from jobs.crew.services import shift_add
from jobs.designs.catalogue import catalogue_now
from jobs.designs.charting import chart_from_picture
from jobs.designs.fits import Fit
from jobs.designs.images import read_picture
from jobs.designs.measured import Charted, Measured
from jobs.designs.models import Piece
from jobs.designs.services import piece_measure, pieces_from_rough
from jobs.desk.services import event_confirm, event_hold
from jobs.estimates.services import estimate_now
from jobs.events.models import Event, Stage, Venue
from jobs.events.services import event_add, event_stage_set, venue_add
from jobs.events.times import Span
from jobs.management.demo import pictures
from jobs.money.offers import offer_of
from jobs.proofs.collect import draft_of
from jobs.proofs.models import Proof, ProofLink
from jobs.proofs.services import Evidence, proof_answer, proof_issue, proof_link_make

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
        "last": Job(
            "Winter market",
            who["sailing"],
            where["quay"],
            -8,
            time(11, 0),
            [column("Stall columns", 2, 1.8, "green", "red")],
        ),
    }


def _book(job: Job, now: datetime) -> Event:
    day = (now + timedelta(days=job.in_days)).astimezone(ZoneInfo(ZONE)).date()
    doors = datetime.combine(day, job.doors, tzinfo=ZoneInfo(ZONE))
    ends = doors + timedelta(hours=job.hours)
    span = Span(doors - timedelta(hours=job.load_in_hours), doors, ends, ends + timedelta(minutes=30))
    event = event_add(title=job.title, client=job.client, venue=job.venue, span=span)
    for made in pieces_from_rough(event, job.pieces):
        if made.title in job.panels:
            _chart(made, *job.panels[made.title])
    return event


def _chart(made: Piece, data: bytes, sheet_name: str, rows: int, columns: int, colours: list[str]) -> None:
    catalogue = catalogue_now()
    sheet = next(s for s in catalogue.sheets if s.name == sheet_name)
    items = [item for item in catalogue.fitting(sheet.sized_diameter_m, "round") if item.words in colours]
    picture = read_picture(data)
    charted = Charted(
        sheet_id=sheet.id,
        loading="paired",
        palette=tuple(item.id for item in items),
        chart=chart_from_picture(picture.data, Fit(sheet, rows, columns), items, stock=None),
        picture=picture,
        picture_name=f"{made.title}.png",
    )
    measures = {"width": columns, "height": rows, "unit": "cells", "loading": "paired", "sheet": sheet.id}
    measured = Measured({**measures, "within_stock": False}, charted)
    piece_measure(piece=made, version=made.version, panel_version=0, measured=measured)


def _prove(event: Event, by: User, recipient: str) -> tuple[Proof, ProofLink]:
    estimate, draft = estimate_now(event=event), draft_of(event)
    doors = event.doors.astimezone(ZoneInfo(ZONE)).date()
    proof = proof_issue(
        event=event, offer=offer_of(estimate), estimate=estimate, pieces=draft.shown(), valid_until=doors, by=by
    )
    link = ProofLink.objects.filter(event=event).first() or proof_link_make(event=event, recipient=recipient)
    event.refresh_from_db()
    return proof, link


def _answer(proof: Proof, link: ProofLink, action: str, comment: str = "") -> None:
    name = proof.event.client.name
    proof_answer(link=link, proof_version=proof.version, action=action, name=name, comment=comment, evidence=Evidence())


def _shifts(event: Event, before_h: float, *people: tuple[str, str]) -> None:
    for name, task in people:
        starts = event.load_in - timedelta(hours=before_h)
        shift_add(
            event=event,
            member=Member.objects.get(name=name),
            task=task,
            starts=starts,
            ends=event.doors + timedelta(minutes=15),
            anyway=True,
        )


def work(now: datetime, users: dict[str, User]) -> None:
    """Each event stands at another point between the first call and the day."""
    planner, plans = users["pat"], jobs_of(clients(), venues())
    events = {key: _book(job, now) for key, job in plans.items()}
    for key in ("opening", "school"):
        proof, link = _prove(events[key], planner, events[key].client.name)
        _answer(proof, link, "approve")
        event_confirm(event=Event.objects.get(pk=events[key].pk))
    event_stage_set(event=events["opening"], stage=Stage.IN_PRODUCTION, allowed=(Stage.CONFIRMED,))
    # What is over needs no proof any more.
    estimate_now(event=events["last"])
    event_stage_set(event=event_confirm(event=events["last"]), stage=Stage.STRUCK, allowed=(Stage.CONFIRMED,))
    library = events["library"]
    proof, link = _prove(library, planner, "Maren Holt")
    _answer(proof, link, "change", "Could the sea be a little higher on the left?")
    _prove(library, planner, "Maren Holt")
    try:
        event_hold(event=library)
    except Shortage:
        event_hold(event=library, partly=True)
    estimate_now(event=events["regatta"])
    _shifts(events["opening"], 2, ("Olive Marsh", "lead"), ("Cory Sedge", "rig"), ("Drew Heron", "load"))
    _shifts(events["school"], 1, ("Pat Reed", "lead"), ("Cory Sedge", "drive"))
    _shifts(library, 3, ("Olive Marsh", "lead"), ("Cory Sedge", "rig"))
