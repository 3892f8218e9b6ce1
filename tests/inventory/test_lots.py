"""Lots on screen: added, changed, received, taken away."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.availability import free
from inventory.ledger import on_hand
from inventory.models import Lot
from inventory.services import reservation_confirm
from tests.inventory.conftest import on_shelf
from tests.inventory.test_reservation_hold import START, hold


def today() -> date:
    return timezone.localdate()


def fields(**changes):
    given = {"quantity": "300", "here": "yes", "arrives_on": today().isoformat(), "note": "", **changes}
    return {k: v for k, v in given.items() if v is not None}


def add(client, item, **changes):
    return client.post(reverse("inventory:lot-new", args=[item.pk]), fields(**changes))


def change(client, lot, **changes):
    return client.post(reverse("inventory:lot-change", args=[lot.pk]), fields(**changes))


def receive(client, lot, **given):
    return client.post(reverse("inventory:lot-receive", args=[lot.pk]), given)


def remove(client, lot, **given):
    return client.post(reverse("inventory:lot-remove", args=[lot.pk]), given)


def on_order(item, quantity, days) -> Lot:
    return Lot.objects.create(
        item_id=item.pk, quantity=quantity, arrives_on=today() + timedelta(days=days), received=False
    )


# --- add


def test_add_a_lot_that_is_here(as_planner, sky):
    answer = add(as_planner, sky, use_by=(today() + timedelta(days=400)).isoformat(), note="from the fair")
    assert answer["Location"] == reverse("inventory:item", args=[sky.pk])
    lot = Lot.objects.get()
    assert (lot.item_id, lot.quantity, lot.received, lot.note) == (sky.pk, 300, True, "from the fair")
    assert lot.unit_cost == Decimal("0.0620")


def test_add_an_order(as_planner, sky):
    due = today() + timedelta(days=4)
    add(as_planner, sky, here="no", arrives_on=due.isoformat(), unit_cost="0,055")
    lot = Lot.objects.get()
    assert (lot.received, lot.arrives_on, lot.unit_cost) == (False, due, Decimal("0.055"))


def test_the_form_of_an_order_comes_filled(as_planner, sky):
    text = as_planner.get(reverse("inventory:lot-new", args=[sky.pk]), {"order": 1, "quantity": 200}).content.decode()
    assert 'value="200"' in text and f'value="{today() + timedelta(days=5)}"' in text
    assert "ordered already without an order from here" in text and "Or put it into an order" in text
    onward = f"{reverse('inventory:item-order', args=[sky.pk])}?packs=2"
    assert f'href="{onward}"' in text
    for nonsense in ("0", "-3", "many", "9" * 40):
        assert as_planner.get(reverse("inventory:lot-new", args=[sky.pk]), {"quantity": nonsense}).status_code == 200


BAD = [
    ({"quantity": "0"}, "A lot has one piece or more."),
    ({"quantity": "-4"}, "A lot has one piece or more."),
    ({"quantity": "2.5"}, "This must be a whole number."),
    ({"quantity": "9999999"}, "This must be 1,000,000 or less."),
    ({"here": None}, "Choose one."),
    ({"arrives_on": "soon"}, "This is not a day of the calendar."),
    ({"arrives_on": "2199-01-01"}, "That day is still to come; if it is on order, say so above."),
    ({"here": "no", "arrives_on": "2020-01-01"}, "That day is past. If it came, say so above"),
    ({"use_by": "2020-01-01"}, "It would be past its use before it comes."),
    ({"unit_cost": "-1"}, "This must be 0 or more."),
    ({"note": "x" * 121}, "That is too long: 120 letters at most"),
]


@pytest.mark.parametrize(("changes", "message"), BAD)
def test_bad_input_has_its_message_and_stores_nothing(as_planner, sky, changes, message):
    answer = add(as_planner, sky, **changes)
    assert answer.status_code == 422
    assert message in answer.content.decode()
    assert not Lot.objects.exists()


def test_a_double_tap_is_one_lot(as_planner, sky):
    for _ in range(2):
        assert add(as_planner, sky, request_key="k" * 20).status_code == 302
    assert Lot.objects.count() == 1


# --- change


def test_change_a_lot(as_planner, sky):
    lot = on_shelf(sky, 100)
    change(as_planner, lot, quantity="80", arrives_on="2024-01-09", note="20 burst in the sun", unit_cost="0.07")
    lot.refresh_from_db()
    assert (lot.quantity, lot.arrives_on, lot.unit_cost) == (80, date(2024, 1, 9), Decimal("0.07"))


def test_a_change_that_breaks_a_promise_is_shown_and_undone(as_planner, sky):
    lot = on_shelf(sky, 100)
    hold([(sky.pk, 70)], label="Harbour fair")
    answer = change(as_planner, lot, quantity="64", arrives_on="2024-01-10")
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "This would leave a promise short" in text and "Harbour fair" in text and "<b>6</b>" in text
    assert Lot.objects.get().quantity == 100


def test_what_is_lost_is_lost(as_planner, sky):
    lot = on_shelf(sky, 100)
    hold([(sky.pk, 70)], label="Harbour fair")
    assert change(as_planner, lot, quantity="64", arrives_on="2024-01-10", even_if_short="yes").status_code == 302
    assert Lot.objects.get().quantity == 64


def test_an_order_put_off_beyond_a_promise_is_shown(as_planner, sky):
    lot = on_order(sky, 100, 5)
    hold([(sky.pk, 70)], label="Harbour fair")
    late = (START + timedelta(days=1)).date().isoformat()
    assert change(as_planner, lot, quantity="100", here="no", arrives_on=late).status_code == 422
    assert Lot.objects.get().arrives_on == lot.arrives_on


def test_a_returnable_lot_short_for_two_at_once_names_both(as_planner, pole):
    lot = on_shelf(pole, 8)
    hold([(pole.pk, 4)], label="Harbour fair")
    hold([(pole.pk, 4)], label="Choir jubilee")
    text = change(as_planner, lot, quantity="7", arrives_on="2024-01-10").content.decode()
    assert "This would leave 2 promises short" in text and "Choir jubilee" in text and "Harbour fair" in text


def test_a_change_that_makes_nothing_worse_is_not_held_up_by_an_old_shortage(as_planner, sky):
    lot = on_shelf(sky, 100)
    hold([(sky.pk, 70)])
    Lot.objects.update(quantity=50)
    assert change(as_planner, lot, quantity="60", arrives_on="2024-01-10").status_code == 302


def test_what_is_promised_to_what_has_begun_is_not_said_to_be_used(as_planner, sky):
    """It still lies on the shelf: nobody ticked it."""
    lot, now = on_shelf(sky, 100), timezone.now()
    fair = hold([(sky.pk, 60)], starts=now - timedelta(hours=1), ends=now + timedelta(days=1))
    reservation_confirm(reservation=fair)
    assert on_hand([sky.pk]) == {sky.pk: 100}
    form = as_planner.get(reverse("inventory:lot-change", args=[lot.pk])).content.decode()
    assert "60 of these are used, or for events that have begun." in form and "used already" not in form
    away = as_planner.get(reverse("inventory:lot-remove", args=[lot.pk])).content.decode()
    assert "The 60 that are used, or for events that have begun, stay on record." in away


def test_never_fewer_than_were_used(as_planner, sky):
    lot = on_shelf(sky, 100)
    past = timezone.now() - timedelta(days=9)
    reservation_confirm(reservation=hold([(sky.pk, 60)], starts=past, ends=past + timedelta(days=1)))
    answer = change(as_planner, lot, quantity="59", arrives_on="2024-01-10")
    assert answer.status_code == 422
    said = "60 of this lot are used, or for events that have begun: it can&#x27;t be fewer."
    assert said in answer.content.decode()
    assert change(as_planner, lot, quantity="60", arrives_on="2024-01-10").status_code == 302


# --- receive


def test_receive_an_order(as_planner, sky):
    lot = on_order(sky, 300, 5)
    text = as_planner.get(reverse("inventory:lot-receive", args=[lot.pk])).content.decode()
    assert 'value="300"' in text
    assert receive(as_planner, lot, quantity="280", on=today().isoformat()).status_code == 302
    lot.refresh_from_db()
    assert (lot.received, lot.quantity, lot.arrives_on) == (True, 280, today())


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"quantity": "0", "on": "2026-01-01"}, "If none came, leave the order open or take it away."),
        ({"quantity": "10", "on": "2199-01-01"}, "That day is still to come."),
        ({"quantity": "10", "on": ""}, "Give the day."),
    ],
)
def test_receiving_nonsense_has_its_message(as_planner, sky, given, message):
    lot = on_order(sky, 300, 5)
    answer = receive(as_planner, lot, **given)
    assert answer.status_code == 422
    assert message in answer.content.decode()
    lot.refresh_from_db()
    assert not lot.received


def test_receiving_fewer_than_are_promised_is_shown(as_planner, sky):
    lot = on_order(sky, 300, 5)
    hold([(sky.pk, 290)], label="Harbour fair")
    answer = receive(as_planner, lot, quantity="280", on=today().isoformat())
    assert answer.status_code == 422
    assert "Harbour fair" in answer.content.decode()
    given = {"quantity": "280", "on": today().isoformat(), "even_if_short": "yes"}
    assert receive(as_planner, lot, **given).status_code == 302


def test_what_is_here_can_not_come_again(as_planner, sky):
    lot = on_shelf(sky, 100)
    assert receive(as_planner, lot, quantity="5", on=today().isoformat()).status_code == 302
    lot.refresh_from_db()
    assert lot.quantity == 100


# --- take away


def test_take_a_lot_away(as_planner, sky):
    lot = on_shelf(sky, 100)
    assert "100 pieces will no longer be in stock." in as_planner.get(
        reverse("inventory:lot-remove", args=[lot.pk])
    ).content.decode().replace("\n", " ")
    assert Lot.objects.exists()
    assert remove(as_planner, lot).status_code == 302
    assert on_hand([sky.pk]) == {sky.pk: 0}


def test_a_lot_that_is_promised_is_not_taken_away_unasked(as_planner, sky):
    lot = on_shelf(sky, 100)
    hold([(sky.pk, 70)], label="Harbour fair")
    answer = remove(as_planner, lot)
    assert answer.status_code == 422
    assert "Harbour fair" in answer.content.decode() and "<b>70</b>" in answer.content.decode()
    assert on_hand([sky.pk]) == {sky.pk: 100}
    assert remove(as_planner, lot, even_if_short="yes").status_code == 302
    assert on_hand([sky.pk]) == {sky.pk: 0}


def test_what_was_used_stays_on_record(as_planner, sky):
    lot = on_shelf(sky, 100)
    past = timezone.now() - timedelta(days=9)
    reservation_confirm(reservation=hold([(sky.pk, 60)], starts=past, ends=past + timedelta(days=1)))
    remove(as_planner, lot)
    # The sixty are not counted back yet, so the ledger still has them.
    assert on_hand([sky.pk]) == {sky.pk: 60}
    assert free([sky.pk], START, START + timedelta(days=1)) == {sky.pk: 0}


# --- who may


def test_not_for_crew_nor_for_nobody(as_crew, as_nobody, sky):
    here, coming = on_shelf(sky, 100), on_order(sky, 300, 5)
    for client, status in ((as_crew, 403), (as_nobody, 302)):
        assert add(client, sky).status_code == status
        assert change(client, here, quantity="5", arrives_on="2024-01-10").status_code == status
        assert receive(client, coming, quantity="5", on=today().isoformat()).status_code == status
        assert remove(client, here).status_code == status
    assert list(Lot.objects.order_by("pk").values_list("quantity", "received")) == [(100, True), (300, False)]


def test_no_ghosts(as_planner):
    for name in ("lot-change", "lot-receive", "lot-remove"):
        assert as_planner.get(reverse(f"inventory:{name}", args=[9999])).status_code == 404
    assert as_planner.get(reverse("inventory:lot-new", args=[9999])).status_code == 404
