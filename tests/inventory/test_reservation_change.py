from datetime import timedelta

import pytest
from django.utils import timezone

from inventory.availability import free
from inventory.models import Lot, Reservation
from inventory.services import Shortage, reservation_change, reservation_confirm, reservation_release
from tests.inventory.conftest import on_shelf
from tests.inventory.test_reservation_confirm import lapse
from tests.inventory.test_reservation_hold import SPAN, START, hold


def lines_of(reservation):
    return dict(reservation.lines.values_list("item_id", "quantity"))


def test_its_own_stock_counts_as_free_for_it(sky, red):
    on_shelf(sky, 100)
    on_shelf(red, 5)
    held = hold([(sky.pk, 70)])
    reservation_change(reservation=held, lines=[(sky.pk, 100), (red.pk, 5)], **SPAN)
    assert lines_of(held) == {sky.pk: 100, red.pk: 5}
    assert free([sky.pk, red.pk], **SPAN) == {sky.pk: 0, red.pk: 0}


def test_a_shortage_keeps_the_old_promise_whole(sky, red):
    on_shelf(sky, 100)
    held = hold([(sky.pk, 70)])
    with pytest.raises(Shortage) as refused:
        reservation_change(
            reservation=held, lines=[(sky.pk, 80), (red.pk, 1)], starts=START, ends=START + timedelta(days=9)
        )
    assert refused.value.lines == [(red.pk, 1, 0, 1)]
    fresh = Reservation.objects.get(pk=held.pk)
    assert (lines_of(fresh), fresh.starts, fresh.ends) == ({sky.pk: 70}, *SPAN.values())
    assert free([sky.pk], **SPAN) == {sky.pk: 30}


def test_the_span_moves_with_its_lines(pole):
    on_shelf(pole, 4)
    held = hold([(pole.pk, 4)])
    later = {"starts": START + timedelta(days=10), "ends": START + timedelta(days=11)}
    reservation_change(reservation=held, lines=[(pole.pk, 3)], **later)
    assert free([pole.pk], **SPAN) == {pole.pk: 4}
    assert free([pole.pk], **later) == {pole.pk: 1}


def test_a_longer_span_is_checked(pole):
    on_shelf(pole, 4)
    held = hold([(pole.pk, 4)])
    hold([(pole.pk, 2)], starts=SPAN["ends"], ends=SPAN["ends"] + timedelta(days=1))
    with pytest.raises(Shortage):
        reservation_change(reservation=held, lines=[(pole.pk, 4)], starts=START, ends=SPAN["ends"] + timedelta(hours=1))


def test_asking_for_less_never_fails(sky):
    on_shelf(sky, 100)
    held = hold([(sky.pk, 70)])
    Lot.objects.update(quantity=10)
    reservation_change(reservation=held, lines=[(sky.pk, 60)], **SPAN)
    assert lines_of(held) == {sky.pk: 60}
    reservation_change(reservation=held, lines=[], **SPAN)
    assert lines_of(held) == {}


def test_a_lapsed_hold_asking_for_less_is_checked(sky):
    on_shelf(sky, 100)
    held = hold([(sky.pk, 70)])
    lapse(held)
    hold([(sky.pk, 90)])
    with pytest.raises(Shortage):
        reservation_change(reservation=held, lines=[(sky.pk, 60)], **SPAN)


def test_a_new_end_brings_a_lapsed_hold_back(sky):
    on_shelf(sky, 100)
    held = hold([(sky.pk, 70)])
    lapse(held)
    reservation_change(
        reservation=held,
        lines=[(sky.pk, 70)],
        expires=timezone.now() + timedelta(hours=1),
        label="Harbour fair",
        **SPAN,
    )
    assert free([sky.pk], **SPAN) == {sky.pk: 30}
    assert Reservation.objects.get(pk=held.pk).label == "Harbour fair"


def test_a_confirmed_one_stays_confirmed(sky):
    on_shelf(sky, 100)
    held = reservation_confirm(reservation=hold([(sky.pk, 70)]))
    assert reservation_change(reservation=held, lines=[(sky.pk, 90)], **SPAN).state == Reservation.State.CONFIRMED


def test_a_released_one_is_refused(sky):
    on_shelf(sky, 100)
    held = reservation_release(reservation=hold([(sky.pk, 70)]))
    with pytest.raises(ValueError, match="reservation was released"):
        reservation_change(reservation=held, lines=[(sky.pk, 10)], **SPAN)


def test_bad_input_is_named(sky):
    on_shelf(sky, 100)
    held = hold([(sky.pk, 70)])
    with pytest.raises(ValueError, match="ends must come after"):
        reservation_change(reservation=held, lines=[(sky.pk, 10)], starts=START, ends=START)
    with pytest.raises(ValueError, match="lines: the quantity"):
        reservation_change(reservation=held, lines=[(sky.pk, 0)], **SPAN)
    with pytest.raises(ValueError, match="expires"):
        reservation_change(reservation=held, lines=[(sky.pk, 1)], expires=START.replace(tzinfo=None), **SPAN)
    assert lines_of(held) == {sky.pk: 70}
