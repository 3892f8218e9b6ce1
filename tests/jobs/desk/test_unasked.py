"""The buy list may also count what events would need to which nothing is promised yet."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.buying import buy_lines
from inventory.matters import matters
from inventory.models import Hardware, OrderLine, Reservation
from jobs.designs.models import Piece
from jobs.desk import services
from jobs.estimates.services import estimate_now
from jobs.events.models import Event, Stage
from tests.jobs.desk.asking import fill_store, hire, piece, save_pieces, stock
from tests.jobs.desk.conftest import coming, make_event
from tests.jobs.desk.waiters import booked, grow


@pytest.fixture
def store(studio):
    """Six poles and six bases."""
    hire()
    return fill_store(coming(0))


def asked_for(ann, hall, columns: int, *, days: int = 30, title: str = "Choir jubilee") -> Event:
    event = make_event(ann, hall, coming(days), title=title)
    save_pieces(event, piece("column", count=columns))
    estimate_now(event=event)
    return event


def short_of(item, *, with_open: bool = True, days: int = 60) -> dict[str, int]:
    lines = buy_lines(until=coming(days), now=timezone.now(), with_open=with_open)
    return {one.label: one.quantity for line in lines if line.item.pk == item.pk for one in line.what_for}


def test_only_where_it_is_asked_for_and_marked_as_open(store, ann, hall):
    event = asked_for(ann, hall, 8)
    pole = store["pole"]
    assert short_of(pole, with_open=False) == {}
    assert short_of(pole) == {f"{event.number} Choir jubilee": 2}
    (line,) = [x for x in buy_lines(until=coming(60), now=timezone.now(), with_open=True) if x.item.pk == pole.pk]
    assert line.buy.short == 2 and [one.is_open for one in line.what_for] == [True]
    assert short_of(pole, days=9) == {}, "it is not until then"
    assert not [one for one in matters(now=timezone.now()) if "Choir" in one.says], "it presses nobody"


def test_only_while_nothing_is_promised_to_it(store, ann, hall):
    event, pole = asked_for(ann, hall, 8), store["pole"]
    services.event_hold(event=event, partly=True)
    assert short_of(pole) == short_of(pole, with_open=False) == {f"{event.number} Choir jubilee": 2}
    Reservation.objects.update(expires=timezone.now() - timedelta(minutes=1))
    assert short_of(pole, with_open=False) == {} and len(short_of(pole)) == 1, "its hold lapsed"
    Event.objects.filter(pk=event.pk).update(stage=Stage.LOST)
    assert short_of(pole) == {}


def test_its_newest_estimate_counts(store, ann, hall):
    event = asked_for(ann, hall, 8)
    Piece.objects.filter(event=event).update(count=9, version=2)
    assert list(short_of(store["pole"]).values()) == [2], "nobody estimated it since"
    estimate_now(event=event)
    assert list(short_of(store["pole"]).values()) == [3]


def test_whoever_waits_comes_first_though_the_other_event_is_nearer(store, ann, hall):
    """Six poles: two are promised, of the four that are left the waiting event wants three more than it can have."""
    stock(store["base"], 90, coming(0))
    waits = booked(ann, hall, days=40, title="Waits", columns=2)
    grow(waits, 9)
    nearer = asked_for(ann, hall, 5, days=40, title="Nearer")
    Event.objects.filter(pk=nearer.pk).update(load_in=waits.load_in - timedelta(hours=1))
    assert short_of(store["pole"]) == {f"{waits.number} Waits": 3, f"{nearer.number} Nearer": 5}
    assert short_of(store["pole"], with_open=False) == {f"{waits.number} Waits": 3}


def test_of_several_that_serve_alike_the_one_of_which_most_is_there(store, ann, hall):
    longer = Hardware.objects.create(kind="hardware", name="A long pole", purpose="pole", returnable=True)
    stock(longer, 7, coming(0))
    asked_for(ann, hall, 8)
    assert short_of(store["pole"]) == {} and list(short_of(longer).values()) == [1]


def test_the_page_asks_and_keeps_it_when_the_orders_are_written(as_planner, store, ann, hall):
    event = asked_for(ann, hall, 8)
    page = reverse("inventory:buy")
    text = as_planner.get(page).content.decode()
    assert "Nothing to buy." in text and "Count them too" in text
    until = coming(60).isoformat()
    text = as_planner.get(page, {"until": until, "open": "on"}).content.decode()
    assert "also where nothing is promised yet" in text and "not promised yet</p>" in text
    assert '<input type="hidden" name="open" value="on">' in text
    lines = [f"short-{store[key].pk}" for key in ("pole", "base")]
    sent = {"until": until, "open": "on", "line": lines} | {f"packs-{line}": "2" for line in lines}
    answer = as_planner.post(page, sent)
    assert answer.status_code == 302
    line = OrderLine.objects.get(item=store["pole"].pk)
    assert line.packs == 2 and line.what_for[0]["label"] == f"{event.number} Choir jubilee"


def test_as_many_queries_for_four_as_for_one(store, ann, hall):
    asked_for(ann, hall, 8)
    with CaptureQueriesContext(connection) as one:
        buy_lines(until=coming(60), now=timezone.now(), with_open=True)
    for number in range(3):
        asked_for(ann, hall, 8, title=f"Event {number}")
    with CaptureQueriesContext(connection) as four:
        buy_lines(until=coming(60), now=timezone.now(), with_open=True)
    assert len(four) == len(one)
