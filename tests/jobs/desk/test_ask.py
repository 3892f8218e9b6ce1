"""The Ask tab: one page of questions, an answer, then hold or no. Until then nothing is saved but the draft."""

import re
from html import unescape

import pytest
from django.urls import reverse

from inventory.models import Item, Reservation
from jobs.clients.models import Client
from jobs.crew.models import DayHold
from jobs.designs.models import Piece
from jobs.desk.models import BookingDraft
from jobs.estimates.models import Estimate
from jobs.events.models import Event, Venue
from tests.jobs.desk.asking import fill_store, hire, piece
from tests.jobs.desk.conftest import coming
from tests.shelf import only


@pytest.fixture(autouse=True)
def store(studio):
    hire()
    return fill_store(coming(0))


def words(**given):
    return {
        "request_key": "ask-1",
        "date": coming(30).isoformat(),
        "load_in": "14:00",
        "doors": "17:00",
        "ends": "22:00",
        "strike": "22:30",
        "venue": "",
        "name": "",
        "drive_minutes": "30",
        "panel-slots": "1",
        "column-slots": "1",
        "panel-0-count": "1",
        "panel-0-built_at": "workshop",
        "panel-0-fill": "air",
        "panel-0-rough-width": "3",
        "panel-0-rough-height": "2,5",
        "panel-0-rough-unit": "m",
        "panel-0-rough-loading": "paired",
        "panel-0-rough-colours": ["sky"],
        "column-0-count": "",
        "column-0-built_at": "workshop",
        "column-0-fill": "air",
        "column-0-rough-height": "",
        "column-0-rough-unit": "m",
        "column-0-rough-balloons": "4",
        "column-0-rough-pattern": "spiral",
        **given,
    }


def draft_for(user, *, client=None, hall=None, **more):
    data = {
        "venue": {"id": hall.pk} if hall else {"name": "Somewhere new", "drive_minutes": 30, "distance_km": 24},
        "when": {"date": coming(30).isoformat(), "load_in": "14:00", "doors": "17:00", "ends": "22:00",
                 "strike": "22:30"},
        "what": [piece()],
        **({"client": {"id": client.pk}} if client else {}),
        **more,
    }  # fmt: skip
    return BookingDraft.objects.create(user=user, purpose="ask", data=data)


def url(name, draft):
    return reverse(f"jobs:{name}", args=[draft.pk])


def test_an_empty_page_asks(as_planner):
    response = as_planner.get(reverse("jobs:ask"))
    text = response.content.decode()
    assert response.status_code == 200
    assert "Somewhere new" in text and "Picture panel" in text and "Column of clusters" in text
    assert not BookingDraft.objects.exists()


def test_asking_leads_to_an_answer_and_saves_only_the_draft(as_planner, planner):
    response = as_planner.post(reverse("jobs:ask"), words())
    draft = BookingDraft.objects.get()
    assert (draft.user, draft.purpose, draft.event) == (planner, "ask", None)
    assert response.url == url("ask-answer", draft)
    text = as_planner.get(response.url).content.decode()
    assert "You can take it." in text and "Nothing saved yet" in text
    assert "1 picture panel about 3 × 2.5 m" in text
    assert "Hold stock, hours and van for 72 hours" in text and "Say no, keep the enquiry" in text
    for model in (Event, Client, Venue, Piece, Estimate, Reservation, DayHold):
        assert not model.objects.exists()


def test_a_double_tap_makes_one_draft(as_planner):
    first = as_planner.post(reverse("jobs:ask"), words())
    assert as_planner.post(reverse("jobs:ask"), words()).url == first.url
    assert BookingDraft.objects.count() == 1


def test_back_shows_what_was_entered(as_planner):
    as_planner.post(reverse("jobs:ask"), words(outdoors="on", name="Beach"))
    draft = BookingDraft.objects.get()
    text = as_planner.get(url("ask-change", draft)).content.decode()
    assert 'name="panel-0-rough-height" value="2.5"' in text
    assert 'name="name" value="Beach"' in text
    assert "checked" in text.split('name="outdoors"')[1].split(">")[0]


def test_changing_changes_the_same_draft(as_planner):
    as_planner.post(reverse("jobs:ask"), words())
    draft = BookingDraft.objects.get()
    given = words(request_key="ask-2", **{"column-0-count": "2", "column-0-rough-height": "1.8"})
    as_planner.post(url("ask-change", draft), given)
    draft.refresh_from_db()
    assert [(p["kind"], p["count"]) for p in draft.data["what"]] == [("panel", 1), ("column", 2)]


def test_a_known_venue(as_planner, hall):
    as_planner.post(reverse("jobs:ask"), words(venue=str(hall.pk), drive_minutes=""))
    draft = BookingDraft.objects.get()
    assert draft.data["venue"] == {"id": hall.pk}
    assert "Quay Hall" in as_planner.get(url("ask-answer", draft)).content.decode()


def test_another_of_a_kind_is_offered_without_losing_words(as_planner):
    response = as_planner.post(reverse("jobs:ask"), words(more="panel"))
    text = response.content.decode()
    assert response.status_code == 200 and not BookingDraft.objects.exists()
    assert 'name="panel-1-rough-width"' in text and 'name="panel-0-rough-width" value="3"' in text
    both = words(request_key="ask-2", **{"panel-slots": "2", "panel-1-built_at": "venue", "panel-1-fill": "air",
                 "panel-1-rough-width": "1", "panel-1-rough-height": "1", "panel-1-rough-unit": "m",
                 "panel-1-rough-loading": "paired"})  # fmt: skip
    as_planner.post(reverse("jobs:ask"), both)
    assert [p["built_at"] for p in BookingDraft.objects.get().data["what"]] == ["workshop", "venue"]


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"date": ""}, "Day of the event: Give the day."),
        ({"doors": "23:00"}, "End: It ends before doors open at 23:00."),
        ({"drive_minutes": ""}, "Say how long the drive is"),
        ({"panel-0-rough-width": "0"}, "Wide: This must be more than 0."),
        ({"panel-0-count": "-2"}, "How many: This must be 1 or more."),
        ({"panel-0-count": "", "panel-0-rough-width": "", "panel-0-rough-height": ""}, "Say at least one piece"),
        ({"panel-0-rough-unit": "cells", "panel-0-rough-width": "900", "panel-0-rough-height": "900"}, "810,000 cells"),
    ],
)
def test_what_is_wrong_is_said(as_planner, given, said):
    response = as_planner.post(reverse("jobs:ask"), words(**given))
    assert response.status_code == 422
    assert said in response.content.decode()
    assert not BookingDraft.objects.exists()


def test_an_unfinished_draft_leads_back_to_the_questions(as_planner, planner):
    draft = BookingDraft.objects.create(user=planner, purpose="ask", data={"what": []})
    assert as_planner.get(url("ask-answer", draft)).url == url("ask-change", draft)


def test_holding_for_a_known_client_books_and_holds(as_planner, planner, ann, hall):
    draft = draft_for(planner, client=ann, hall=hall)
    response = as_planner.post(url("ask-hold", draft), {"request_key": "h"})
    event = Event.objects.get()
    assert response.url == reverse("jobs:event-glance", args=[event.pk])
    assert (event.client, event.stage, event.reservation.state) == (ann, "enquiry", "hold")
    assert dict(event.reservation.lines.values_list("item__name", "quantity")) == {
        "Net 13 wide, 22 high": 2,
        "sky, 5 in": 525,
    }
    assert DayHold.objects.get().expires == event.reservation.expires
    assert Estimate.objects.get().result["balloons"] == 525
    assert as_planner.post(url("ask-hold", draft), {"request_key": "other"}).url == response.url
    assert Event.objects.count() == 1


def test_holding_what_is_free_when_something_must_be_bought(as_planner, planner, ann, hall, store):
    only(store["sky 5"], 489)
    draft = draft_for(planner, client=ann, hall=hall)
    text = as_planner.get(url("ask-answer", draft)).content.decode()
    assert "Hold what is free, hours and van for 72 hours" in text and 'name="partly" value="1"' in text
    as_planner.post(url("ask-hold", draft), {"partly": "1", "request_key": "h"})
    assert Event.objects.get().reservation.lines.get(item=store["sky 5"].pk).quantity == 489


def test_stock_gone_meanwhile_holds_nothing(as_planner, planner, ann, hall, store):
    draft = draft_for(planner, client=ann, hall=hall)
    only(store["sky 5"], 489)
    response = as_planner.post(url("ask-hold", draft), {"request_key": "h"})
    event = Event.objects.get()
    assert response.url == reverse("jobs:event-stock", args=[event.pk])
    assert event.reservation is None and not DayHold.objects.exists()
    assert "short of 36 of sky, 5 in" in as_planner.get(response.url).content.decode()


def test_who_it_is_for_is_asked_first(as_planner, planner, ann, hall):
    draft = draft_for(planner, hall=hall)
    response = as_planner.post(url("ask-hold", draft), {"request_key": "h"})
    assert response.url == url("book-who", draft) + "?then=answer"
    assert not Event.objects.exists()
    back = as_planner.post(url("book-who", draft), {"client": ann.pk, "then": "answer", "request_key": "w"})
    assert back.url == url("ask-answer", draft)
    assert "for Ann Reed" in as_planner.get(back.url).content.decode()
    as_planner.post(url("ask-hold", draft), {"request_key": "h2"})
    assert Event.objects.get().client == ann


def test_no_keeps_the_enquiry(as_planner, planner, ann, hall):
    draft = draft_for(planner, client=ann, hall=hall)
    as_planner.post(url("ask-no", draft), {"request_key": "n"})
    event = Event.objects.get()
    assert (event.stage, event.reservation) == ("lost", None)
    assert Piece.objects.get(event=event).title == "Lighthouse"


def test_the_answers_first_button_is_no_when_it_cannot_be_done(as_planner, planner, store):
    from jobs.crew.models import Member

    Member.objects.all().delete()
    text = as_planner.get(url("ask-answer", draft_for(planner))).content.decode()
    assert "You can't: no lead that day." in text.replace("&#x27;", "'")
    assert 'class="btn">Say no, keep the enquiry' in text and "Hold stock" not in text


def test_getting_books_nothing(as_planner, planner, ann, hall):
    draft = draft_for(planner, client=ann, hall=hall)
    for name in ("ask-hold", "ask-no"):
        assert as_planner.get(url(name, draft)).status_code == 405
    as_planner.get(url("ask-answer", draft))
    assert not Event.objects.exists()


def test_another_persons_draft_is_not_there(as_planner, owner):
    draft = draft_for(owner)
    assert as_planner.get(url("ask-answer", draft)).status_code == 404
    assert as_planner.get(url("ask-change", draft)).status_code == 404
    assert as_planner.post(url("ask-hold", draft), {"request_key": "h"}).status_code == 404


def test_not_for_crew_or_strangers(as_crew, as_nobody, crew_user):
    draft = draft_for(crew_user)
    for address in (reverse("jobs:ask"), url("ask-change", draft), url("ask-answer", draft)):
        assert as_crew.get(address).status_code == 403
        assert as_nobody.get(address).status_code == 302
    for name in ("ask-hold", "ask-no"):
        assert as_crew.post(url(name, draft)).status_code == 403
        assert as_nobody.post(url(name, draft)).status_code == 302


def test_what_can_no_longer_be_reckoned_is_kept_as_an_enquiry(as_planner, planner, ann, hall, store):
    draft = draft_for(planner, client=ann, hall=hall)
    Item.objects.filter(pk=store["net"].pk).update(active=False)
    response = as_planner.post(url("ask-hold", draft), {"request_key": "h"})
    event = Event.objects.get()
    assert response.url == reverse("jobs:event-glance", args=[event.pk]) and event.reservation is None
    assert "Kept as an enquiry. Nothing is held: " in as_planner.get(response.url).content.decode()


def test_its_rows_lead_to_the_check_of_the_same_list_and_back(as_planner, planner, store):
    only(store["sky 5"], 489)
    draft = draft_for(planner)
    page = as_planner.get(url("ask-answer", draft)).content.decode()
    (href,) = set(re.findall(r'<a class="row" href="(/stock/check/[^"]+)"', page))
    answer = as_planner.get(unescape(href))
    text = answer.content.decode()
    assert answer.status_code == 200 and "525 asked, 489 free" in text and "36 short" in text
    assert "1 pack of 100, €6.20" in text and f'href="{url("ask-answer", draft)}"' in text
    assert not Reservation.objects.exists() and not Event.objects.exists()
    only(store["sky 5"], 600)
    text = as_planner.get(unescape(href)).content.decode()
    assert f'<a class="btn" href="{url("ask-answer", draft)}">All of it is free: go and hold it</a>' in text
