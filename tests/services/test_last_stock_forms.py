"""Eight people on the served pages want the last stock at once; then the server, or the database's own processes, are
killed while they do. Whoever was told that it is promised has it, and nobody else."""

import os
import random
import re
import threading
import time
from collections import Counter
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import datetime

import pytest
from django.db import connection, connections
from django.db.models import Sum
from django.utils import timezone

from decor.studio.models import Role
from decor.studio.services import user_add
from inventory.availability import stock_of
from inventory.models import Item, Movement, Reservation, ReservationLine
from jobs.crew.models import DayHold
from jobs.estimates.services import estimate_now
from jobs.events.models import Event
from tests.conftest import PASSWORD
from tests.jobs.desk.asking import fill_store, hire, piece, save_pieces
from tests.jobs.desk.conftest import ann, coming, hall, make_event  # noqa: F401
from tests.services.hands import GONE, Hand, Web, served

pytestmark = [pytest.mark.services, pytest.mark.django_db(transaction=True)]

PEOPLE = 8
TURNS = 200 if os.environ.get("KNOTBOOK_THOROUGH") else 8
ENOUGH_FOR = 3
"""Of eight events."""
NEEDS_SKY, NEEDS_POLES = 525, 2
WORDS = ("short of", "This leaves promises short", "would be short")


@pytest.fixture
def web(tmp_path, request):
    yield from served(tmp_path / "web")


@pytest.fixture
def events(studio, owner, ann, hall):  # noqa: F811
    hire()
    for number in range(PEOPLE):
        user_add(username=f"pat{100 + number}", name=f"Pat {number}", role=Role.PLANNER, password=PASSWORD)
    fill_store(coming(0), sky=ENOUGH_FOR * NEEDS_SKY + 40, sheets=60)
    made = []
    for number in range(PEOPLE):
        # A week apart: the balloons are what they fight for, not the crew's hours.
        event = make_event(ann, hall, coming(20 + 7 * number), title=f"Fair {number}")
        save_pieces(event, piece(), piece("column", count=2))
        estimate_now(event=event)
        made.append(event.pk)
    return made


@dataclass
class Told:
    """What one event's people were told last: `now` is so; `perhaps` was asked for and never answered."""

    now: str = "none"
    perhaps: set[str] = field(default_factory=set)


class Person:
    """Works on one event alone and, with `others`, on everybody's."""

    def __init__(self, web: Web, event: int, others: list[int], seed: int) -> None:
        self.web, self.event, self.others = web, event, others
        self.dice, self.said, self.told = random.Random(seed), Counter(), Told()
        self.why: Counter = Counter()
        # A name of one's own: many who sign in at once under one are taken for somebody who guesses.
        self.name = f"pat{seed}"
        self.hand: Hand | None = None

    def work(self, turns: int, until: threading.Event | None = None) -> None:
        for _ in range(turns):
            if until is not None and until.is_set():
                return
            self.turn()

    def turn(self) -> None:
        event = self.dice.choice(self.others) if self.others and self.dice.random() < 0.3 else self.event
        act = self.dice.choice(["hold", "hold", "confirm", "confirm", "release", "pick", "put back", "count"])
        if not self.said:
            # Everybody's first: an event that was confirmed once is not held any more.
            event, act = self.event, "hold"
        try:
            self.hand = self.hand or Hand(self.web.address, self.name, PASSWORD)
            status, text = self.does(act, event)
        except (*GONE, AssertionError) as gone:
            self.said["gone"] += 1
            self.why[repr(gone)[:300]] += 1
            self.never_answered(act, event)
            time.sleep(1)
            return
        if status >= 500:
            self.said[f"500 {act}"] += 1
            self.never_answered(act, event)
        elif status == 302:
            self.said[f"done {act}"] += 1
            if event == self.event and act in ("hold", "confirm", "release"):
                self.told = Told(act)  # whatever went unanswered before came to its end before this
        elif status in (409, 422) and any(word in text for word in WORDS):
            self.said["short"] += 1
        elif status in (200, 409, 422) and "Still working on it" not in text:
            self.said["not now"] += 1
        else:
            self.said[f"{status} {act}"] += 1

    def never_answered(self, act: str, event: int) -> None:
        if self.hand is not None and self.hand.sent and event == self.event and act in STATES:
            self.told.perhaps.add(act)

    def does(self, act: str, event: int) -> tuple[int, str]:
        page = f"/events/{event}/stock/"
        if act == "count":
            return self.count()
        if act not in ("pick", "put back"):
            return self.hand.send(page, f"/events/{event}/{act}/")
        reservation = self.reservation_of(page)
        if reservation is None:
            return 200, ""
        pick = f"/stock/picks/{reservation}/"
        _, text = self.hand.get(pick)
        items = sorted(set(re.findall(r'name="(?:all|none)" value="(\d+)"', text)))
        if not items:
            return 200, text
        # Weeks before, too: whoever is asked whether they take it all the same says yes.
        said = {"all" if act == "pick" else "none": self.dice.choice(items), "anyway": "yes"}
        return self.hand.send(pick, f"{pick}tick/", **said)

    def reservation_of(self, page: str) -> str | None:
        found = re.search(r"/stock/picks/(\d+)/", self.hand.get(page)[1])
        return found.group(1) if found else None

    def count(self) -> tuple[int, str]:
        """A few of the balloons fewer, or more, than the studio began with."""
        item = SKY[0]
        page = f"/stock/count/{item}/"
        found = ENOUGH_FOR * NEEDS_SKY + self.dice.choice([-30, 0, 20, 40])
        return self.hand.send(page, f"{page}tick/", found=found)


SKY: list[int] = []


def at_work(web, events, *, shared: bool) -> list[Person]:
    SKY[:] = [Item.objects.get(name="sky, 5 in").pk]
    # No connection of this process may be open while its server's are killed, nor be kept by a thread.
    connections.close_all()
    return [Person(web, pk, events if shared else [], 100 + n) for n, pk in enumerate(events)]


def said_by(people) -> Counter:
    return sum((person.said for person in people), Counter())


def nothing_is_promised_twice() -> None:
    """Of what comes back the spans as they are promised count: whoever picks it weeks before takes it from those whose
    events come first, which the store writes down and tells, but nobody promised it to both."""
    now = timezone.now()
    for item in Item.objects.all():
        lots = Movement.objects.filter(item=item).values_list("lot").annotate(there=Sum("store"), away=Sum("out"))
        assert all(there >= 0 for _, there, _ in lots)
        if item.returnable:
            lines = item.reserved.filter(counts=True)
            most = max((promised_at(lines, line.starts) for line in lines), default=0)
            assert most <= sum(there + away for _, there, away in lots), item.name
        else:
            assert not stock_of([item.pk], now=now, starts=now)[item.pk].lacking(), item.name


def promised_at(lines: Iterable[ReservationLine], moment: datetime) -> int:
    return sum(line.quantity for line in lines if line.starts <= moment < line.ends)


def nothing_is_half() -> None:
    """Each promise has every line that its event needs, and its crew's hours; what is released has neither. No
    promise is there beside an event's own."""
    sky = Item.objects.get(name="sky, 5 in")
    promised = set(Event.objects.values_list("reservation", flat=True))
    assert not Reservation.objects.exclude(state=Reservation.State.RELEASED).exclude(pk__in=promised - {None})
    for event in Event.objects.select_related("reservation"):
        promise = event.reservation
        if promise is None:
            assert not DayHold.objects.filter(event=event).exists()
            continue
        lines = {line.item_id: line for line in promise.lines.all()}
        assert lines[sky.pk].quantity == NEEDS_SKY and len(lines) == LINES
        released = promise.state == Reservation.State.RELEASED
        assert {line.counts for line in lines.values()} == {not released}
        assert DayHold.objects.filter(event=event).exists() == (not released)


LINES = 6
STATES = {"hold": {"hold", "confirmed"}, "confirm": {"confirmed"}, "release": {"released", None}, "none": {None}}


def test_eight_people_and_the_last_balloons(web, events):
    people = at_work(web, events, shared=True)
    with ThreadPoolExecutor(PEOPLE) as pool:
        list(pool.map(lambda person: person.work(TURNS), people))
    said = said_by(people)
    print(said)
    wrong = {word for word in said if word not in ("short", "not now") and not word.startswith("done ")}
    assert not wrong, "\n".join([repr(said), *(repr(person.why) for person in people), web.log()])
    assert said["done hold"] and said["done confirm"] and said["short"], said
    nothing_is_promised_twice()
    nothing_is_half()


def pull_the_plug(web) -> None:
    if connection.vendor == "postgresql" and random.random() < 0.6:
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT count(pg_terminate_backend(pid)) FROM pg_stat_activity "
                "WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )
        connections.close_all()
        return
    web.kill()
    web.start()


def test_killed_in_the_middle_every_promise_that_was_told_is_there(web, events):
    """The whole server at once, or all of the database's own processes, several times over."""
    people, stop = at_work(web, events, shared=False), threading.Event()
    with ThreadPoolExecutor(PEOPLE) as pool:
        working = [pool.submit(person.work, 10_000, stop) for person in people]
        for _ in range(20 if TURNS > 100 else 3):
            time.sleep(random.uniform(3, 5))
            pull_the_plug(web)
        time.sleep(4)
        stop.set()
        for done in working:
            done.result()
    said = said_by(people)
    print(said)
    assert said["done hold"] + said["done confirm"] > 2, f"{said}\n{web.log()}"
    for person in people:
        promise = Event.objects.select_related("reservation").get(pk=person.event).reservation
        may = set().union(*(STATES.get(act, set()) for act in {person.told.now, *person.told.perhaps}))
        assert (promise.state if promise else None) in may, (person.told, person.said)
    nothing_is_promised_twice()
    nothing_is_half()
