"""Eight processes, each with its own connection, want the last stock at once."""

import multiprocessing
import os
import random
import traceback
from collections import Counter
from datetime import timedelta

import pytest
from django.db import connections
from django.db.models import Sum
from django.utils import timezone

from inventory import counting, ledger, picking, returning
from inventory.availability import free, stock_of
from inventory.models import Item, Movement, Reservation, ReservationLine
from inventory.returning import Ways
from inventory.services import (
    Shortage,
    reservation_change,
    reservation_confirm,
    reservation_hold,
    reservation_release,
)
from inventory.stocking import PromisesBroken
from tests.inventory.conftest import on_shelf

pytestmark = [pytest.mark.services, pytest.mark.django_db(transaction=True)]

PROCESSES = 8
TURNS = 200 if os.environ.get("KNOTBOOK_THOROUGH") else 25
START = timezone.now().replace(microsecond=0) + timedelta(days=40)
SPAN = {"starts": START, "ends": START + timedelta(days=2)}


def in_eight_processes(work, *given) -> Counter:
    """Runs work(number, *given) in all of them from one starting shot; counts what they say."""
    # A child must not share a socket or a file lock with its parent.
    connections.close_all()
    fork = multiprocessing.get_context("fork")
    shot, said = fork.Barrier(PROCESSES), fork.Queue()
    children = [fork.Process(target=_child, args=(shot, said, work, number, *given)) for number in range(PROCESSES)]
    for child in children:
        child.start()
    answers = Counter()
    for _ in children:
        answers.update(said.get(timeout=600))
    for child in children:
        child.join(timeout=20)
        assert child.exitcode == 0
    return answers


def _child(shot, said, work, number, *given) -> None:
    try:
        # Not closed but dropped: while a browser test's event loop runs in the parent, Django keeps another
        # connection there than the one closed above, and closing it here would end it for all who inherited it.
        for inherited in connections.all(initialized_only=True):
            inherited.connection = None
        shot.wait(timeout=60)
        said.put(Counter(work(number, *given)))
    except BaseException:
        said.put(Counter([traceback.format_exc()]))
    finally:
        connections.close_all()


def _hold(lines):
    return reservation_hold(lines=lines, label="Quay fair", expires=timezone.now() + timedelta(hours=1), **SPAN)


def take_one_by_one(number, item_ids, tries):
    """Every process names the items in another order, the trap for a lock that is not sorted."""
    random.Random(number).shuffle(item_ids)
    said = []
    for _ in range(tries):
        try:
            _hold([(pk, 1) for pk in item_ids])
            said.append("held")
        except Shortage:
            said.append("short")
    return said


def test_the_last_piece_goes_to_one(sky, pole):
    on_shelf(sky, 1)
    on_shelf(pole, 1)
    for item in (sky, pole):
        assert in_eight_processes(take_one_by_one, [item.pk], 1) == {"held": 1, "short": 7}


def test_exactly_what_is_there_is_promised(sky, red, pole):
    for item in (sky, red, pole):
        on_shelf(item, 20)
    ids = [sky.pk, red.pk, pole.pk]
    assert in_eight_processes(take_one_by_one, ids, 5) == {"held": 20, "short": 20}
    assert free(ids, **SPAN) == dict.fromkeys(ids, 0)
    assert ReservationLine.objects.count() == 60


def confirm_lapsed(number, reservation_ids):
    try:
        reservation_confirm(reservation=Reservation.objects.get(pk=reservation_ids[number]))
    except Shortage:
        return ["short"]
    return ["confirmed"]


def test_of_eight_lapsed_holds_only_as_many_are_confirmed_as_there_is_stock_for(sky):
    on_shelf(sky, 30)
    lapsed = timezone.now() - timedelta(hours=1)
    held = [
        reservation_hold(lines=[(sky.pk, 10)], label=f"Fair {n}", expires=lapsed, **SPAN).pk for n in range(PROCESSES)
    ]
    assert in_eight_processes(confirm_lapsed, held) == {"confirmed": 3, "short": 5}
    assert free([sky.pk], **SPAN) == {sky.pk: 0}


class Hands:
    """One of eight who work in the store at once: on promises of their own, and on a few that are everybody's."""

    def __init__(self, number: int, item_ids: list[int], shared: list[int]) -> None:
        self.dice, self.ids, self.shared = random.Random(1000 + number), item_ids, shared
        self.mine: list[int] = []

    def turn(self) -> str:
        dice = self.dice
        ours = bool(self.shared) and dice.random() < 0.25
        try:
            if not ours and (not self.mine or dice.random() < 0.25):
                self.mine.append(_hold(self.lines()).pk)
            else:
                pk = dice.choice(self.shared if ours else self.mine)
                act = dice.choice([self.change, self.confirm, self.confirm, self.pick, self.pick, self.back, self.over])
                act(Reservation.objects.get(pk=pk), ours)
                if dice.random() < 0.2:
                    self.count()
        except (Shortage, PromisesBroken):
            return "short"
        except ValueError:
            # Somebody else released it, picked it or counted it back a moment ago.
            return "not now" if ours else traceback.format_exc()
        return "done"

    def lines(self) -> list[tuple[int, int]]:
        items = self.dice.sample(self.ids, self.dice.randint(1, len(self.ids)))
        return [(pk, self.dice.randint(1, 4)) for pk in items]

    def change(self, r: Reservation, ours: bool) -> None:
        reservation_change(reservation=r, lines=self.lines(), **SPAN)

    def confirm(self, r: Reservation, ours: bool) -> None:
        reservation_confirm(reservation=r)

    def pick(self, r: Reservation, ours: bool) -> None:
        reservation_confirm(reservation=r)
        gone = ledger.moved_for(r)
        for line in r.lines.filter(counts=True).select_related("item"):
            if (rest := line.quantity - (gone[line.item_id].picked if line.item_id in gone else 0)) > 0:
                picking.pick(reservation=r, item=line.item, quantity=rest)

    def back(self, r: Reservation, ours: bool) -> None:
        for item, away in ledger.out_with(r).items():
            picking.put_back(reservation=r, item=Item.objects.get(pk=item), quantity=away)

    def over(self, r: Reservation, ours: bool) -> None:
        """Released where nothing is out with it; otherwise counted back, a consumable as left over."""
        out = ledger.out_with(r)
        for item, away in out.items():
            returning.take_back(reservation=r, item=Item.objects.get(pk=item), ways=Ways(back=away))
        if not ours:
            self.mine.remove(r.pk)
        if not out:
            reservation_release(reservation=r)

    def count(self) -> None:
        """One more or one fewer than the ledger says: refused where that is promised."""
        item = Item.objects.get(pk=self.dice.choice(self.ids))
        here = ledger.on_hand([item.pk])[item.pk]
        counting.count(item=item, found=max(0, here + self.dice.choice([-1, 1])))


def anything(number, item_ids, shared, turns):
    hands = Hands(number, item_ids, shared)
    return [hands.turn() for _ in range(turns)]


def test_a_busy_day_promises_nothing_twice(sky, red, pole):
    """Held, changed, confirmed, picked, put back, counted, counted back and released, all at random."""
    for item in (sky, red, pole):
        on_shelf(item, 12)
    ids = [sky.pk, red.pk, pole.pk]
    shared = [_hold([(pk, 1) for pk in ids]).pk for _ in range(3)]
    answers = in_eight_processes(anything, ids, shared, TURNS)
    assert set(answers) <= {"done", "short", "not now"} and answers["done"] and answers["short"], answers
    assert answers.total() == PROCESSES * TURNS
    now = timezone.now()
    for item in Item.objects.all():
        stock = stock_of([item.pk], now=now, starts=now)[item.pk]
        assert not stock.lacking()
        lots = list(Movement.objects.filter(item=item).values_list("lot").annotate(there=Sum("store")))
        assert all(there >= 0 for _, there in lots)
        assert promised(item) <= sum(there for _, there in lots)


def promised(item) -> int:
    """What is still to be picked for promises that count, line by line."""
    rest = 0
    for line in ReservationLine.objects.filter(item=item, counts=True):
        picked = Movement.objects.filter(reservation=line.reservation_id, item=item, kind="picked")
        rest += max(0, line.quantity - sum(picked.values_list("out", flat=True)))
    return rest
