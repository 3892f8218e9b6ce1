from datetime import timedelta

import pytest
from django.utils import timezone

from jobs.desk import glance
from jobs.desk.services import event_hold
from jobs.estimates.services import estimate_now
from jobs.events.models import Stage
from jobs.events.rows import Row
from tests.jobs.desk.conftest import coming, make_event


def test_what_it_shows(as_planner, event, panel):
    event.note = "Ring the bell twice"
    event.save()
    page = as_planner.get(f"/events/{event.pk}/").content.decode()
    for words in (
        "Harbour library centenary", event.number, "Quay Hall", "enquiry", "doors 17:00", "Lighthouse panel",
        "about 3 × 2.5 m", "Ann Reed", "01632 960 220", "Ring the bell twice", "Stock", "Crew", "Proof", "Price",
    ):  # fmt: skip
        assert words in page, words
    assert 'class="net' in page


def test_one_filled_button_and_it_is_the_most_urgent_act(as_planner, event, panel, monkeypatch):
    rows = [
        Row("Stock", "Short of 36 sky", act=("Order 1 pack of sky", "/stock/"), urgency=70),
        Row("Crew", "Nobody yet", act=("Put people on it", "/crew/"), urgency=15),
        Row("Proof", "Version 1", urgency=90),
    ]
    monkeypatch.setattr(glance, "ROOMS", tuple(lambda *_, row=row: row for row in rows))
    page = as_planner.get(f"/events/{event.pk}/")
    assert page.context["glance"].act == ("Order 1 pack of sky", "/stock/")
    assert page.content.decode().count('class="btn"') == 1
    assert "2 things to settle" in page.content.decode()


def test_without_a_piece_the_act_is_to_add_one(as_planner, event):
    assert as_planner.get(f"/events/{event.pk}/").context["glance"].act[0] == "Add a piece"


def test_a_priced_panel_wants_its_picture_before_its_proof(as_planner, event, panel, monkeypatch):
    row = Row("Proof", "None yet", act=("Make the proof", "/proof/"), urgency=30)
    monkeypatch.setattr(glance, "ROOMS", (lambda *_: row,))
    page = f"/events/{event.pk}/"
    assert as_planner.get(page).context["glance"].act == ("Make the proof", "/proof/")
    estimate_now(event=event)
    picture = ("Put in a picture", f"/events/{event.pk}/pieces/{panel.pk}/measures/")
    assert as_planner.get(page).context["glance"].act == picture
    urgent = Row("Stock", "Short", act=("Order 1 pack of sky", "/stock/"), urgency=70)
    monkeypatch.setattr(glance, "ROOMS", (lambda *_: urgent,))
    assert as_planner.get(page).context["glance"].act[0] == "Order 1 pack of sky"


def test_when_all_is_settled_what_is_left_is_the_day(as_planner, event, panel, monkeypatch):
    monkeypatch.setattr(glance, "ROOMS", (lambda *_: Row("Stock", "All reserved", state="ok"),))
    assert as_planner.get(f"/events/{event.pk}/").context["glance"].act is None
    event.stage = Stage.CONFIRMED
    event.save()
    assert as_planner.get(f"/events/{event.pk}/").context["glance"].act == ("See the day sheets", f"/day/{event.pk}/")


def test_an_ended_event_asks_for_nothing(as_planner, event, panel):
    event.stage = Stage.LOST
    event.save()
    assert as_planner.get(f"/events/{event.pk}/").context["glance"].act is None


def test_times_in_the_venues_zone(as_planner, ann, hall):
    hall.time_zone = "America/New_York"
    hall.save()
    there = make_event(ann, hall)
    page = as_planner.get(f"/events/{there.pk}/").content.decode()
    assert "doors 17:00" in page and timezone.localtime(there.doors).strftime("%H:%M") != "17:00"


def test_the_month_stands_beside_it(as_planner, event, ann, hall):
    same = make_event(ann, hall, coming(), title="Regatta prize-giving")
    far = make_event(ann, hall, coming(120), title="Choir jubilee")
    titles = [line.event.title for line in as_planner.get(f"/events/{event.pk}/").context["lines"]]
    assert same.title in titles and event.title in titles and far.title not in titles


def test_who_may_see_it(as_crew, as_nobody, event):
    assert as_crew.get(f"/events/{event.pk}/").status_code == 403
    assert as_nobody.get(f"/events/{event.pk}/").url.startswith("/sign-in/")


def test_no_such_event(as_planner):
    assert as_planner.get("/events/999999/").status_code == 404


# Of an event that waits for stock, what all that wait lack is weighed.
@pytest.mark.parametrize(
    ("address", "waits", "most"), [("glance", 0, 33), ("glance", 1, 50), ("/events/", 1, 33), ("/", 1, 33)]
)
def test_queries_do_not_grow_with_the_list(
    as_planner, event, panel, ann, hall, address, waits, most, django_assert_max_num_queries
):
    for n in range(12):
        make_event(ann, hall, coming() + timedelta(days=n % 3), title=f"Event {n}")
    estimate_now(event=event)
    if waits:
        event_hold(event=event, partly=True)
    as_planner.get("/")
    with django_assert_max_num_queries(most):
        as_planner.get(f"/events/{event.pk}/" if address == "glance" else address)
