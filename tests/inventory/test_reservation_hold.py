from datetime import datetime, timedelta

import pytest
from django.utils import timezone

from inventory.availability import free
from inventory.models import Reservation, ReservationLine
from inventory.services import Shortage, reservation_hold
from tests.inventory.conftest import on_shelf

START = timezone.now().replace(microsecond=0) + timedelta(days=30)
SPAN = {"starts": START, "ends": START + timedelta(days=2)}


def hold(lines, **changes):
    given = {"label": "Quay fair", "expires": timezone.now() + timedelta(hours=72), **SPAN, **changes}
    return reservation_hold(lines=lines, **given)


def test_hold_takes_what_is_free(sky, pole):
    on_shelf(sky, 100)
    on_shelf(pole, 4)
    held = hold([(sky.pk, 60), (pole.pk, 4)])
    assert held.state == Reservation.State.HOLD
    assert free([sky.pk, pole.pk], **SPAN) == {sky.pk: 40, pole.pk: 0}
    assert {(x.item_id, x.quantity, x.starts, x.ends) for x in held.lines.all()} == {
        (sky.pk, 60, *SPAN.values()),
        (pole.pk, 4, *SPAN.values()),
    }


def test_all_or_nothing(sky, pole):
    on_shelf(sky, 100)
    on_shelf(pole, 4)
    with pytest.raises(Shortage) as refused:
        hold([(sky.pk, 60), (pole.pk, 5)])
    assert refused.value.lines == [(pole.pk, 5, 4, 1)]
    assert refused.value.lines[0].short == 1
    assert not Reservation.objects.exists()
    assert not ReservationLine.objects.exists()


def test_every_item_that_is_short_is_named(sky, pole, red):
    on_shelf(red, 10)
    with pytest.raises(Shortage) as refused:
        hold([(pole.pk, 2), (red.pk, 3), (sky.pk, 5)])
    assert sorted(refused.value.lines) == sorted([(sky.pk, 5, 0, 5), (pole.pk, 2, 0, 2)])


def test_an_item_named_twice_is_asked_for_once_with_both(sky):
    on_shelf(sky, 100)
    with pytest.raises(Shortage) as refused:
        hold([(sky.pk, 60), (sky.pk, 60)])
    assert refused.value.lines == [(sky.pk, 120, 100, 20)]
    assert [x.quantity for x in hold([(sky.pk, 60), (sky.pk, 40)]).lines.all()] == [100]


def test_a_hold_that_lapsed_is_nobodys(sky):
    on_shelf(sky, 100)
    hold([(sky.pk, 100)], expires=timezone.now() - timedelta(seconds=1))
    assert free([sky.pk], **SPAN) == {sky.pk: 100}
    assert hold([(sky.pk, 100)])


@pytest.mark.parametrize("quantity", [0, -1, 1.5, "3", None, True])
def test_bad_quantities_are_named(sky, quantity):
    on_shelf(sky, 100)
    with pytest.raises(ValueError, match="lines: the quantity of item"):
        hold([(sky.pk, quantity)])
    assert not Reservation.objects.exists()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"starts": datetime(2031, 5, 1)}, "starts"),
        ({"ends": datetime(2031, 5, 1)}, "ends"),
        ({"ends": SPAN["starts"]}, "ends must come after starts"),
        ({"expires": datetime(2031, 5, 1)}, "expires"),
        ({"expires": None}, "expires"),
        ({"label": "  "}, "label"),
        ({"label": "x" * 121}, "label"),
    ],
)
def test_bad_input_is_named(sky, changes, words):
    on_shelf(sky, 100)
    with pytest.raises(ValueError, match=words):
        hold([(sky.pk, 1)], **changes)
    assert not Reservation.objects.exists()


def test_no_lines_is_no_hold(db):
    with pytest.raises(ValueError, match="lines must name at least one item"):
        hold([])


def test_an_unknown_item_is_named(sky):
    with pytest.raises(ValueError, match="there is no item 4711"):
        hold([(4711, 1), (sky.pk, 1)])
