"""What the store's pages send from the outbox: late, twice, and by two people."""

import json
from datetime import timedelta
from itertools import count

import pytest
from django.test import Client
from django.utils import timezone

from inventory import picking
from inventory.models import Count, Movement, Reservation
from jobs.clients.models import Client as Customer
from jobs.crew.models import Member, Shift
from jobs.events.models import Event, Venue
from tests import shelf
from tests.conftest import signed_in
from tests.inventory.store_work import here, out, promise, stocked

pytestmark = pytest.mark.django_db
NUMBERS = count(1)


@pytest.fixture
def fair(sky, pole):
    return promise({stocked(sky, 300): 120, stocked(pole, 8): 4})


def event_of(reservation: Reservation) -> Event:
    starts = reservation.starts
    customer, venue = (
        Customer.objects.create(name="Harbour Trust"),
        Venue.objects.create(name="Quay Hall", time_zone="Europe/Dublin"),
    )
    times = {"load_in": starts, "doors": starts, "ends": reservation.ends, "strike": reservation.ends}
    return Event.objects.create(title="Fair", client=customer, venue=venue, reservation=reservation, **times)


def puts_on_shift(user, reservation: Reservation) -> None:
    member = Member.objects.create(name=str(user), user=user)
    event = event_of(reservation)
    Shift.objects.create(event=event, member=member, task="rig", starts=event.load_in, ends=event.strike)


def send(client: Client, command: str, body: dict, *, base=None, op_id="", ago_s: int = 0) -> tuple[int, dict]:
    now = timezone.now()
    said = {
        "op_id": op_id or f"00000000-{next(NUMBERS):04d}",
        "command": command,
        "entity": f"{command}:{body.get('item')}",
        "base_version": base,
        "client_time": (now - timedelta(seconds=ago_s)).isoformat(),
        "sent_time": now.isoformat(),
        "body": body,
    }
    answer = client.post("/commands/", json.dumps(said), content_type="application/json")
    return answer.status_code, answer.json()["answer"]


def pick(client, reservation, item, total=None, **more) -> tuple[int, dict]:
    none_left = more.pop("none_left", False)
    body = {"reservation": reservation.pk, "item": item.pk, "total": total, "none_left": none_left}
    return send(client, "item_picked", body, **more)


def returned(client, reservation, item, ways=None, **more) -> tuple[int, dict]:
    body = {"reservation": reservation.pk, "item": item.pk, "ways": ways or {}, "taken": more.pop("taken", False)}
    return send(client, "item_returned", body, **more)


def counted(client, item, found, **more) -> tuple[int, dict]:
    body = {"item": item.pk, "found": found, "knew": more.pop("knew", None), "why": more.pop("why", "")}
    return send(client, "item_counted", body | {"even_if_short": more.pop("even", False)}, **more)


def test_a_tick_counts_once_and_is_signed_with_the_phones_time(as_planner, planner, fair, sky):
    for _ in range(3):
        status, answer = pick(as_planner, fair, sky, op_id="00000000-same", ago_s=1800)
        assert (status, answer["picked"], answer["asked"]) == (200, 120, 120)
    line = Movement.objects.get(kind="picked")
    assert line.by == planner and abs(timezone.now() - timedelta(minutes=30) - line.at) < timedelta(seconds=10)
    assert (here(sky), out(fair, sky)) == (180, 120)


def test_two_people_who_tick_the_same_row_tick_it_once(as_planner, as_owner, fair, sky):
    for client in (as_planner, as_owner):
        assert pick(client, fair, sky, base=0)[0] == 200
    assert (here(sky), out(fair, sky)) == (180, 120)


def test_a_smaller_number_does_not_undo_another_hand_unseen(as_planner, as_owner, fair, sky):
    pick(as_owner, fair, sky, base=0)
    status, now = pick(as_planner, fair, sky, 40, base=0)
    assert (status, now["picked"]) == (409, 120) and "120" in now["message"]
    assert out(fair, sky) == 120
    assert pick(as_planner, fair, sky, 40, base=now["version"])[0] == 200
    assert out(fair, sky) == 40


def test_none_left_tells_who_lacks_it(as_planner, fair, sky):
    _, answer = pick(as_planner, fair, sky, 90, none_left=True)
    assert (answer["picked"], answer["here"]) == (90, 0)
    assert answer["short"].startswith("Short: 30 for 0042 Harbour fair")
    assert answer["note"].startswith("By the ledger 210 more were here")
    _, again = pick(as_planner, fair, sky, 90, none_left=True)
    assert again["note"] == "", "nothing is written off a second time"


def test_a_tick_of_what_the_event_needs_less_of_now(as_planner, fair, sky):
    fair.lines.filter(item=sky).update(quantity=80)
    status, answer = pick(as_planner, fair, sky, 120)
    assert (status, answer["picked"]) == (200, 80) and "put 40 back" in answer["note"]


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ({"reservation": 0}, "no longer in the studio's books"),
        ({"reservation": "1"}, "no longer in the studio's books"),
        ({"reservation": 2**80}, "no longer in the studio's books"),
        ({"item": None}, "does not need this"),
        ({"item": True}, "does not need this"),
        ({"total": -1}, "which number"),
        ({"total": 1.5}, "which number"),
        ({"total": 10**9}, "which number"),
    ],
)
def test_what_a_broken_page_sends_is_refused_in_words(as_planner, fair, sky, body, words):
    status, answer = send(as_planner, "item_picked", {"reservation": fair.pk, "item": sky.pk, "total": None} | body)
    assert status == 422 and words in answer["message"]
    assert not Movement.objects.exclude(kind="received").exists()


@pytest.mark.parametrize(
    ("state", "words"), [("hold", "only on hold"), ("released", "gave its things up"), ("settled", "counted back")]
)
def test_nothing_is_picked_for_what_is_not_promised(as_planner, fair, sky, state, words):
    Reservation.objects.update(state=state, expires=timezone.now())
    status, answer = pick(as_planner, fair, sky)
    assert status == 422 and words in answer["message"]


def test_crew_work_for_their_own_events_only(crew_user, other_crew_user, fair, sky):
    puts_on_shift(crew_user, fair)
    mine, other = signed_in(crew_user), signed_in(other_crew_user)
    for send_it in (pick, returned):
        assert send_it(other, fair, sky)[0] == 403
    assert counted(other, sky, 5)[0] == 403
    assert pick(mine, fair, sky)[0] == 200
    assert counted(mine, sky, 180)[0] == 200
    assert returned(mine, fair, sky)[0] == 200


def test_crew_learn_nothing_of_other_events(crew_user, fair, sky):
    puts_on_shift(crew_user, fair)
    promise({sky: 100}, starts_in=5, label="0043 Regatta")
    _, answer = pick(signed_in(crew_user), fair, sky, 0, none_left=True)
    assert "100 for another event" in answer["short"] and "Regatta" not in answer["short"]


def test_what_came_back_counts_once(as_planner, fair, sky, pole):
    for item in (sky, pole):
        pick(as_planner, fair, item)
    for _ in range(2):
        status, answer = returned(as_planner, fair, sky, {"back": 30, "burst": 5}, op_id="00000000-back")
        assert (status, answer["state"], answer["became"]) == (200, "done", "30 back, 85 used, 5 burst")
    assert here(sky) == 210
    assert returned(as_planner, fair, pole)[1]["became"] == "4 back"
    assert Reservation.objects.get().state == "settled"


def test_two_who_count_back_alike_agree_and_otherwise_are_told(as_planner, as_owner, fair, sky):
    pick(as_planner, fair, sky)
    returned(as_owner, fair, sky, {"back": 30})
    assert returned(as_planner, fair, sky, {"back": 30})[0] == 200
    status, now = returned(as_planner, fair, sky, {"back": 20})
    assert status == 409 and "30 back, 90 used" in now["message"]
    assert here(sky) == 210


def test_more_back_than_was_out_is_refused(as_planner, fair, sky):
    pick(as_planner, fair, sky, 100)
    status, answer = returned(as_planner, fair, sky, {"back": 101})
    assert status == 422 and "more than is out" in answer["message"]


@pytest.mark.parametrize("ways", [[], {"sold": 1}, {"back": "1"}, {"back": -1}])
def test_ways_that_are_none_are_refused(as_planner, fair, sky, ways):
    pick(as_planner, fair, sky)
    body = {"reservation": fair.pk, "item": sky.pk, "ways": ways}
    assert send(as_planner, "item_returned", body)[0] == 422
    assert out(fair, sky) == 120


def test_a_wrong_return_is_said_again(as_planner, fair, sky):
    pick(as_planner, fair, sky)
    returned(as_planner, fair, sky)
    body = {"reservation": fair.pk, "item": sky.pk}
    assert send(as_planner, "return_undone", body)[1]["state"] == "open"
    assert send(as_planner, "return_undone", body)[0] == 200, "said twice it is so once"
    assert returned(as_planner, fair, sky, {"back": 120})[1]["became"] == "120 back"
    assert here(sky) == 300


def test_a_late_count_tells_what_was_moved_since(as_planner, fair, sky):
    picking.pick(reservation=fair, item=sky, quantity=120, at=timezone.now() - timedelta(minutes=1))
    shelf.came_earlier(days=9)
    status, answer = counted(as_planner, sky, 290, knew=300, ago_s=600, why="torn bag")
    assert (status, answer["said"]) == (200, 170)
    assert answer["note"] == (
        "290 counted where the ledger said 300: 10 fewer. Since you counted 120 went out, so 170 are here now."
    )
    assert Count.objects.get().why == "torn bag"


def test_a_count_that_breaks_promises_asks_first(as_planner, fair, sky):
    status, now = counted(as_planner, sky, 100)
    assert status == 409 and "20 short" in now["promises"][0] and here(sky) == 300
    assert counted(as_planner, sky, 100, even=True)[0] == 200
    assert here(sky) == 100


@pytest.mark.parametrize("found", [-1, None, "7", 1.0, True])
def test_a_count_is_a_whole_number(as_planner, sky, found):
    assert counted(as_planner, stocked(sky, 3), found)[0] == 422
    assert here(sky) == 3


def test_picked_returned_and_counted_in_whatever_order_they_are_told(as_planner, as_owner, fair, sky):
    """Picked 50 minutes ago, 30 back 40 minutes ago, counted 30 minutes ago: 210 lay there, whoever tells first."""
    shelf.came_earlier(days=9)
    assert counted(as_owner, sky, 210, ago_s=1800, even=True)[0] == 200
    assert pick(as_planner, fair, sky, ago_s=3000)[0] == 200
    assert here(sky) == 210
    assert returned(as_planner, fair, sky, {"back": 30}, ago_s=2400)[0] == 200
    assert (here(sky), out(fair, sky)) == (210, 0)
