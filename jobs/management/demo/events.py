"""A few weeks of invented work, made by the same services that the screens call."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from decor.studio.models import User
from decor.studio.pictures import read_picture
from inventory.services import Shortage
from jobs.crew.models import Member
from jobs.crew.services import shift_add
from jobs.designs.catalogue import catalogue_now
from jobs.designs.measured import Measured
from jobs.designs.models import Piece
from jobs.designs.pictures.making import made
from jobs.designs.pictures.recipe import Recipe
from jobs.designs.services import piece_measure, pieces_from_rough
from jobs.desk.services import event_confirm, event_hold
from jobs.estimates.services import estimate_now
from jobs.events.models import Event, Stage
from jobs.events.services import event_add, event_stage_set
from jobs.events.times import Span
from jobs.management.demo.plans import ZONE, Job, clients, jobs_of, past_jobs, venues
from jobs.management.demo.store_work import counted_back, picked
from jobs.money.offers import offer_of
from jobs.proofs.collect import draft_of
from jobs.proofs.models import Proof, ProofLink
from jobs.proofs.services import Evidence, proof_answer, proof_issue, proof_link_make


def _book(job: Job, now: datetime) -> Event:
    day = (now + timedelta(days=job.in_days)).astimezone(ZoneInfo(ZONE)).date()
    doors = datetime.combine(day, job.doors, tzinfo=ZoneInfo(ZONE))
    ends = doors + timedelta(hours=job.hours)
    span = Span(doors - timedelta(hours=job.load_in_hours), doors, ends, ends + timedelta(minutes=30))
    event = event_add(title=job.title, client=job.client, venue=job.venue, span=span)
    for one in pieces_from_rough(event, job.pieces):
        if one.title in job.panels:
            _chart(one, *job.panels[one.title])
    return event


def _chart(panel: Piece, data: bytes, sheet_name: str, rows: int, columns: int, colours: list[str]) -> None:
    catalogue = catalogue_now()
    sheet = next(s for s in catalogue.sheets if s.name == sheet_name)
    items = [item for item in catalogue.fitting(sheet.sized_diameter_m, "round") if item.words in colours]
    picture = read_picture(data)
    recipe = Recipe(palette=tuple(item.id for item in items), sheet=sheet.id, rows=rows, columns=columns)
    charted = made(recipe, picture.data, catalogue=catalogue, piece=panel).charted(
        picture=picture, picture_name=f"{panel.title}.png"
    )
    measures = {"width": columns, "height": rows, "unit": "cells", "loading": "paired", "sheet": sheet.id}
    measured = Measured({**measures, "within_stock": False}, charted)
    piece_measure(piece=panel, version=panel.version, panel_version=0, measured=measured)


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
    planner, people, places = users["pat"], clients(), venues()
    plans = jobs_of(people, places) | past_jobs(people, places)
    events = {key: _book(job, now) for key, job in plans.items()}
    for key in ("opening", "school"):
        proof, link = _prove(events[key], planner, events[key].client.name)
        _answer(proof, link, "approve")
        event_confirm(event=Event.objects.get(pk=events[key].pk))
    event_stage_set(event=events["opening"], stage=Stage.IN_PRODUCTION, allowed=(Stage.CONFIRMED,))
    # What is over needs no proof any more.
    for key, stage in (("autumn", Stage.CLOSED), ("last", Stage.STRUCK)):
        estimate_now(event=events[key])
        over = event_confirm(event=events[key])
        picked(over, planner, share=1.0)
        if key == "autumn":
            counted_back(over, planner)
        event_stage_set(event=over, stage=stage, allowed=(Stage.CONFIRMED,))
    picked(events["opening"], users["cory"], share=0.5)
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
