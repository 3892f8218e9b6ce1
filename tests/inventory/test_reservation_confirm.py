from datetime import timedelta

import pytest
from django.utils import timezone

from inventory.availability import free
from inventory.models import Lot, Reservation
from inventory.services import Shortage, reservation_confirm, reservation_release
from tests.inventory.conftest import on_shelf
from tests.inventory.test_reservation_hold import SPAN, hold


def lapse(reservation):
    Reservation.objects.filter(pk=reservation.pk).update(expires=timezone.now() - timedelta(seconds=1))


def test_confirmed_outlives_its_hold(sky):
    on_shelf(sky, 100)
    held = hold([(sky.pk, 70)])
    assert reservation_confirm(reservation=held).state == Reservation.State.CONFIRMED
    lapse(held)
    assert free([sky.pk], **SPAN) == {sky.pk: 30}


def test_a_live_hold_is_confirmed_even_when_stock_was_lost_meanwhile(sky):
    on_shelf(sky, 100)
    held = hold([(sky.pk, 70)])
    Lot.objects.update(quantity=10)
    assert reservation_confirm(reservation=held).state == Reservation.State.CONFIRMED


def test_a_lapsed_hold_is_promised_anew_while_there_is_stock(sky):
    on_shelf(sky, 100)
    held = hold([(sky.pk, 70)])
    lapse(held)
    reservation_confirm(reservation=held)
    assert free([sky.pk], **SPAN) == {sky.pk: 30}


def test_a_lapsed_hold_whose_stock_went_to_another_is_refused(sky):
    on_shelf(sky, 100)
    held = hold([(sky.pk, 70)])
    lapse(held)
    hold([(sky.pk, 50)])
    with pytest.raises(Shortage) as refused:
        reservation_confirm(reservation=held)
    assert refused.value.lines == [(sky.pk, 70, 50, 20)]
    held.refresh_from_db()
    assert held.state == Reservation.State.HOLD
    assert free([sky.pk], **SPAN) == {sky.pk: 50}


def test_a_released_one_is_refused(sky):
    on_shelf(sky, 100)
    held = hold([(sky.pk, 70)])
    reservation_release(reservation=held)
    with pytest.raises(ValueError, match="reservation was released"):
        reservation_confirm(reservation=held)
    assert free([sky.pk], **SPAN) == {sky.pk: 100}


def test_confirming_twice_is_confirming_once(sky):
    on_shelf(sky, 100)
    held = hold([(sky.pk, 70)])
    stale = Reservation.objects.get(pk=held.pk)
    reservation_confirm(reservation=held)
    assert reservation_confirm(reservation=stale).state == Reservation.State.CONFIRMED
    assert free([sky.pk], **SPAN) == {sky.pk: 30}
