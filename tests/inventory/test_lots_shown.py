"""An item's lots and its turnover, as its page tells them."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.ledger import on_hand
from inventory.models import Item, Lot, Movement, Sheet
from inventory.picking import pick
from inventory.returning import Ways, take_back
from tests.inventory.conftest import on_shelf
from tests.inventory.test_buying import promised
from tests.inventory.test_lots import change, fields, receive, today
from tests.inventory.test_order_pages import text_of
from tests.inventory.test_ordering import sent
from tests.inventory.test_turnover import event


@pytest.fixture
def net(studio) -> Sheet:
    return Sheet.objects.create(
        kind=Item.Kind.SHEET, name="Net 13 wide", returnable=True, rows=22, columns=13, pitch_m=0.125,
        sized_diameter_m=0.119, uses=3, pack_price=12,
    )  # fmt: skip


def page(client, item) -> str:
    return text_of(client.get(reverse("inventory:item", args=[item.pk])))


def out_and_back(net, quantity: int) -> None:
    held = promised(net, quantity, in_days=1, label="Fair")
    pick(reservation=held, item=net, quantity=quantity)
    take_back(reservation=held, item=net, ways=Ways(back=quantity))


def test_one_delivery_of_sheets_is_one_lot_by_the_uses_that_are_left(as_planner, net):
    on_shelf(net, 12, batch="T 4", unit_cost=12)
    out_and_back(net, 5)
    text = page(as_planner, net)
    assert Lot.objects.count() == 2
    assert text.count("batch T 4") == 1 and "<b>12</b>" in text
    assert "7 with 3 uses left, never used" in text and "5 with 2 uses left" in text
    assert "€12.00 each" in text
    assert text.index("7 with 3 uses left") < text.index("5 with 2 uses left")


def test_sheets_that_are_all_worn_out_read_as_used_up(as_planner, net):
    on_shelf(net, 2, uses_left=1)
    out_and_back(net, 2)
    text = page(as_planner, net)
    assert "All used up." in text and "Used up (1)" in text and "<b>0</b>" in text


def test_a_split_is_changed_by_its_delivery(as_planner, net):
    first = on_shelf(net, 12)
    out_and_back(net, 5)
    split = Lot.objects.get(split_from=first)
    for name in ("lot-change", "lot-remove"):
        answer = as_planner.get(reverse(f"inventory:{name}", args=[split.pk]))
        assert answer.url == reverse("inventory:lot-change", args=[first.pk])


def test_latex_past_its_use_is_said_not_to_be_promised(as_planner, sky, studio):
    on_shelf(sky, 300, use_by=today() - timedelta(days=3))
    text = page(as_planner, sky)
    assert "Past its use, so it is not promised to anybody" in text and "0 free" in text and "Past use" in text


def test_uses_left_are_asked_only_where_sheets_wear_out(as_planner, net, sky):
    new = reverse("inventory:lot-new", args=[net.pk])
    assert "Uses left of each" in text_of(as_planner.get(new))
    assert "Uses left" not in text_of(as_planner.get(reverse("inventory:lot-new", args=[sky.pk])))
    answer = as_planner.post(new, fields(quantity="4", uses_left="4"))
    assert answer.status_code == 422 and "A new one stands 3 uses" in text_of(answer)
    as_planner.post(new, fields(quantity="4", uses_left="2"))
    as_planner.post(new, fields(quantity="5", uses_left="3"))
    assert sorted(Lot.objects.values_list("quantity", "uses_left")) == [(4, 2), (5, None)]


def test_what_is_noted_as_ordered_may_go_on_an_order_instead(as_planner, sky, studio):
    new = reverse("inventory:lot-new", args=[sky.pk])
    order = reverse("inventory:item-order", args=[sky.pk])
    assert order in text_of(as_planner.get(new, {"order": 1}))
    assert order not in text_of(as_planner.get(new))


def test_batch_and_use_by_are_asked_when_it_comes(as_planner, planner, sky):
    lot = Lot.objects.create(item_id=sky.pk, quantity=300, arrives_on=today(), received=False)
    wrong = receive(as_planner, lot, quantity="300", on=today().isoformat(), use_by="2020-01-01")
    assert wrong.status_code == 422 and "past its use before it came" in text_of(wrong)
    use_by = today() + timedelta(days=200)
    receive(as_planner, lot, quantity="300", on=today().isoformat(), use_by=use_by.isoformat(), batch=" K  7 ")
    lot.refresh_from_db()
    assert (lot.batch, lot.use_by, lot.movements.get().by) == ("K 7", use_by, planner)


def test_a_lot_of_an_order_goes_by_its_order(as_planner, sky, studio):
    order = sent(packs={sky.pk: 2})
    lot = Lot.objects.get()
    assert f"See order {order.number}" in page(as_planner, sky)
    for name in ("lot-change", "lot-receive", "lot-remove"):
        answer = as_planner.get(reverse(f"inventory:{name}", args=[lot.pk]))
        assert answer.url == reverse("inventory:order", args=[order.pk])


def test_a_changed_quantity_is_a_correction_with_its_name(as_planner, planner, sky):
    lot = on_shelf(sky, 300)
    change(as_planner, lot, quantity="280")
    line = Movement.objects.get(kind="corrected")
    assert (line.store, line.by) == (-20, planner) and on_hand([sky.pk]) == {sky.pk: 280}


def test_turnover_is_told_with_what_it_stands_on(as_planner, sky, studio):
    on_shelf(sky, 3000)
    assert "a month" not in page(as_planner, sky)
    event(sky, 100, used=99, burst=1)
    text = page(as_planner, sky)
    assert (
        "About 100 a month leave for good" in text
        and "Too few to tell how many burst" in text
        and "studio&#x27;s 4 % of spares" in text
    )
    event(sky, 400, used=386, burst=14)
    text = page(as_planner, sky)
    # (200 × 0.04 / 1.04 + 15) / 700 = 0.0324, told to half of one
    assert "3 of 100 burst" in text and "15 of 500 burst in events that were counted back" in text


def test_of_what_comes_back_only_losses_are_told(as_planner, pole, studio):
    on_shelf(pole, 10)
    held = promised(pole, 6, in_days=1, label="Fair")
    pick(reservation=held, item=pole, quantity=6)
    take_back(reservation=held, item=pole, ways=Ways(back=4, lost=2))
    assert "About 2 a month lost, thrown away or worn out" in page(as_planner, pole)


def test_the_stock_page_counts_what_needs_somebody(as_planner, sky, studio):
    on_shelf(sky, 30, use_by=timezone.localdate() + timedelta(days=9))
    text = text_of(as_planner.get(reverse("inventory:stock")))
    assert "What needs somebody (1)" in text and reverse("inventory:buy") in text


def test_today_tells_what_presses_and_not_the_rest(as_planner, sky, pole, studio):
    on_shelf(sky, 30, use_by=timezone.localdate() + timedelta(days=9))
    assert "In the store" not in text_of(as_planner.get("/"))
    Lot.objects.create(item_id=pole.pk, quantity=2, arrives_on=today() - timedelta(days=1), received=False)
    text = text_of(as_planner.get("/"))
    assert "In the store" in text and "1 order late" in text
