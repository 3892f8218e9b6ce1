"""A panel of which only the size is known is answered for sheets that are there. Figures by hand: 3 × 2.5 m at 115 mm
from cell to cell is 26 wide, 22 high, six sheets of 12 by 12."""

from decimal import Decimal

import pytest

from inventory.models import Sheet
from jobs.designs.catalogue import catalogue_now
from jobs.designs.fits import rough_fit
from jobs.designs.models import Piece
from jobs.desk import booking, drafts
from tests.jobs.desk.asking import fill_store, hire, piece, stock
from tests.jobs.desk.conftest import coming
from tests.jobs.desk.test_answer import ask, row


@pytest.fixture
def crew(studio):
    return hire()


def small_net(pieces: int, **more: object) -> Sheet:
    net = Sheet.objects.create(**{
        "kind": "sheet", "name": "Net 12 by 12", "rows": 12, "columns": 12, "pitch_m": 0.115, "sized_diameter_m": 0.119,
        "lattice": "square", "tabs_per_side": 12, "tabs_per_end": 12, "pack_price": Decimal(60), "uses": 6,
        "returnable": True, "lead_days": 8, **more,
    })  # fmt: skip
    stock(net, pieces, coming(0))
    return net


def test_other_sheets_that_are_there_say_yes(crew):
    fill_store(coming(0), sheets=1)
    small_net(6)
    for days in (30, 4):  # with time to buy, and too late for it
        answer = ask(days=days)
        assert answer.verdict == "You can take it"
        assert row(answer, "Sheets").stands == "6 needed, 6 free"
        assert row(answer, "Sheets").small == (
            "of 6 Net 12 by 12; costs more, but 1 of Net 13 wide, 22 high would be short"
        )


def test_the_cheaper_ones_are_taken_where_they_are_there(crew):
    fill_store(coming(0), sheets=2)
    small_net(6)
    answer = ask()
    assert answer.verdict == "You can take it"
    assert row(answer, "Sheets").small == "of 2 Net 13 wide, 22 high"


def test_sheets_that_are_short_as_well_change_nothing(crew):
    fill_store(coming(0), sheets=1)
    small_net(5)
    assert ask().verdict.startswith("You can, if 1 more of Net 13 wide, 22 high is ordered")


def test_of_two_that_are_there_the_cheaper(crew):
    fill_store(coming(0), sheets=1)
    small_net(12, name="Dear net", pack_price=Decimal(90))
    small_net(12)
    assert "Net 12 by 12" in row(ask(), "Sheets").small


def test_so_many_cells_are_another_size_on_another_net(crew):
    fill_store(coming(0), sheets=1)
    small_net(12)
    cells = piece(measures={"width": 26, "height": 22, "unit": "cells"})
    assert ask(cells).verdict.startswith("You can, if 1 more of Net 13 wide, 22 high is ordered")


def test_no_balloon_may_be_short_for_it(crew):
    """On the other net 26 by 22 cells take 572 balloons and 4 % spares: 595, seventy more than the others."""
    fill_store(coming(0), sheets=1, sky=594)
    small_net(6)
    assert ask().verdict.startswith("You can, if 1 more of Net 13 wide, 22 high is ordered")
    assert ask(piece(measures={"colours": []})).verdict == "You can take it", "open colours, of which there is enough"


def test_the_event_is_booked_on_the_sheets_of_the_answer(planner, crew, ann, hall):
    fill_store(coming(0), sheets=1)
    net = small_net(6)
    draft = drafts.draft_start(user=planner, purpose="ask")
    when = {"date": coming().isoformat(), "load_in": "14:00", "doors": "17:00", "ends": "23:00", "strike": "23:30"}
    drafts.draft_save(draft=draft, client={"id": ann.pk}, venue={"id": hall.pk}, when=when, what=[piece()])
    event = booking.event_book(draft=draft)
    made = Piece.objects.get(event=event)
    # What the event's estimate is worked out from, and with it what is held for it.
    fit = rough_fit(made.measures, catalogue_now())
    assert (fit.sheet.id, fit.sheets) == (net.pk, 6)
    assert booking.event_book(draft=draft) == event, "a second tap"
