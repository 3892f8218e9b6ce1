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
from inventory.services import Shortage
from inventory.stocking import lot_add
from jobs.designs.models import Piece
from jobs.desk import services
from jobs.desk.following import standing_words
from jobs.desk.models import Unmet
from jobs.desk.stock import stock_row
from jobs.estimates.services import estimate_now
from jobs.events.models import Event, Stage
from tests.jobs.desk.asking import fill_store, hire, piece, save_pieces, stock
from tests.jobs.desk.conftest import coming, make_event
from tests.jobs.desk.waiters import again, booked, grow, held, work
from tests.shelf import empty


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


def test_of_which_nothing_is_free_waits_like_others_once_it_is_held(as_planner, store, ann, hall):
    """It takes its turn in the buy list, among what needs somebody and in the queue for what comes."""
    empty()
    event, pole = asked_for(ann, hall, 8), store["pole"]
    call = f"{event.number} Choir jubilee"
    page = reverse("jobs:event-stock", args=[event.pk])
    text = as_planner.post(reverse("jobs:event-hold", args=[event.pk]), {"partly": "1"}, follow=True).content.decode()
    assert "Nothing that it needs is free: it waits in turn for all of it." in text
    assert "Nothing that it needs was free. It waits in turn until " in text and "8 of Pole" in text
    assert short_of(pole, with_open=False) == short_of(pole) == {call: 8}
    (matter,) = [one for one in matters(now=timezone.now()) if one.says == call]
    assert "8 of Pole" in matter.small and matter.small.endswith("nothing is held for it yet")
    assert standing_words(event.pk)[1].endswith("Nothing is held yet.")
    assert stock_row(again(event)).small.endswith("nothing is held yet")
    promise = again(event).reservation
    assert promise.state == "hold" and not promise.lines.exists()
    grow(event, 9)
    assert short_of(pole, with_open=False) == {call: 9}
    for name in ("base", "red 11", "white 11"):
        lot_add(item=store[name], quantity=900, arrives_on=coming(0))
    lot_add(item=pole, quantity=8, arrives_on=coming(0))
    work()
    assert held(event) == 0, "all that it lacks or nothing"
    lot_add(item=pole, quantity=1, arrives_on=coming(0))
    work()
    assert held(event) == 9 and short_of(pole) == {} and "Held until " in as_planner.get(page).content.decode()


def test_a_hold_of_nothing_lapses_and_is_let_go_as_any_other(store, ann, hall):
    empty()
    event, pole = asked_for(ann, hall, 8), store["pole"]
    services.event_hold(event=event, partly=True)
    services.event_hold(event=again(event), partly=True)
    assert Reservation.objects.count() == 1 and short_of(pole, with_open=False)
    Reservation.objects.update(expires=timezone.now() - timedelta(minutes=1))
    assert short_of(pole, with_open=False) == {} and list(short_of(pole).values()) == [8]
    services.event_hold(event=again(event), partly=True)
    assert short_of(pole, with_open=False)
    with pytest.raises(Shortage):
        services.event_confirm(event=again(event))
    services.event_release(event=again(event))
    assert short_of(pole, with_open=False) == {} and not Unmet.objects.exists()


def test_whose_hold_lapsed_and_finds_nothing_free_any_more_waits_too(store, ann, hall):
    event, pole = asked_for(ann, hall, 2), store["pole"]
    services.event_hold(event=event)
    Reservation.objects.update(expires=timezone.now() - timedelta(minutes=1))
    empty()
    services.event_hold(event=again(event), partly=True)
    assert held(event) == 0 and list(short_of(pole, with_open=False).values()) == [2]


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
