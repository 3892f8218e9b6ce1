"""When the stock rises, events that wait for it get what they lack, the nearest first, and it comes to an end."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from decor.studio.models import BackgroundJob
from inventory import counting, holds, ordering, receiving, returning, stocking
from inventory.models import Hardware, Lot, Reservation
from inventory.picking import pick
from inventory.receiving import Came
from inventory.returning import Ways
from inventory.services import reservation_change, reservation_hold, reservation_release
from jobs import tasks
from jobs.designs.models import Piece
from jobs.desk import services
from jobs.desk.following import event_follow
from jobs.desk.models import Unmet
from jobs.desk.waiting import KIND, all_follow_later
from jobs.estimates.services import estimate_now
from tests.inventory import lists
from tests.jobs.desk.asking import fill_store, hire, piece, save_pieces, stock
from tests.jobs.desk.conftest import coming, make_event
from tests.jobs.desk.waiters import again, booked, grow, grown_fair, held, taken, work
from tests.shelf import only


@pytest.fixture
def store(studio):
    hire()
    return fill_store(coming(0))


@pytest.fixture
def fair(store, ann, hall):
    return grown_fair(store, ann, hall)


def test_a_lot_that_is_added_closes_it(fair, store):
    stocking.lot_add(item=store["pole"], quantity=2, arrives_on=coming(0))
    assert held(fair) == 2, "the worker does it"
    assert work() == 1
    assert held(fair) == 8 and not Unmet.objects.exists()


def test_one_too_few_changes_nothing_and_all_of_it_is_told_anew(fair, store):
    stocking.lot_add(item=store["pole"], quantity=1, arrives_on=coming(0))
    before = dict(again(fair).reservation.lines.values_list("item_id", "quantity"))
    assert work() == 1
    assert dict(again(fair).reservation.lines.values_list("item_id", "quantity")) == before
    assert {one["name"]: one["more"] for one in Unmet.objects.get().beyond}["Pole"] == 6


def test_a_lot_put_right_upward_and_one_that_comes(fair, store):
    pole = store["pole"]
    lot = Lot.objects.filter(item=pole.pk).get()
    lot.quantity += 1
    stocking.lot_change(lot=lot)
    assert work() == 1 and held(fair) == 2
    coming_lot = Lot.objects.create(item_id=pole.pk, quantity=1, arrives_on=coming(80), received=False)
    stocking.lot_receive(lot=coming_lot, on=coming(0))
    assert work() == 1 and held(fair) == 8


def test_a_count_upward_and_a_correction(fair, store):
    counting.count(item=store["pole"], found=7)
    assert work() == 1 and held(fair) == 2
    counting.correct(item=store["pole"], change=1, why="one stood behind the door")
    assert work() == 1 and held(fair) == 8


def test_a_list_that_takes_something_into_use_again(store, ann, hall):
    other = Hardware.objects.create(kind="hardware", name="Old pole", purpose="pole", returnable=True, pack_price=20)
    fair = grown_fair(store, ann, hall)
    type(other).objects.filter(pk=other.pk).update(active=False)
    stock(other, 2, coming(0))
    batch = lists.taken(f"Number,In use\n{other.pk},yes\n")
    assert batch.state == "taken" and batch.changed == 1 and held(fair) == 2
    assert work() == 1
    assert held(fair) + held(fair, "Old pole") == 8 and not Unmet.objects.exists()


def test_an_order_in_time_is_promised_if_it_arrives(fair, store):
    (order,) = ordering.orders_draft(packs={store["pole"].pk: 2})
    assert work() == 0, "a draft counts for nothing"
    ordering.order_send(order=order, due_on=coming(70))
    assert work() == 1 and held(fair) == 2, "too late for it"
    ordering.order_put_off(order=order, due_on=coming(9))
    assert work() == 1 and held(fair) == 8


def test_a_delivery_that_comes_before_its_day_is_told_to_whoever_receives_it(as_planner, fair, store):
    (order,) = ordering.orders_draft(packs={store["pole"].pk: 2})
    ordering.order_send(order=order, due_on=coming(70))
    work()
    page = reverse("inventory:order-receive", args=[order.pk])
    form = as_planner.get(page).context["form"]
    sent = {field.html_name: field.value() for field in form if field.value() not in (None, False)}
    text = as_planner.post(page, sent, follow=True).content.decode()
    assert f"All that {fair.number} Harbour fair waited for is free now; it is promised in a moment." in text
    assert work() == 1 and held(fair) == 8


def test_whoever_adds_or_orders_it_is_told_too(as_planner, fair, store):
    words = f"All that {fair.number} Harbour fair waited for is free now; it is promised in a moment."
    page = reverse("inventory:lot-new", args=[store["pole"].pk])
    form = as_planner.get(page).context["form"]
    sent = {field.html_name: field.value() for field in form if field.value() not in (None, False)}
    text = as_planner.post(page, sent | {"quantity": "1"}, follow=True).content.decode()
    assert f"Still short: {fair.number} Harbour fair." in text and words not in text
    (order,) = ordering.orders_draft(packs={store["pole"].pk: 1})
    page = reverse("inventory:order-send", args=[order.pk])
    text = as_planner.post(page, {"due_on": coming(9).isoformat()}, follow=True).content.decode()
    assert words in text
    text = as_planner.post(page, {"due_on": coming(9).isoformat(), "request_key": "2"}, follow=True).content.decode()
    assert words not in text


def test_whoever_receives_too_little_is_told_who_still_waits(fair, store):
    (order,) = ordering.orders_draft(packs={store["pole"].pk: 2})
    ordering.order_send(order=order, due_on=coming(70))
    (lot,) = ordering.expected_lots(order)
    receipt = receiving.order_receive(order=order, came=[Came(lot.pk, 1)], on=coming(0), rest_due=coming(70))
    assert receipt.waited.gets == () and receipt.waited.still_short == (f"{fair.number} Harbour fair",)
    assert work() == 1 and held(fair) == 2


def test_what_another_gives_up_or_needs_no_more(fair, store):
    pole = store["pole"]
    other = taken(pole, 4, fair)
    stock(pole, 3, coming(0))
    reservation_change(reservation=other, lines=[(pole.pk, 2)], starts=other.starts, ends=other.ends)
    assert work() == 1 and held(fair) == 2
    reservation_release(reservation=other)
    assert work() == 1 and held(fair) == 8


def test_what_another_counts_back_unused(fair, store):
    """A pole is out with an event that is over: nobody can have it before it is counted back."""
    pole = store["pole"]
    stock(pole, 2, coming(0))
    now = timezone.now()
    other = taken(pole, 1, fair, label="Over")
    pick(reservation=other, item=pole, quantity=1)
    Reservation.objects.filter(pk=other.pk).update(starts=now - timedelta(days=3), ends=now - timedelta(days=1))
    other.lines.update(starts=now - timedelta(days=3), ends=now - timedelta(days=1))
    all_follow_later()
    assert work() == 1 and held(fair) == 2
    returning.take_back(reservation=again_promise(other), item=pole, ways=Ways(back=1))
    assert work() == 1 and held(fair) == 8


def again_promise(promise: Reservation) -> Reservation:
    return Reservation.objects.get(pk=promise.pk)


def test_a_hold_that_lapses_gives_its_things_to_who_waits(fair, store):
    pole = store["pole"]
    promise = again(fair).reservation
    other = reservation_hold(
        lines=[(pole.pk, 4)], starts=promise.starts, ends=promise.ends, label="Asked for",
        expires=timezone.now() + timedelta(hours=1),
    )  # fmt: skip
    stock(pole, 2, coming(0))
    all_follow_later()
    assert work() == 1 and held(fair) == 2
    long_ago, just_now = timezone.now() - timedelta(days=3), timezone.now() - timedelta(seconds=1)
    Reservation.objects.filter(pk=other.pk).update(end_set=long_ago, expires=just_now)
    holds.holds_tell(now=timezone.now())
    assert work() == 1 and held(fair) == 8


def test_what_would_serve_as_well_closes_it_too(fair, store):
    longer = Hardware.objects.create(kind="hardware", name="A long pole", purpose="pole", returnable=True)
    all_follow_later()
    work()
    assert longer.pk in Unmet.objects.get().beyond[0]["or"] + [one["item"] for one in Unmet.objects.get().beyond]
    stocking.lot_add(item=longer, quantity=2, arrives_on=coming(0))
    assert work() == 1 and held(fair) == 6 and held(fair, "A long pole") == 2


def test_what_is_new_in_the_store_and_would_serve_closes_it_at_once(as_planner, fair, store):
    """Nobody knew of it when it was noted what the event needs."""
    asked = {"name": "Long pole", "purpose": "pole", "pack_size": "1", "pack_price": "20", "lead_days": "5"}
    as_planner.post(reverse("inventory:item-add", args=["hardware"]), asked | {"returnable": "on"})
    longer = Hardware.objects.get(name="Long pole")
    stocking.lot_add(item=longer, quantity=2, arrives_on=coming(0))
    work()
    assert held(fair) == 6 and held(fair, "Long pole") == 2 and not Unmet.objects.exists()


def test_what_is_put_down_as_a_pole_serves_as_one(as_planner, fair, store):
    odd = Hardware.objects.create(kind="hardware", name="Odd rod", purpose="other", returnable=True, pack_price=20)
    stocking.lot_add(item=odd, quantity=2, arrives_on=coming(0))
    assert work() == 0 and held(fair) == 2, "nobody waits for other things"
    odd.purpose = "pole"
    stocking.item_save(item=odd)
    assert work() == 1 and held(fair) + held(fair, "Odd rod") == 8 and not Unmet.objects.exists()


def test_a_list_that_brings_something_alike_closes_it(fair, store):
    batch = lists.taken("Name,Kind,Purpose,Comes back,Pack price,On hand\nLong pole,hardware,pole,yes,20,2\n")
    assert batch.state == "taken", batch.__dict__
    assert work() == 1 and held(fair) + held(fair, "Long pole") == 8 and not Unmet.objects.exists()


def test_the_nearest_event_comes_first_however_they_came_to_wait(store, ann, hall):
    stock(store["base"], 50, coming(0))
    later = booked(ann, hall, days=30, title="Later")
    sooner = booked(ann, hall, days=30, title="Sooner")
    first = sooner.reservation.starts - timedelta(hours=2)
    Reservation.objects.filter(pk=sooner.reservation_id).update(starts=first)
    sooner.reservation.lines.update(starts=first)
    grow(later, 6)
    grow(sooner, 6)
    assert (held(later), held(sooner)) == (1, 1) and Unmet.objects.count() == 2
    stocking.lot_add(item=store["pole"], quantity=1, arrives_on=coming(0))
    assert work() == 1
    assert (held(later), held(sooner)) == (1, 6)
    assert [row.event.title for row in Unmet.objects.select_related("event")] == ["Later"]


def test_whoever_can_have_all_of_it_is_not_kept_waiting_by_whoever_cannot(store, ann, hall):
    stock(store["base"], 50, coming(0))
    large = booked(ann, hall, days=30, title="Large")
    small = booked(ann, hall, days=30, title="Small")
    grow(large, 40)
    stock(store["pole"], 0, coming(0))
    other = taken(store["pole"], 4, small)
    grow(small, 3)
    assert Unmet.objects.count() == 2
    reservation_release(reservation=other)
    assert work() == 1
    assert (held(large), held(small)) == (1, 3)


def test_what_a_followed_event_gives_back_serves_the_next(store, ann, hall):
    """It wants more columns and no panel any more; the panel's sheets are what another waits for."""
    stock(store["base"], 50, coming(0))
    stock(store["sky 5"], 3000, coming(0))
    giver = make_event(ann, hall, coming(30), title="Giver")
    save_pieces(giver, piece("column"), piece())
    estimate_now(event=giver)
    services.event_confirm(event=giver)
    sheets = held(giver, store["net"].name)
    only(store["net"], 2 * sheets)
    taker = make_event(ann, hall, coming(30), title="Taker")
    save_pieces(taker, piece())
    estimate_now(event=taker)
    services.event_confirm(event=taker)
    Piece.objects.filter(event=taker).update(count=2, version=2)
    event_follow(event=again(taker))
    assert Unmet.objects.filter(event=taker).exists() and held(taker, store["net"].name) == sheets
    Piece.objects.filter(event=giver, kind="panel").delete()
    grow(giver, 8)
    assert Unmet.objects.count() == 2 and held(giver, store["net"].name) == sheets, "the old promise is whole"
    stocking.lot_add(item=store["pole"], quantity=5, arrives_on=coming(0))
    assert work() <= 2
    assert held(giver) == 8 and held(giver, store["net"].name) == 0
    assert held(taker, store["net"].name) == 2 * sheets and not Unmet.objects.exists()


def test_an_afternoons_counts_ask_for_one_look_and_other_things_for_none(fair, store):
    for found in range(601, 621):
        counting.count(item=store["white 5"], found=found)
    assert not BackgroundJob.objects.filter(kind=KIND).exists(), "nobody waits for these"
    for found in range(7, 27):
        counting.count(item=store["pole"], found=found)
    assert BackgroundJob.objects.filter(kind=KIND).count() == 1
    assert work() == 1 and held(fair) == 8
    counting.count(item=store["pole"], found=30)
    assert work() == 0, "nobody waits any more"


def test_a_rise_that_came_to_nothing_asks_for_no_look(fair, store):
    with pytest.raises(stocking.PromisesBroken):
        counting.count(item=store["pole"], found=0)
    assert not BackgroundJob.objects.filter(kind=KIND).exists()


def test_a_design_that_cannot_be_worked_out_keeps_nobody_else_waiting(fair, store, ann, hall):
    other = booked(ann, hall, days=31, title="Other")
    Reservation.objects.filter(pk=other.reservation_id).update(
        starts=fair.reservation.starts, ends=fair.reservation.ends
    )
    other.reservation.lines.update(starts=fair.reservation.starts, ends=fair.reservation.ends)
    grow(other, 8)
    Piece.objects.filter(event=fair).update(kind="a kind of before")
    stocking.lot_add(item=store["pole"], quantity=7, arrives_on=coming(0))
    assert work() == 1
    assert (held(fair), held(other)) == (2, 8)


def test_what_comes_in_the_day_itself_serves_an_event_that_is_being_prepared(store, ann, hall):
    event = booked(ann, hall, days=30)
    starts, ends = timezone.now() - timedelta(hours=30), timezone.now() + timedelta(days=2)
    Reservation.objects.filter(pk=event.reservation_id).update(starts=starts, ends=ends)
    event.reservation.lines.update(starts=starts, ends=ends)
    stock(store["pole"], 50, coming(0))
    stock(store["base"], 50, coming(0))
    only(store["red 11"], held(event, "red, 11 in"))
    grow(event, 30)
    assert "red, 11 in" in {line["name"] for line in Unmet.objects.get().beyond}
    stocking.lot_add(item=store["red 11"], quantity=5000, arrives_on=timezone.localdate())
    work()
    assert held(event) == 30 and not Unmet.objects.exists()


def test_every_night_all_that_wait_are_looked_at(fair, store):
    stock(store["pole"], 2, coming(0))
    assert not BackgroundJob.objects.filter(kind=KIND).exists(), "behind the store's back"
    tasks.daily_sweep()
    assert work() == 1 and held(fair) == 8
