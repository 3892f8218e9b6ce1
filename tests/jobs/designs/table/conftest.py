"""A panel of 4 rows and 6 columns on two small sheets, and a crew member with a shift on its event."""

import numpy as np
import pytest

from inventory.models import Item, Sheet
from jobs.crew.models import Member, Shift
from jobs.designs.models import Panel, Piece
from tests.jobs.designs.conftest import event, latex, panel_piece, sheets

__all__ = ["event", "latex", "panel_piece", "sheets"]

CELLS = [
    [0, 0, 1, 1, 1, 0],
    [0, 1, 1, 0, 0, -1],
    [-1, -1, -1, 1, 0, 0],
    [1, 1, 1, 1, 1, 1],
]


@pytest.fixture
def panel(panel_piece, latex) -> Panel:
    net = Sheet.objects.create(
        name="Net 4 × 3", kind=Item.Kind.SHEET, returnable=True, lattice="square", rows=4, columns=3, pitch_m=0.127,
        sized_diameter_m=0.12, pack_price=5,
    )  # fmt: skip
    return Panel.objects.create(
        piece=panel_piece,
        sheet=net,
        rows=4,
        columns=6,
        palette=[latex["sky"].pk, latex["red"].pk],
        cells=np.array(CELLS, dtype="<i2").tobytes(),
    )


@pytest.fixture
def shift(event, crew_user) -> Shift:
    member = Member.objects.create(name="Cory Sedge", user=crew_user, skills=["load"])
    return Shift.objects.create(event=event, member=member, task="load", starts=event.load_in, ends=event.doors)


def table_address(piece: Piece, tail: str = "") -> str:
    return f"/events/{piece.event_id}/pieces/{piece.pk}/table/{tail}"
