"""What can be had only if an order arrives, and that whoever asks is told."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as some

from inventory import availability
from inventory.expecting import free_and_on_order
from inventory.models import Hardware, Lot
from tests.inventory.conftest import on_shelf
from tests.inventory.test_check import ahead as day_ahead
from tests.inventory.test_check import ask, text
from tests.inventory.test_gaps import ahead, gap, hold

pytestmark = pytest.mark.django_db


@pytest.fixture
def now():
    return timezone.now()


def ordered(item, quantity, days):
    due = availability.utc_day(timezone.now()) + timedelta(days=days)
    return Lot.objects.create(item_id=item.pk, quantity=quantity, received=False, arrives_on=due)


def waiting(now, item, starts=20, ends=22):
    return free_and_on_order([item.pk], ahead(now, starts), ahead(now, ends), now=now)[1].get(item.pk)


def test_what_is_here_waits_for_nothing(now, sky):
    on_shelf(sky, 600)
    assert waiting(now, sky) is None


def test_what_is_due_by_then_counts_and_is_not_sure(now, sky, pole):
    on_shelf(sky, 14)
    on_shelf(pole, 2)
    lot, poles = ordered(sky, 20, 5), ordered(pole, 3, 6)
    assert (waiting(now, sky).sure, waiting(now, sky).due) == (14, lot.arrives_on)
    assert (waiting(now, pole).sure, waiting(now, pole).due) == (2, poles.arrives_on)
    assert waiting(now, pole, starts=1, ends=3) is None, "it is not counted before it is due"


def test_of_several_orders_the_last_that_is_due_by_then_is_told(now, sky):
    ordered(sky, 20, 5)
    last = ordered(sky, 20, 9)
    ordered(sky, 20, 40)
    assert (waiting(now, sky).sure, waiting(now, sky).due) == (0, last.arrives_on)


def thing(*, returnable):
    count = Hardware.objects.count()
    return Hardware.objects.create(
        kind="hardware", name=f"Thing {count}", returnable=returnable, pack_size=1, pack_price=Decimal(1)
    )


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    returnable=some.booleans(),
    here=some.integers(0, 30),
    lots=some.lists(some.tuples(some.integers(1, 30), some.integers(0, 40)), max_size=3),
    held=some.lists(some.tuples(some.integers(1, 30), some.integers(1, 40), some.integers(1, 6)), max_size=3),
)
def test_what_is_sure_is_what_would_be_free_had_nothing_been_ordered(now, returnable, here, lots, held):
    item = thing(returnable=returnable)

    def free(first, days):
        return availability.free([item.pk], ahead(now, first), ahead(now, first + days), now=now)[item.pk]

    if here:
        on_shelf(item, here)
    for quantity, days in lots:
        ordered(item, quantity, days)
    for quantity, first, days in held:
        if free(first, days) >= quantity:
            hold(now, [(item.pk, quantity)], first, first + days)
    told, with_orders = waiting(now, item), free(20, 2)
    Lot.objects.filter(item_id=item.pk, received=False).delete()
    assert (told.sure if told else with_orders) == free(20, 2)
    assert told is None or told.sure < with_orders


def test_a_gap_tells_how_much_of_it_is_not_here(now, sky):
    on_shelf(sky, 14)
    ordered(sky, 20, 5)
    assert gap(now, sky, 10).if_it_arrives == 0, "what is here is enough"
    assert gap(now, sky, 30).if_it_arrives == 16
    assert gap(now, sky, 40).if_it_arrives == 20 and gap(now, sky, 40).short == 6


def test_a_later_day_that_counts_on_an_order_says_so(now, pole):
    on_shelf(pole, 5)
    hold(now, [(pole.pk, 5)], 20, 21)
    assert gap(now, pole, 5, 20, 22).later is not None and not gap(now, pole, 5, 20, 22).later_if
    ordered(pole, 3, 24)
    assert gap(now, pole, 8, 20, 22).later is not None and gap(now, pole, 8, 20, 22).later_if


def test_the_check_says_that_it_is_free_if_it_arrives(as_planner, sky, pole):
    on_shelf(sky, 14)
    on_shelf(pole, 2)
    ordered(sky, 20, 5)
    page = text(ask(as_planner, ("5 in sky", 30), ("Pole, 2 m", 2)))
    assert "All of it is free, if what is on order arrives." in page
    assert re.search(r"30 asked, 34 free, 16 of them if the order due [^<]+ arrives", page)
    assert page.count("If it arrives") == 2, "the whole list, and the line"
    assert "All of it is free." in text(ask(as_planner, ("5 in sky", 14), ("Pole, 2 m", 2)))


def test_what_is_free_now_because_a_later_promise_will_be_served_by_an_order_says_so(as_planner, now, sky):
    on_shelf(sky, 421)
    ordered(sky, 100, 13)
    hold(now, [(sky.pk, 354)], 16, 17)
    page = text(as_planner.get(reverse("inventory:item", args=[sky.pk])))
    assert "167 free" in page, "421 and 100 less 354"
    assert re.search(r"with every later promise kept; 100 of them if the order due [^<]+ arrives", page)


def test_the_items_own_page_says_so_too(as_planner, sky):
    on_shelf(sky, 14)
    ordered(sky, 20, 5)
    address = reverse("inventory:item", args=[sky.pk])
    page = text(as_planner.get(address, {"first": day_ahead(20), "last": day_ahead(21)}))
    assert re.search(r"Yes: 34 free.*20 of them if the order due [^<]+ arrives\. Every later promise", page, re.DOTALL)
    assert "if the order due" not in text(as_planner.get(address, {"first": day_ahead(1), "last": day_ahead(2)}))
