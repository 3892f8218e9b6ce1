"""What an event needs beyond its promise is weighed anew wherever it is told, and every page says the same."""

from datetime import timedelta
from importlib import import_module

import pytest
from django.apps import apps
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from decor.studio.models import BackgroundJob
from inventory.buying import buy_lines
from inventory.matters import matters, pressing
from inventory.models import Lot, Reservation
from inventory.services import reservation_hold, reservation_release
from inventory.stocking import lot_add
from jobs.crew.models import Member, Shift
from jobs.desk import services
from jobs.desk.following import SOON, standing_words
from jobs.desk.matters import lines_of
from jobs.desk.models import Unmet
from jobs.desk.stock import event_needs
from jobs.desk.unmet import beyond_now
from jobs.estimates.services import estimate_now
from jobs.events.models import Event
from tests.jobs.desk.asking import fill_store, hire, piece, save_pieces, stock
from tests.jobs.desk.conftest import coming, make_event
from tests.jobs.desk.waiters import again, booked, grow, grown_fair, held, taken, work
from tests.shelf import lost


@pytest.fixture
def store(studio):
    """Six poles and six bases of each, 600 of every balloon."""
    hire()
    return fill_store(coming(0))


@pytest.fixture
def fair(store, ann, hall):
    return grown_fair(store, ann, hall)


def lacking_everywhere(browser, event: Event, item) -> dict[str, int]:
    """How many of the item each page says that the event lacks."""
    now, event = timezone.now(), again(event)
    name, label = item.name, f"{event.number} {event.title}"
    bought = [line for line in buy_lines(until=coming(60), now=now) if line.item.pk == item.pk]
    told = {"buy": sum(one.quantity for line in bought for one in line.what_for if one.label == label)}
    told["bought"] = sum(line.buy.short for line in bought)
    (matter,) = [one for one in matters(now=now) if one.says == label]
    told["needs"] = number_before(f" of {name}", matter.small) if matter.small.startswith("lacks") else 0
    (line,) = [one for one in event_needs(event).lines if item.pk in {choice.id for choice in one.need.choices}]
    told["line"] = line.short
    told["stock"] = number_before(f" of {name}", event_needs(event).beyond.lacks)
    page = browser.get(reverse("jobs:event-stock", args=[event.pk])).content.decode()
    told["stock page"] = number_before(f" of {name}", page.partition("Missing: ")[2].partition("</p>")[0])
    (listed,) = lines_of([event], now)
    chip = listed.chip.words
    told["today"] = number_before(" missing", chip) if chip.endswith("missing") else 0
    told["chart"] = number_before(f" of {name}", standing_words(event.pk)[1].partition("Missing: ")[2])
    picks = browser.get(reverse("inventory:pick", args=[event.reservation_id])).content.decode()
    told["picks"] = number_before(f" of {name}", picks.partition("Lacks ")[2].partition("<")[0])
    return told


def number_before(words: str, text: str) -> int:
    return int(text.partition(words)[0].replace(",", "").split()[-1]) if words in text else 0


def same(found: dict[str, int], number: int) -> bool:
    assert found == dict.fromkeys(found, number)
    return len(found) == 9


def test_what_is_noted_is_all_that_is_needed_more_and_not_what_is_short(fair, store):
    (line,) = Unmet.objects.get(event=fair).beyond[:1]
    told = {one["name"]: one["more"] for one in Unmet.objects.get(event=fair).beyond}
    assert told["Pole"] == 6 and told["Base plate"] == 6 and line["or"] == []
    assert beyond_now([fair.pk])[fair.pk].lacking == {store["pole"].pk: 2}
    assert held(fair) == 2


def test_all_pages_say_the_same_after_the_store_went_down_and_up(as_planner, fair, store):
    pole = store["pole"]
    assert same(lacking_everywhere(as_planner, fair, pole), 2)
    other = taken(pole, 3, fair)
    assert same(lacking_everywhere(as_planner, fair, pole), 5), "what was free then is promised to another since"
    # Behind the store's back, so that nobody follows: what is told must not wait for that.
    Lot.objects.create(item_id=pole.pk, quantity=1, arrives_on=coming(-1))
    assert same(lacking_everywhere(as_planner, fair, pole), 4)
    lost(Lot.objects.filter(item=pole.pk).earliest("pk"), 1)
    assert same(lacking_everywhere(as_planner, fair, pole), 5)
    Lot.objects.create(item_id=pole.pk, quantity=2, arrives_on=coming(9), received=False)
    assert same(lacking_everywhere(as_planner, fair, pole), 3), "what is on order counts from its day"
    Reservation.objects.filter(pk=other.pk).update(state="released")
    other.lines.update(counts=False)
    assert same(lacking_everywhere(as_planner, fair, pole), 0)


def test_what_is_free_again_is_not_told_as_missing(as_planner, fair, store):
    Lot.objects.create(item_id=store["pole"].pk, quantity=2, arrives_on=coming(-1))
    now, event = timezone.now(), again(fair)
    (matter,) = [one for one in matters(now=now) if one.says.endswith("Harbour fair")]
    assert (matter.kind, matter.do, matter.chip) == ("free", "Promise it", ("wait", "Free now"))
    (line,) = lines_of([event], now)
    assert line.chip.words == "Free now: promise it" and line.chip in line.to_settle
    assert standing_words(event.pk)[0] == "wait" and "all of that is free now" in standing_words(event.pk)[1]
    event = fresh_estimate(event)
    page = as_planner.get(reverse("jobs:event-stock", args=[event.pk])).content.decode()
    assert "and all of it is free." in page and "Missing:" not in page and "Bring the reservation up to date" in page
    picks = as_planner.get(reverse("inventory:pick", args=[event.reservation_id])).content.decode()
    assert "free now, and not promised to it yet" in picks
    services.event_confirm(event=event)
    assert held(event) == 8 and not Unmet.objects.exists()


def fresh_estimate(event: Event) -> Event:
    estimate_now(event=event)
    return again(event)


def test_what_a_later_event_has_serves_nobody_before_it(as_planner, fair, store):
    """Balloons are used up: all that is free is promised to an event beyond the buy list's last day."""
    red = store["red 11"]
    starts = timezone.now() + timedelta(days=90)
    rest = 600 - held(fair, "red, 11 in")
    later = reservation_hold(
        lines=[(red.pk, rest)], starts=starts, ends=starts + timedelta(days=1), label="Later",
        expires=timezone.now() + timedelta(days=9),
    )  # fmt: skip
    more = {one["name"]: one["more"] for one in Unmet.objects.get(event=fair).beyond}["red, 11 in"]
    line = next(line for line in buy_lines(until=coming(40), now=timezone.now()) if line.item.pk == red.pk)
    assert line.buy.short == more == beyond_now([fair.pk])[fair.pk].lacking[red.pk]
    reservation_release(reservation=later)
    assert red.pk not in beyond_now([fair.pk])[fair.pk].lacking


def test_two_that_wait_for_the_same_pieces_are_told_apart(as_planner, store, ann, hall):
    """Of ten poles eight are promised; the nearer event lacks bases besides, so it can't have the two that are left,
    and the other can."""
    stock(store["pole"], 4, coming(0))
    near = booked(ann, hall, days=30, title="Near", columns=4)
    far = booked(ann, hall, days=31, title="Far", columns=2)
    Reservation.objects.filter(pk=far.reservation_id).update(
        starts=near.reservation.starts + timedelta(hours=1), ends=near.reservation.ends
    )
    far.reservation.lines.update(starts=near.reservation.starts + timedelta(hours=1), ends=near.reservation.ends)
    stock(store["base"], 2, coming(0))
    grow(near, 8)
    stands = beyond_now([near.pk])[near.pk]
    assert stands.lacking == {store["base"].pk: 2}, "four poles are free for it"
    stock(store["base"], 9, coming(0))
    Unmet.objects.filter(event=near).update(beyond=[line("Pole", store, 5), line("Base plate", store, 40, "base")])
    Unmet.objects.create(event=far, beyond=[line("Pole", store, 3)])
    told = beyond_now([near.pk, far.pk])
    assert told[far.pk].lacking == {}, "it can have all that it lacks, and has it as the store follows"
    assert told[near.pk].lacking[store["pole"].pk] == 4
    (needed,) = [one for one in event_needs(again(near)).lines if one.need.label == "pole"]
    assert needed.free == 4 + 1, "its own, and the one that is not spoken for"


def line(name: str, store, more: int, key: str = "pole") -> dict:
    return {"item": store[key].pk, "name": name, "more": more, "or": []}


def test_the_pick_list_tells_its_crew_too_and_an_open_page_hears_of_it(as_planner, as_crew, crew_user, fair, store):
    cory = Member.objects.create(name="Cory S", user=crew_user)
    Shift.objects.create(event=fair, member=cory, task="rig", starts=fair.load_in, ends=fair.strike)
    page = reverse("inventory:pick", args=[again(fair).reservation_id])
    words = "Lacks 2 of Pole: not promised to it, so not on this list."
    for browser, helped in ((as_planner, True), (as_crew, False)):
        text = browser.get(page).content.decode()
        assert words in text and ("See what would help" in text) == helped
    fresh = reverse("inventory:pick-now", args=[again(fair).reservation_id])
    assert as_crew.get(fresh).json()["beyond"] == words
    services.event_release(event=again(fair))
    assert as_planner.get(fresh).json()["beyond"] == ""


def test_a_promise_that_counts_no_more_tells_nothing(as_planner, fair):
    services.event_release(event=again(fair))
    assert beyond_now([fair.pk]) == {} and not Unmet.objects.exists()


def test_a_hold_taken_partly_tells_what_is_left_until_it_lapses(as_planner, store, ann, hall):
    event = make_event(ann, hall, coming(30), title="Choir jubilee")
    save_pieces(event, piece("column", count=8))
    estimate_now(event=event)
    services.event_hold(event=event, partly=True)
    pole = store["pole"]
    assert held(event) == 6 and beyond_now([event.pk])[event.pk].lacking[pole.pk] == 2
    assert f"2 of {pole.name}" in as_planner.get(reverse("jobs:event-stock", args=[event.pk])).content.decode()
    Reservation.objects.update(expires=timezone.now() - timedelta(minutes=1))
    assert beyond_now([event.pk]) == {}
    assert not [one for one in matters(now=timezone.now()) if one.kind == "short"]


def test_near_events_press_on_today_too(as_planner, store, ann, hall):
    event = booked(ann, hall, days=3, columns=2)
    grow(event, 8)
    now = timezone.now()
    (matter,) = [one for one in matters(now=now) if one.kind == "near"]
    assert matter.says.endswith("Harbour fair") and matter in pressing(now=now)


def test_as_many_queries_for_four_as_for_one(as_planner, store, ann, hall):
    events = [booked(ann, hall, title=f"Event {number}") for number in range(4)]
    grow(events[0], 9)
    pages = [reverse("inventory:buy"), reverse("inventory:matters"), reverse("jobs:today")]
    pages.append(reverse("inventory:pick", args=[events[0].reservation_id]))
    counted = {}
    for round_ in ("few", "many"):
        for page in pages:
            as_planner.get(page)
            with CaptureQueriesContext(connection) as captured:
                as_planner.get(page)
            counted[round_, page] = len(captured)
        for event in events[1:]:
            grow(event, 9)
    assert Unmet.objects.count() == 4
    assert {page: counted["many", page] for page in pages} == {page: counted["few", page] for page in pages}


def test_notes_of_before_are_carried_over_and_worked_out_anew(fair, store):
    Unmet.objects.filter(event=fair).update(beyond=[{"item": store["pole"].pk, "name": "Pole", "short": 2}])
    moved = import_module("jobs.migrations.0008_beyond_a_promise")
    moved.all_of_it(apps, None)
    assert Unmet.objects.get().beyond == [{"item": store["pole"].pk, "name": "Pole", "more": 2, "or": []}]
    assert work() == 1
    assert {one["name"]: one["more"] for one in Unmet.objects.get().beyond}["Pole"] == 6


def test_the_worker_is_on_it(fair, store):
    lot_add(item=store["pole"], quantity=5, arrives_on=coming(0))
    assert BackgroundJob.objects.filter(kind="waiting").count() == 1
    assert standing_words(fair.pk) == ("wait", SOON)
