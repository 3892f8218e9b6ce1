"""An event with a picture panel and two columns, estimated and ready for a proof."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from django.utils import timezone

from decor.calc.picture.chart import Chart
from decor.calc.picture.lattice import Lattice
from inventory.models import Latex, Sheet
from jobs.clients.models import Client as Customer
from jobs.designs.charting import cells_bytes
from jobs.designs.models import Panel, Piece
from jobs.estimates.services import estimate_now
from jobs.events.models import Event, Venue
from jobs.money.offers import offer_of
from jobs.proofs.collect import draft_of
from jobs.proofs.models import Proof, ProofLink
from jobs.proofs.services import Evidence, proof_answer, proof_issue, proof_link_make
from tests.jobs.designs.conftest import latex, sheets, stocked

__all__ = ["latex", "sheets", "stocked"]


def months_ahead() -> datetime:
    return timezone.now().astimezone(UTC).replace(hour=16, minute=0, second=0, microsecond=0) + timedelta(days=60)


def make_event(title: str = "Harbour library centenary") -> Event:
    doors = months_ahead()
    return Event.objects.create(
        title=title,
        client=Customer.objects.create(name="Quayside Library Friends", email="friends@quayside.example"),
        venue=Venue.objects.create(name="Quay Hall", address="1 Quay Street", time_zone="Europe/Dublin"),
        load_in=doors - timedelta(hours=8),
        doors=doors,
        ends=doors + timedelta(hours=6),
        strike=doors + timedelta(hours=7),
    )


def make_panel(event: Event, sheet: Sheet, latex: dict[str, Latex]) -> Piece:
    """26 wide, 22 high: navy sea under a sky, a red tower of 4 × 10, and 12 cells left empty."""
    cells = np.zeros((22, 26), dtype=int)
    cells[18:] = 1
    cells[8:18, 11:15] = 2
    cells[0, :12] = -1
    piece = Piece.objects.create(event=event, kind="panel", title="Lighthouse picture", position=0)
    lattice = Chart(cells, _lattice(sheet, 22, 26))
    Panel.objects.create(
        piece=piece,
        sheet=sheet,
        rows=22,
        columns=26,
        palette=[latex[name].pk for name in ("sky", "navy", "red")],
        cells=cells_bytes(lattice),
    )
    return piece


def _lattice(sheet: Sheet, rows: int, columns: int):
    return Lattice(sheet.lattice, rows, columns, sheet.pitch_m, sheet.row_pitch_m)


SKY_CELLS = 22 * 26 - 4 * 26 - 40 - 12
COUNTS = {"Sky": SKY_CELLS, "Navy": 4 * 26, "Red": 40}


def make_columns(event: Event) -> Piece:
    return Piece.objects.create(
        event=event,
        kind="column",
        title="Spiral columns",
        count=2,
        position=1,
        measures={
            "rough": True,
            "height": 1.8,
            "unit": "m",
            "balloons": 4,
            "pattern": "spiral",
            "colours": ["red", "white"],
        },
    )


@pytest.fixture
def event(studio, sheets, stocked) -> Event:
    found = make_event()
    make_panel(found, sheets["large"], stocked)
    make_columns(found)
    return found


def issue(event: Event, by=None, **changes: object) -> Proof:
    estimate_now(event=event)
    draft = draft_of(event)
    assert not draft.lacks, draft.lacks
    given = {"offer": offer_of(draft.estimate), "estimate": draft.estimate, "pieces": draft.shown(), "by": by}
    given["valid_until"] = timezone.localdate(timezone=event.zone) + timedelta(days=14)
    return proof_issue(event=event, **(given | changes))


@pytest.fixture
def proof(event, planner) -> Proof:
    return issue(event, planner)


@pytest.fixture
def link(proof) -> ProofLink:
    return proof_link_make(event=proof.event, recipient="Ada Quill")


def answer(link: ProofLink, version: int = 1, action: str = "approve", name: str = "Ada Quill", comment: str = ""):
    evidence = Evidence(ip="192.0.2.7", agent="phone", locale="en-IE", request_key="k1")
    return proof_answer(link=link, proof_version=version, action=action, name=name, comment=comment, evidence=evidence)
