"""The stock of one event: hold, confirm, release, and how it stands."""

import re
from datetime import timedelta
from html import unescape

import pytest
from django.urls import reverse
from django.utils import timezone

from decor.studio.templatetags.desk import day_words
from inventory.availability import free
from inventory.buying import buy_lines
from inventory.models import Item, Order, Reservation
from inventory.services import Shortage
from jobs.crew.models import DayHold
from jobs.desk import services
from jobs.desk.changes import event_change
from jobs.desk.following import standing_words
from jobs.desk.stock import event_needs, stock_row
from jobs.estimates.services import estimate_now
from jobs.events.models import Event, Stage
from tests.jobs.desk.asking import estimated_event, fill_store, hire, piece, save_pieces, stock
from tests.jobs.desk.conftest import coming, make_event
from tests.shelf import only


@pytest.fixture
def store(studio):
    hire()
    return fill_store(coming(0))


@pytest.fixture
def event(store, ann, hall):
    return estimated_event(ann, hall)


def free_now(event, item):
    return free([item.pk], event.load_in, event.strike)[item.pk]


def short_of_sky(store, quantity=489):
    only(store["sky 5"], quantity)


def lapse(event):
    past = timezone.now() - timedelta(minutes=1)
    Reservation.objects.filter(pk=event.reservation_id).update(expires=past)
    DayHold.objects.filter(event=event).update(expires=past)
    event.refresh_from_db()


def test_a_hold_takes_stock_hours_and_van_together(event, store, studio):
    expires = services.event_hold(event=event)
    assert abs(expires - timezone.now() - timedelta(hours=studio.hold_hours)) < timedelta(minutes=1)
    assert free_now(event, store["sky 5"]) == 600 - 525
    assert free_now(event, store["pole"]) == 6 - 2
    day = DayHold.objects.get(event=event)
    assert (day.people, day.vans, day.expires) == (2, 1, expires)
    assert set(day.skills) == {"lead", "rig", "drive"}
    assert day.starts < event.load_in and day.ends > event.strike


def test_all_or_nothing(event, store):
    short_of_sky(store)
    with pytest.raises(Shortage) as short:
        services.event_hold(event=event)
    assert [(line.item_id, line.short) for line in short.value.lines] == [(store["sky 5"].pk, 36)]
    event.refresh_from_db()
    assert event.reservation is None
    assert not DayHold.objects.exists() and not Reservation.objects.exists()


def test_what_is_free_can_be_held_when_told_so(event, store):
    short_of_sky(store)
    services.event_hold(event=event, partly=True)
    (line,) = buy_lines(until=timezone.localdate(event.doors), now=timezone.now())
    assert (line.item.pk, line.buy.short) == (store["sky 5"].pk, 36)
    assert [one.label for one in line.what_for] == [f"{event.number} {event.title}"]
    assert free_now(event, store["sky 5"]) == 0
    assert DayHold.objects.exists()
    stock(store["sky 5"], 100, coming(0), arrives=10, received=False)
    services.event_hold(event=event)
    assert event.reservation.lines.get(item=store["sky 5"].pk).quantity == 525


def test_held_again_it_is_one_hold_that_lasts_longer(event, store):
    services.event_hold(event=event)
    first = event.reservation_id
    Reservation.objects.update(expires=timezone.now() + timedelta(hours=1))
    expires = services.event_hold(event=event)
    assert event.reservation_id == first
    assert event.reservation.expires == expires
    assert free_now(event, store["sky 5"]) == 600 - 525


def test_a_hold_follows_the_event(event, store):
    services.event_hold(event=event)
    save_pieces(event, piece("column", count=1))
    with pytest.raises(services.CannotHold, match="changed since its estimate"):
        services.event_hold(event=event)
    estimate_now(event=event)
    services.event_hold(event=event)
    assert free_now(event, store["pole"]) == 3


def test_nothing_is_held_before_there_is_an_estimate(store, ann, hall):
    bare = make_event(ann, hall, coming(30))
    with pytest.raises(services.CannotHold, match="Estimate the event first"):
        services.event_hold(event=bare)


def test_a_lapsed_hold_counts_for_nothing_and_can_be_taken_again(event, store):
    services.event_hold(event=event)
    lapse(event)
    assert free_now(event, store["sky 5"]) == 600
    assert event_needs(event).standing == "lapsed"
    services.event_hold(event=event)
    assert event_needs(event).standing == "hold"


def test_confirming_promises_for_good(event, store):
    services.event_hold(event=event)
    services.event_confirm(event=event)
    assert (event.stage, event.reservation.state) == (Stage.CONFIRMED, "confirmed")
    assert DayHold.objects.get().expires is None
    services.event_confirm(event=event)
    assert Reservation.objects.count() == DayHold.objects.count() == 1


def test_confirming_without_a_hold(event, store):
    services.event_confirm(event=event)
    assert event.reservation.state == "confirmed"
    assert free_now(event, store["sky 5"]) == 600 - 525


def test_confirming_a_lapsed_hold_whose_stock_is_gone(event, store, ann, hall):
    services.event_hold(event=event)
    lapse(event)
    other = make_event(ann, hall, coming(30), title="Other")
    save_pieces(other, piece())
    estimate_now(event=other)
    services.event_confirm(event=other)
    with pytest.raises(Shortage):
        services.event_confirm(event=event)
    event.refresh_from_db()
    assert event.stage == Stage.ENQUIRY
    assert DayHold.objects.get(event=event).expires is not None


def test_a_part_held_is_not_confirmed_as_if_it_were_all(event, store):
    short_of_sky(store)
    services.event_hold(event=event, partly=True)
    with pytest.raises(Shortage):
        services.event_confirm(event=event)
    event.refresh_from_db()
    assert (event.stage, event.reservation.state) == (Stage.ENQUIRY, "hold")


def test_a_confirmed_event_is_not_put_back_on_hold(event, store):
    services.event_confirm(event=event)
    with pytest.raises(services.CannotHold, match="confirmed, not held"):
        services.event_hold(event=event)


def test_releasing_frees_all(event, store):
    services.event_hold(event=event)
    services.event_release(event=event)
    services.event_release(event=event)
    assert free_now(event, store["sky 5"]) == 600
    assert not DayHold.objects.exists()
    services.event_hold(event=event)
    assert event.reservation.state == "hold"


def test_nothing_is_held_for_what_has_ended(event, store):
    event.stage = Stage.LOST
    event.save()
    for act in (services.event_hold, services.event_confirm):
        with pytest.raises(services.CannotHold, match="lost"):
            act(event=event)


def test_what_the_event_holds_is_free_for_it(event, store):
    services.event_hold(event=event)
    lines = {line.need.label: line for line in event_needs(event).lines if line.need.size != "11 in"}
    assert (lines["sky"].free, lines["sky"].short) == (600, 0)
    assert event_needs(event).covers


def test_rows_for_the_glance(event, store):
    assert (stock_row(event).stands, stock_row(event).act[0]) == ("All free, not held", "Hold its stock and hours")
    services.event_hold(event=event)
    assert (stock_row(event).stands, stock_row(event).state) == ("All held", "wait")
    save_pieces(event, piece("column"))
    estimate_now(event=event)
    assert stock_row(event).stands == "Held for what it was before"
    services.event_hold(event=event)
    lapse(event)
    assert stock_row(event).stands == "The hold lapsed"
    services.event_confirm(event=event)
    assert (stock_row(event).stands, stock_row(event).state) == ("All reserved", "ok")


def test_a_hold_does_not_speak_for_balloons_without_a_colour(store, ann, hall):
    made = make_event(ann, hall, coming(30))
    save_pieces(made, piece(measures={"colours": []}))
    estimate_now(event=made)
    services.event_hold(event=made)
    row = stock_row(made)
    assert row.stands == "What has a colour is held" and row.small.endswith("; 525 balloons have no colour yet")
    services.event_confirm(event=made)
    assert stock_row(made).stands == "What has a colour is reserved"


def test_the_row_says_what_to_order_and_by_when(event, store):
    short_of_sky(store)
    row = stock_row(event)
    last = day_words(coming(29) - timedelta(days=5))
    assert (row.stands, row.small, row.state) == ("Short of 36 sky", f"last day to order: {last}", "warn")
    words, address = row.act
    order = reverse("inventory:item-order", args=[store["sky 5"].pk])
    assert words == "Order 1 pack of sky" and address.startswith(f"{order}?packs=1&for=")


def test_what_is_short_goes_into_a_draft_that_the_event_then_leads_on_to(as_planner, event, store):
    short_of_sky(store)
    _, address = stock_row(event).act
    answer = as_planner.post(address, {"packs": "1", "request_key": "order-1"})
    assert answer.url == reverse("jobs:event-stock", args=[event.pk])
    draft = Order.objects.get()
    (told,) = draft.lines.get().what_for
    assert told == {"label": f"{event.number} {event.title}", "quantity": 36, "day": coming(30).isoformat()}
    text = page(as_planner, event)
    assert f"1 pack of 100 in draft order {draft.number}" in text and "36 short" in text
    assert stock_row(event).act == (f"Send order {draft.number}", reverse("inventory:order-send", args=[draft.pk]))
    assert f'href="{reverse("inventory:order-send", args=[draft.pk])}">Send order {draft.number}</a>' in text


def test_the_row_says_when_it_is_too_late(event, store):
    short_of_sky(store)
    type(store["sky 5"]).objects.update(lead_days=60)
    row = stock_row(event)
    assert (row.state, row.state_words) == ("no", "Late")
    assert row.small.startswith("should have been ordered by ")


def test_the_row_before_an_estimate(store, ann, hall):
    assert stock_row(make_event(ann, hall, coming(30))).stands == "Not known yet"


def post(client, name, event, **given):
    return client.post(reverse(f"jobs:event-{name}", args=[event.pk]), {"request_key": f"{name}-1", **given})


def page(client, event):
    return client.get(reverse("jobs:event-stock", args=[event.pk])).content.decode()


def test_hold_confirm_release_by_hand(as_planner, event, store):
    assert "Hold stock, hours and van for 72 hours" in page(as_planner, event)
    assert post(as_planner, "hold", event).url == reverse("jobs:event-stock", args=[event.pk])
    text = page(as_planner, event)
    assert "are held for 72 hours" in text and "Held until " in text and "Then it is free for others" in text
    assert "Counted against the day: 2 people and 1 van" in text
    post(as_planner, "confirm", event)
    assert "All of it is reserved." in page(as_planner, event)
    post(as_planner, "release", event)
    assert "free for others" in page(as_planner, event)


def test_a_confirmed_event_that_lets_go_is_told_that_nothing_is_kept_for_it(as_planner, event, store):
    assert "All of it is free. Nothing is held yet." in page(as_planner, event)
    post(as_planner, "confirm", event)
    post(as_planner, "release", event)
    text = page(as_planner, event)
    assert "Not kept" in text and "Nothing is kept for it." in text and "Nothing is held yet" not in text
    assert "Reserve stock, hours and van" in text and "the client said yes" not in text
    post(as_planner, "confirm", event, request_key="r" * 20)
    assert "All of it is reserved." in page(as_planner, event)


def test_a_double_tap_holds_once(as_planner, event, store):
    for _ in range(2):
        assert post(as_planner, "hold", event).status_code == 302
    assert Reservation.objects.count() == 1


def test_a_shortage_is_told_with_its_lines(as_planner, event, store):
    short_of_sky(store)
    response = post(as_planner, "hold", event)
    text = response.content.decode()
    assert response.status_code == 409
    assert "Nothing is held: short of 36 of sky, 5 in." in text
    assert (
        "Order 1 pack of sky" in text
        and "1 pack of 100, €6.20" in text
        and "last day to order" in text
        and "36 short" in text
    )
    assert not Reservation.objects.exists()
    post(as_planner, "hold", event, partly="1", request_key="part")
    assert "What was free is held until " in page(as_planner, event)


def test_what_is_held_in_part_is_told_once(as_planner, event, store):
    short_of_sky(store)
    assert "Hold what is free, hours and van for 72 hours" in page(as_planner, event)
    post(as_planner, "hold", event, partly="1")
    text = page(as_planner, event)
    assert "What was free is held until " in text and "Missing: 36 of sky, 5 in." in text
    assert "What was held before" not in text and "Now it needs" not in text
    assert "Hold it for 72 hours from now" in text and "Hold what is free" not in text, "all that is free is held"
    event = Event.objects.get(pk=event.pk)
    assert stock_row(event).small.endswith("; what was free is held")
    assert standing_words(event.pk) == ("warn", "Missing: 36 of sky, 5 in. What was free is held.")
    # Too few for it, so they are not held by themselves: now there is something more to hold.
    stock(store["sky 5"], 20, coming(0))
    text = page(as_planner, event)
    assert "Held for less than it needs now until " in text and "Missing: 16 of sky, 5 in." in text
    assert "What was held before is kept. Now it needs 36 more of sky, 5 in." in text
    assert "Hold what is free, hours and van for 72 hours" in text
    post(as_planner, "hold", event, partly="1", request_key="rest")
    text = page(as_planner, event)
    assert "Missing: 16 of sky, 5 in." in text and "Now it needs" not in text


def test_what_the_studio_never_had_is_added_to_stock_from_here(as_planner, event, store):
    Item.objects.filter(pk__in=[store["pole"].pk, store["base"].pk]).update(active=False)
    estimate_now(event=event)
    assert stock_row(event).stands == "Short of 2 poles and 1 other thing"
    text = page(as_planner, event)
    assert "2 poles<small>none in stock yet</small>" in text and "2 base plates" in text
    assert "Add poles to stock" in text and "An order counts once" not in text
    (address,) = re.findall(r'href="(/stock/new/hardware/[^"]*Base[^"]*)"', text)
    form = as_planner.get(unescape(address)).context["form"]
    assert form["name"].value() == "Base plate" and form["purpose"].value() == "base"
    given = {"name": "Base plate, square", "purpose": "base", "pack_size": "1", "pack_price": "12", "lead_days": "5"}
    lot = as_planner.post(unescape(address), given).url
    given = {"quantity": "4", "here": "yes", "arrives_on": f"{coming(0)}"}
    assert as_planner.post(lot, given).url == reverse("jobs:event-stock", args=[event.pk])
    assert "4 of Base plate, square are in stock." in page(as_planner, event)


def test_an_order_is_noted_as_it_is_needed_and_leads_back(as_planner, event, store):
    short_of_sky(store)
    (order,) = set(re.findall(r'href="(/stock/\d+/order/[^"]*)"', page(as_planner, event)))
    text = as_planner.get(unescape(order)).content.decode()
    (address,) = set(re.findall(r'href="(/stock/\d+/lots/new/[^"]*)"', text))
    form = as_planner.get(unescape(address)).context["form"]
    assert (form["quantity"].value(), form["here"].value()) == (100, "no")
    given = {"quantity": "100", "here": "no", "arrives_on": f"{coming(5)}"}
    assert as_planner.post(unescape(address), given).url == reverse("jobs:event-stock", args=[event.pk])
    assert not event_needs(event).short


def test_an_order_leads_to_no_other_site(as_planner, store):
    given = {"quantity": "100", "here": "no", "arrives_on": f"{coming(5)}"}
    item = store["sky 5"].pk
    answer = as_planner.post(f"/stock/{item}/lots/new/?to=https://elsewhere.example/", given)
    assert answer.url == f"/stock/{item}/"


def test_open_colours_are_told(as_planner, store, ann, hall):
    made = make_event(ann, hall, coming(30))
    save_pieces(made, piece(measures={"colours": []}))
    estimate_now(event=made)
    assert "525 balloons have no colour yet" in page(as_planner, made)


def test_getting_changes_nothing(as_planner, event, store):
    page(as_planner, event)
    for name in ("hold", "confirm", "release"):
        assert as_planner.get(reverse(f"jobs:event-{name}", args=[event.pk])).status_code == 405
    assert not Reservation.objects.exists() and not DayHold.objects.exists()


@pytest.mark.parametrize("name", ["hold", "confirm", "release"])
def test_not_for_crew_or_strangers(as_crew, as_nobody, event, store, name):
    assert post(as_crew, name, event).status_code == 403
    assert post(as_nobody, name, event).status_code == 302
    assert not Reservation.objects.exists()


def test_the_page_is_not_for_crew_or_strangers(as_crew, as_nobody, event):
    address = reverse("jobs:event-stock", args=[event.pk])
    assert as_crew.get(address).status_code == 403
    assert as_nobody.get(address).status_code == 302


def test_an_event_moved_by_somebody_else_is_not_promised_for_its_old_time(event, store):
    stale = Event.objects.select_related("venue", "client", "reservation").get(pk=event.pk)
    event.note = "Somebody else was here"
    event_change(event=event, version=event.version)
    for act in (services.event_hold, services.event_confirm):
        with pytest.raises(services.CannotHold, match="Somebody changed this event just now"):
            act(event=stale)
    assert not Reservation.objects.exists() and not DayHold.objects.exists()
    services.event_hold(event=event)
