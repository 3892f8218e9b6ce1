from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.ledger import on_hand
from inventory.models import Lot
from inventory.picking import pick
from inventory.services import reservation_confirm
from tests.inventory.conftest import on_shelf
from tests.inventory.test_reservation_hold import START, hold
from tests.shelf import lost

STOCK = reverse("inventory:stock")


def page(client, **query) -> str:
    answer = client.get(STOCK, query)
    assert answer.status_code == 200
    return answer.content.decode()


def test_an_empty_stock_says_what_it_is_for(as_planner):
    text = page(as_planner)
    assert "Nothing in stock yet." in text
    assert reverse("inventory:item-new") in text


def test_every_item_with_what_is_on_hand_and_free(as_planner, sky, red, pole):
    on_shelf(sky, 1400)
    on_shelf(pole, 12)
    reservation_confirm(reservation=hold([(sky.pk, 300)]))
    text = page(as_planner)
    assert "Balloons, 5 in" in text and "Balloons, 11 in" in text and "Hardware" in text
    assert "1,400 on hand" in text and "<b>1,100</b>" in text
    assert "Every promise is covered" in text
    assert 'fill="#7db3d8"' in text


def test_on_hand_is_what_lies_in_the_store_whatever_is_asked(as_planner, sky, pole):
    """The ledger's sum, as on the item's own page: not what is out, and what is not ticked is not gone."""
    on_shelf(sky, 600)
    on_shelf(pole, 14)
    now = timezone.now()
    fair = hold([(pole.pk, 6), (sky.pk, 100)], starts=now - timedelta(hours=2), ends=now + timedelta(days=2))
    reservation_confirm(reservation=fair)
    pick(reservation=fair, item=pole, quantity=4)
    pick(reservation=fair, item=sky, quantity=43)
    assert on_hand([sky.pk, pole.pk]) == {sky.pk: 557, pole.pk: 10}
    text = page(as_planner)
    assert "10 on hand, 4 out<" in text and "557 on hand<" in text
    later = timezone.localdate() + timedelta(days=40)
    spanned = page(as_planner, first=later.isoformat(), last=later.isoformat())
    assert "10 on hand, 4 out<" in spanned and "557 on hand<" in spanned
    own = as_planner.get(reverse("inventory:item", args=[pole.pk])).content.decode()
    assert "10 on hand, 4 out" in own and "<b>10</b>" in own and "<b>4</b>" in own


def test_by_kind(as_planner, sky, pole):
    text = page(as_planner, kind="hardware")
    assert "Pole, 2 m" in text and "Balloons, 5 in" not in text
    assert "None of these yet." in page(as_planner, kind="cylinder")
    assert "Sky" in page(as_planner, kind="nonsense")


def test_found_by_name_supplier_or_place(as_planner, sky, red, pole):
    for words in ("sky", "estuary", "b2", "5 in SKY"):
        text = page(as_planner, find=words)
        assert reverse("inventory:item", args=[sky.pk]) in text
        assert reverse("inventory:item", args=[red.pk]) not in text
    text = page(as_planner, find="<zebra>")
    assert "Nothing matches “&lt;zebra&gt;”." in text and "Clear the search" in text


def test_the_most_urgent_matter_is_the_only_chip(as_planner, sky, red):
    lot = on_shelf(sky, 100)
    hold([(sky.pk, 100)])
    lost(lot, 36)
    yesterday = timezone.localdate() - timedelta(days=2)
    Lot.objects.create(item_id=sky.pk, quantity=9, arrives_on=yesterday, received=False)
    Lot.objects.create(item_id=red.pk, quantity=9, arrives_on=yesterday, received=False)
    text = page(as_planner)
    assert "36 short" in text and f"short from {START.day} {START:%b}" in text
    assert text.count("Order late") == 1
    assert "1 item short" in text and "2 orders late" in text


def test_few_queries_however_many_items(as_planner, sky, red, pole, django_assert_max_num_queries):
    for item in (sky, red, pole):
        on_shelf(item, 10)
    with django_assert_max_num_queries(20):
        page(as_planner)


@pytest.mark.parametrize("name", ["inventory:stock", "inventory:item-new"])
def test_not_for_crew_nor_for_nobody(as_crew, as_nobody, name):
    assert as_crew.get(reverse(name)).status_code == 403
    assert as_nobody.get(reverse(name)).status_code == 302
