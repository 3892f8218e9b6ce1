from datetime import timedelta

import pytest
from django.utils import timezone

from inventory.models import Reservation
from jobs.crew.models import Member, Shift
from jobs.designs.models import Piece
from jobs.desk.matters import lines_of
from jobs.events.models import Event, Stage
from jobs.proofs.models import Proof
from tests.jobs.desk.conftest import ROUGH_PANEL, coming, make_event


def titles(answer) -> list[str]:
    return [line.event.title for line in answer.context["lines"]]


@pytest.fixture
def three(ann, hall) -> None:
    make_event(ann, hall, coming(20), title="Second")
    make_event(ann, hall, coming(10), title="First")
    make_event(ann, hall, coming(-10), title="Over")
    make_event(ann, hall, coming(15), title="Gone elsewhere", stage=Stage.LOST)


def test_coming_first_and_the_past_apart(as_planner, three):
    assert titles(as_planner.get("/events/")) == ["First", "Second"]
    assert titles(as_planner.get("/events/", {"show": "past"})) == ["Over"]


def test_by_stage(as_planner, three):
    assert titles(as_planner.get("/events/", {"stage": "lost"})) == ["Gone elsewhere"]
    assert titles(as_planner.get("/events/", {"stage": "nonsense"})) == ["First", "Second"]


@pytest.mark.parametrize("words", ["second", "reed", "library", "quay"])
def test_by_words(as_planner, three, words):
    assert "Second" in titles(as_planner.get("/events/", {"q": words}))


def test_by_number(as_planner, event):
    assert titles(as_planner.get("/events/", {"q": event.number})) == [event.title]


def test_grouped_by_month_in_the_venues_zone(as_planner, event):
    doors = timezone.localtime(event.doors, event.zone)
    page = as_planner.get("/events/").content.decode()
    assert f"<h2>{doors:%B %Y}</h2>" in page and "doors 17:00" in page and "enquiry" in page


def test_nothing_yet_and_nothing_found_read_differently(as_planner, ann, hall):
    assert "Book the first one" in as_planner.get("/events/").content.decode()
    make_event(ann, hall)
    assert "Clear the search" in as_planner.get("/events/", {"q": "zebra"}).content.decode()


def test_at_most_one_chip_a_row(as_planner, event):
    Event.objects.update(stage=Stage.CONFIRMED)
    page = as_planner.get("/events/").content.decode()
    row = page[page.index(f'href="/events/{event.pk}/"') :]
    assert row[: row.index("</a>")].count('class="state') == 1


def test_who_may_see_it(as_crew, as_nobody):
    assert as_crew.get("/events/").status_code == 403
    assert as_nobody.get("/events/").url.startswith("/sign-in/")


# what is still open


def only(event: Event) -> list[str]:
    return [
        m.words for m in lines_of([Event.objects.select_related("venue").get(pk=event.pk)], timezone.now())[0].matters
    ]


def hold(event, state="hold", hours=72):
    made = Reservation.objects.create(
        label="x", starts=event.load_in, ends=event.strike, state=state,
        expires=timezone.now() + timedelta(hours=hours),
    )  # fmt: skip
    Event.objects.filter(pk=event.pk).update(reservation=made)


def proof(event, state, version=1, days=14):
    return Proof.objects.create(
        event=event, version=version, payload="{}", payload_sha256="0" * 64, total=1, currency="EUR", state=state,
        valid_until=(timezone.now() + timedelta(days=days)).date(),
    )  # fmt: skip


def test_an_enquiry_without_pieces(event):
    assert only(event) == ["No pieces yet"]


def test_a_hold_and_its_end(event, panel):
    hold(event)
    assert only(event)[0].startswith("On hold to ")
    hold(event, hours=-1)
    assert only(event)[0] == "Hold lapsed"


def test_the_newest_proof_counts(event, panel):
    proof(event, Proof.State.CHANGE)
    assert only(event)[0] == "Change asked for"
    proof(event, Proof.State.WAITING, version=2)
    assert only(event)[0] == "No answer"
    Proof.objects.filter(version=2).update(state=Proof.State.APPROVED)
    assert only(event)[0] == "Approved: confirm"
    Proof.objects.filter(version=2).update(state=Proof.State.DECLINED)
    assert only(event)[0] == "Declined"


def test_an_offer_that_ran_out(event, panel):
    proof(event, Proof.State.WAITING, days=-2)
    assert only(event)[0] == "Offer ran out"


def test_confirmed_without_stock_or_crew(event, panel):
    Event.objects.filter(pk=event.pk).update(stage=Stage.CONFIRMED)
    assert only(event)[:2] == ["Stock not held", "Nobody on it"]
    hold(event, state="confirmed")
    Shift.objects.create(
        event=event, member=Member.objects.create(name="Cory"), task="rig", starts=event.load_in, ends=event.doors
    )
    assert only(event) == ["No price yet"]


def test_what_is_over_is_to_be_closed(ann, hall):
    old = make_event(ann, hall, coming(-3), stage=Stage.INSTALLED)
    assert "Over: close it" in only(old)
    Event.objects.update(stage=Stage.CLOSED)
    assert only(old) == []


def test_pieces_in_a_line(event, panel):
    Piece.objects.create(event=event, kind="panel", title="Another", count=2, measures=ROUGH_PANEL)
    assert lines_of([event], timezone.now())[0].pieces == "3 picture panels"
