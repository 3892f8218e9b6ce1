"""Booking, screen by screen, as a browser without JavaScript does it."""

from datetime import timedelta

import pytest

from decor.studio.models import AuditLine
from jobs.clients.models import Client
from jobs.designs.models import Piece
from jobs.desk import booking, drafts
from jobs.desk.models import BookingDraft
from jobs.events.models import Event, Stage, Venue
from tests.jobs.desk.conftest import DUBLIN, ROUGH_PANEL, at, coming

STEPS = ["who", "where", "when", "what", "check"]
NEW_CLIENT = {"name": "Bo Fern", "organisation": "Fern Street Café", "phone": "01632 960 777", "email": ""}
NEW_VENUE = {
    "name": "Fern Street", "address": "8 Fern Street", "access": "side door", "contact_name": "", "contact_phone": "",
    "indoors": "yes", "drive_minutes": "20", "distance_km": "11,5", "ceiling_m": "", "altitude_m": "40",
    "temperature_c": "19", "time_zone": "Europe/Dublin", "cautions": "",
}  # fmt: skip
PANEL = {
    "kind": "panel", "count": "1", "built_at": "venue", "fill": "air", "title": "Lighthouse panel",
    "rough-width": "3", "rough-height": "2,5", "rough-unit": "m", "rough-loading": "paired",
}  # fmt: skip


def when_of(day=None, **given):
    times = {"date": (day or coming()).isoformat(), "load_in": "14:00", "doors": "17:00", "ends": "23:00"}
    return {**times, "strike": "23:30", "load_in_date": "", "ends_date": "", "strike_date": "", **given}


@pytest.fixture
def draft(planner) -> BookingDraft:
    return drafts.draft_start(user=planner, purpose="book")


@pytest.fixture
def full(draft, ann, hall, stock) -> BookingDraft:
    rough = {
        "kind": "panel", "count": 2, "built_at": "venue", "fill": "air", "title": "Lighthouse panel",
        "measures": ROUGH_PANEL, "key": "a1",
    }  # fmt: skip
    when = {"date": coming().isoformat(), "load_in": "14:00", "doors": "17:00", "ends": "23:00", "strike": "23:30"}
    return drafts.draft_save(draft=draft, client={"id": ann.pk}, venue={"id": hall.pk}, when=when, what=[rough])


def url(draft: BookingDraft, step: str) -> str:
    return f"/book/{draft.pk}/{step}/"


def test_from_first_screen_to_event(as_planner, stock):
    start = as_planner.post("/book/")
    draft = BookingDraft.objects.get()
    assert start.url == url(draft, "who")
    sent = [("who", NEW_CLIENT), ("where", NEW_VENUE), ("when", when_of()), ("what", PANEL)]
    for (step, data), onward in zip(sent, STEPS[1:], strict=True):
        assert as_planner.get(url(draft, step)).status_code == 200
        answer = as_planner.post(url(draft, step), data)
        assert answer.status_code == 302 and answer.url == url(draft, onward), step
    page = as_planner.get(url(draft, "check")).content.decode()
    assert "Bo Fern" in page and "Fern Street" in page and "about 3 × 2.5 m" in page
    assert not Event.objects.exists() and not Client.objects.exists(), "nothing is saved before Save"
    saved = as_planner.post(url(draft, "check"), {"title": "Fern Street opening", "note": "Call after four"})
    event = Event.objects.get()
    assert saved.url == f"/events/{event.pk}/"
    assert (event.title, event.note, event.stage) == ("Fern Street opening", "Call after four", Stage.ENQUIRY)
    assert event.client.name == "Bo Fern" and event.venue.distance_km == 11.5
    assert event.doors == at(coming(), 17)
    piece = Piece.objects.get(event=event)
    assert (piece.kind, piece.built_at, piece.measures["height"]) == ("panel", "venue", 2.5)
    assert AuditLine.objects.filter(act="booked an event").count() == 1


def test_at_most_five_screens(as_planner, full):
    assert len(drafts.STEPS) <= 5
    assert "Step 5 of 5" in as_planner.get(url(full, "check")).content.decode()


def test_going_back_shows_what_was_entered(as_planner, draft, stock):
    as_planner.post(url(draft, "who"), NEW_CLIENT)
    as_planner.post(url(draft, "where"), NEW_VENUE)
    as_planner.post(url(draft, "when"), when_of(doors="18:30"))
    as_planner.post(url(draft, "what"), PANEL)
    assert 'value="Bo Fern"' in as_planner.get(url(draft, "who")).content.decode()
    assert 'value="11.5"' in as_planner.get(url(draft, "where")).content.decode()
    when = as_planner.get(url(draft, "when")).content.decode()
    assert 'value="18:30"' in when and f'value="{coming().isoformat()}"' in when
    assert "Lighthouse panel" in as_planner.get(url(draft, "what")).content.decode()
    # and every screen has a link to the one before
    for step, before in zip(STEPS[1:], STEPS, strict=False):
        assert f'href="{url(draft, before)}"' in as_planner.get(url(draft, step)).content.decode()


def test_a_client_is_found_by_name_or_number_and_chosen(as_planner, draft, ann):
    for words in ("reed", "library", "960220"):
        assert f'name="client" value="{ann.pk}"' in as_planner.get(url(draft, "who"), {"q": words}).content.decode()
    assert 'name="client"' not in as_planner.get(url(draft, "who"), {"q": "zebra"}).content.decode()
    assert as_planner.post(url(draft, "who"), {"client": ann.pk, **NEW_CLIENT}).url == url(draft, "where")
    draft.refresh_from_db()
    assert draft.data["client"] == {"id": ann.pk}
    # Continue without a word more keeps the choice; a new name replaces it
    assert as_planner.post(url(draft, "who"), {"name": ""}).status_code == 302
    as_planner.post(url(draft, "who"), NEW_CLIENT)
    draft.refresh_from_db()
    assert draft.data["client"]["name"] == "Bo Fern"


def test_a_new_client_needs_a_name_and_one_way_to_be_reached(as_planner, draft):
    answer = as_planner.post(url(draft, "who"), {"name": "", "phone": "", "email": ""})
    assert answer.status_code == 422
    assert set(answer.context["form"].errors) == {"name", "phone"}
    assert as_planner.post(url(draft, "who"), {"name": "Bo", "email": "bo@fern.example"}).status_code == 302


def test_somebody_known_already_is_offered_once(as_planner, draft, ann):
    same = {**NEW_CLIENT, "phone": "01632-960220"}
    answer = as_planner.post(url(draft, "who"), same)
    assert answer.status_code == 422 and "Known already?" in answer.content.decode()
    assert as_planner.post(url(draft, "who"), {**same, "different": "1"}).url == url(draft, "where")
    draft.refresh_from_db()
    assert draft.data["client"]["name"] == "Bo Fern"


def test_venues_of_this_client_come_first(as_planner, draft, ann, event):
    Venue.objects.create(name="Aardvark Rooms", time_zone="Europe/Dublin")
    as_planner.post(url(draft, "who"), {"client": ann.pk})
    found = as_planner.get(url(draft, "where")).context["found"]
    assert [v.name for v in found] == ["Quay Hall", "Aardvark Rooms"]


@pytest.mark.parametrize("step", ["who", "where", "when", "what", "check"])
def test_get_changes_nothing(as_planner, full, step):
    before = (full.data, BookingDraft.objects.count(), Event.objects.count(), Client.objects.count())
    as_planner.get(url(full, step), {"add": "panel", "q": "x"})
    full.refresh_from_db()
    assert (full.data, BookingDraft.objects.count(), Event.objects.count(), Client.objects.count()) == before


def test_check_leads_to_what_is_missing(as_planner, draft, ann):
    assert as_planner.get(url(draft, "check")).url == url(draft, "who")
    as_planner.post(url(draft, "who"), {"client": ann.pk})
    assert as_planner.get(url(draft, "check")).url == url(draft, "where")
    assert as_planner.get(url(draft, "when")).url == url(draft, "where")


def test_change_links_come_back_to_check(as_planner, full):
    page = as_planner.get(url(full, "check")).content.decode()
    assert page.count("?then=check") == 4
    assert 'name="then" value="check"' in as_planner.get(url(full, "when") + "?then=check").content.decode()
    assert as_planner.post(url(full, "when"), when_of(then="check")).url == url(full, "check")


def test_pieces_are_added_changed_and_removed(as_planner, draft, stock):
    assert as_planner.post(url(draft, "what"), {**PANEL, "act": "more"}).url == url(draft, "what")
    as_planner.post(url(draft, "what"), {**PANEL, "title": "", "count": "2", "act": "more"})
    draft.refresh_from_db()
    first, second = draft.data["what"]
    assert second["title"] == "Picture panel" and second["count"] == 2
    page = as_planner.get(url(draft, "what"), {"piece": first["key"]}).content.decode()
    assert 'value="Lighthouse panel"' in page
    as_planner.post(url(draft, "what"), {**PANEL, "piece": first["key"], "rough-width": "4", "act": "more"})
    draft.refresh_from_db()
    assert [p["measures"]["width"] for p in draft.data["what"]] == [4.0, 3.0]
    as_planner.post(url(draft, "what") + "remove/", {"piece": first["key"]})
    draft.refresh_from_db()
    assert [p["key"] for p in draft.data["what"]] == [second["key"]]


@pytest.mark.parametrize(
    "field, value", [("rough-width", "0"), ("rough-width", "-1"), ("count", "0"), ("count", "a lot")]
)
def test_a_piece_of_no_size_is_refused_beside_its_field(as_planner, draft, stock, field, value):
    answer = as_planner.post(url(draft, "what"), {**PANEL, field: value})
    assert answer.status_code == 422
    assert f'id="id_{field}_error"' in answer.content.decode()
    draft.refresh_from_db()
    assert not draft.data.get("what")


def test_what_may_be_unknown_for_now(as_planner, full):
    drafts.draft_save(draft=full, what=[])
    assert as_planner.get(url(full, "check")).url == url(full, "what")
    assert as_planner.post(url(full, "what"), {"act": "later"}).url == url(full, "check")
    as_planner.post(url(full, "check"), {"title": "A do", "note": ""})
    assert not Piece.objects.filter(event=Event.objects.get()).exists()


def test_a_day_in_the_past_is_refused(as_planner, draft, hall):
    drafts.draft_save(draft=draft, venue={"id": hall.pk})
    answer = as_planner.post(url(draft, "when"), when_of(coming(-1)))
    assert answer.status_code == 422
    assert "is past" in str(answer.context["form"].errors["date"])


def test_booked_drafts_lead_to_their_event(as_planner, full):
    event = booking.event_book(draft=full)
    for step in STEPS:
        assert as_planner.get(url(full, step)).url == f"/events/{event.pk}/"
        assert as_planner.post(url(full, step), NEW_CLIENT).url == f"/events/{event.pk}/"
    assert Event.objects.count() == 1


def test_a_second_tap_finds_the_first_event(as_planner, full):
    key = {"title": "Twice", "note": "", "request_key": "k" * 20}
    answers = {as_planner.post(url(full, "check"), key).url for _ in range(3)}
    other_page = as_planner.post(url(full, "check"), {**key, "request_key": "m" * 20})
    assert answers == {other_page.url} and Event.objects.count() == 1


def test_a_draft_with_a_gap_is_not_booked(draft, ann):
    drafts.draft_save(draft=draft, client={"id": ann.pk})
    with pytest.raises(booking.NotReady) as refusal:
        booking.event_book(draft=draft)
    assert refusal.value.step == "where" and not Event.objects.exists()


def test_if_the_pieces_fail_nothing_is_kept(full, monkeypatch):
    drafts.draft_save(draft=full, client=NEW_CLIENT)

    def fail(*_):
        raise RuntimeError

    monkeypatch.setattr(booking, "pieces_from_rough", fail)
    with pytest.raises(RuntimeError):
        booking.event_book(draft=full)
    full.refresh_from_db()
    assert not Event.objects.exists() and not Client.objects.filter(name="Bo Fern").exists() and full.event_id is None


def test_starting_again_takes_up_the_untouched_draft(as_planner, planner):
    first = as_planner.post("/book/").url
    assert as_planner.post("/book/").url == first
    drafts.draft_save(draft=BookingDraft.objects.get(), note="begun")
    assert as_planner.post("/book/").url != first


def test_thrown_away(as_planner, full):
    assert as_planner.post(f"/book/{full.pk}/throw-away/").status_code == 302
    assert not BookingDraft.objects.exists()


def test_booking_from_a_clients_page(as_planner, ann):
    answer = as_planner.post("/book/", {"client": ann.pk})
    draft = BookingDraft.objects.get()
    assert answer.url == url(draft, "where") and draft.data == {"client": {"id": ann.pk}}


@pytest.mark.parametrize("step", [*STEPS, "what/remove", "throw-away"])
def test_whose_draft_it_is(as_owner, as_crew, as_nobody, full, step):
    assert as_owner.post(url(full, step)).status_code == 404, "another's draft"
    assert as_crew.post(url(full, step)).status_code == 403
    assert as_nobody.post(url(full, step)).url.startswith("/sign-in/")


def test_crew_may_not_start_one(as_crew, as_nobody):
    assert as_crew.post("/book/").status_code == 403
    assert as_nobody.post("/book/").url.startswith("/sign-in/")
    assert not BookingDraft.objects.exists()


def test_local_times_follow_the_venue(as_planner, draft, ann, hall):
    """The venue is changed after the times were given: the same clock, another moment."""
    drafts.draft_save(draft=draft, client={"id": ann.pk}, venue={"id": hall.pk})
    as_planner.post(url(draft, "when"), when_of())
    draft.refresh_from_db()
    here = drafts.draft_span(draft)
    hall.time_zone = "America/New_York"
    hall.save()
    there = drafts.draft_span(draft)
    assert here.doors == at(coming(), 17, zone=DUBLIN)
    assert there.doors == at(coming(), 17, zone=hall.zone) and there.doors - here.doors > timedelta(hours=3)
