"""What an event could have only if an order arrives is told wherever its stock is: the answer, the row, the page."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from decor.studio.templatetags.desk import day_words
from inventory.stocking import lot_receive
from jobs.desk import services
from jobs.desk.stock import event_needs, stock_row
from tests.jobs.desk.asking import estimated_event, fill_store, hire, piece, stock
from tests.jobs.desk.conftest import coming
from tests.jobs.desk.test_answer import ask, row

# 504 cells and 4 % spares, rounded up, are 525 of sky: 489 are here, so 36 come with the order.
HERE, WAITED_FOR = 489, 36


@pytest.fixture
def store(studio):
    hire()
    made = fill_store(coming(0), sky=HERE)
    stock(made["sky 5"], 100, coming(0), arrives=7, received=False)
    return made


@pytest.fixture
def event(store, ann, hall):
    return estimated_event(ann, hall)


def due():
    return day_words(coming(0) + timedelta(days=7))


def page(client, event):
    return client.get(reverse("jobs:event-stock", args=[event.pk])).content.decode()


def test_the_quick_answer_says_it(store):
    answer = ask()
    assert answer.verdict_kind == "ok"
    balloons = row(answer, "Balloons")
    assert (balloons.state, balloons.state_words) == ("wait", "If it arrives")
    assert balloons.small.endswith(f"{WAITED_FOR} of them if the order due {due()} arrives")
    assert row(answer, "Sheets").state == "ok", "nothing of these is on order"


def test_of_what_is_all_here_nothing_is_said(store):
    stock(store["sky 5"], WAITED_FOR, coming(0))
    assert row(ask(), "Balloons").state_words == "Free"


def test_sheets_and_poles_say_it_too(store):
    stock(store["net"], 3, coming(0), arrives=5, received=False)
    stock(store["pole"], 3, coming(0), arrives=5, received=False)
    answer = ask(piece(count=3), piece("column", count=9))
    assert "2 of them if the order due" in row(answer, "Sheets").small
    poles = row(answer, "Poles")
    assert (poles.stands, poles.state) == ("9 needed, 9 free", "wait")
    assert poles.small.startswith("3 of them if the order due")


def test_the_event_s_row_and_page_say_it_before_and_after_it_is_promised(as_planner, event):
    told = f"{WAITED_FOR} sky, due {due()}"
    assert event_needs(event).on_order == told
    assert stock_row(event).small == f"counts on an order: {told}"
    text = page(as_planner, event)
    assert f"It counts on what is on order: {told}." in text
    assert f"525 needed, 589 free, {WAITED_FOR} of them if the order due {due()} arrives" in text
    assert text.count("If it arrives") == 1
    services.event_confirm(event=event)
    event.refresh_from_db()
    assert stock_row(event).stands == "All reserved" and told in stock_row(event).small
    text = page(as_planner, event)
    assert f"It counts on what is on order: {told}." in text and "If it arrives" not in text


def test_once_it_is_here_nothing_is_said(event, store):
    lot_receive(lot=store["sky 5"].lots.get(received=False), on=timezone.localdate())
    stands = event_needs(event)
    assert stands.on_order == "" and not stands.short
