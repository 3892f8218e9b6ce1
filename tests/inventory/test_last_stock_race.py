"""Eight processes, each with its own connection, want the last stock at once."""

import multiprocessing
import random
import traceback
from collections import Counter
from datetime import timedelta

import pytest
from django.db import connections
from django.utils import timezone

from inventory.availability import free
from inventory.models import Item, Reservation, ReservationLine
from inventory.services import (
    Shortage,
    reservation_change,
    reservation_confirm,
    reservation_hold,
    reservation_release,
)
from tests.inventory.conftest import on_shelf

pytestmark = [pytest.mark.services, pytest.mark.django_db(transaction=True)]

PROCESSES = 8
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
        answers.update(said.get(timeout=120))
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


def anything(number, item_ids, turns):
    """Hold, change, confirm, release, each at random, on items and quantities at random."""
    dice, mine, said = random.Random(1000 + number), [], []
    for _ in range(turns):
        lines = [(pk, dice.randint(1, 4)) for pk in dice.sample(item_ids, dice.randint(1, len(item_ids)))]
        act = dice.choice(["hold", "hold", "change", "confirm", "release"])
        try:
            if act == "hold" or not mine:
                mine.append(_hold(lines))
            elif act == "change":
                reservation_change(reservation=dice.choice(mine), lines=lines, **SPAN)
            elif act == "confirm":
                reservation_confirm(reservation=dice.choice(mine))
            else:
                reservation_release(reservation=mine.pop(dice.randrange(len(mine))))
            said.append("done")
        except Shortage:
            said.append("short")
    return said


def test_a_busy_day_promises_nothing_twice(sky, red, pole):
    for item in (sky, red, pole):
        on_shelf(item, 12)
    ids = [sky.pk, red.pk, pole.pk]
    answers = in_eight_processes(anything, ids, 25)
    assert set(answers) == {"done", "short"}
    assert answers.total() == PROCESSES * 25
    live = ReservationLine.objects.exclude(reservation__state=Reservation.State.RELEASED)
    for item in Item.objects.all():
        promised = sum(live.filter(item=item).values_list("quantity", flat=True))
        assert promised <= 12
        assert free([item.pk], **SPAN) == {item.pk: 12 - promised}
