"""What once went wrong in the reckoning of promises, each as small as it can be told."""

from datetime import timedelta
from unittest import mock

import pytest
from django.utils import timezone

from inventory import availability, counting, ledger, picking, returning, services, stocking
from inventory.models import Lot, Reservation
from inventory.returning import Ways
from tests.inventory.conftest import on_shelf
from tests.inventory.store_work import here, promise

pytestmark = pytest.mark.django_db


def free(item, *, starts_in: int = 1) -> int:
    starts = timezone.now() + timedelta(days=starts_in)
    return availability.free([item.pk], starts, starts + timedelta(days=1))[item.pk]


def test_a_promise_that_begins_between_two_readings_is_still_counted(sky):
    """On a database that shows each query what others wrote meanwhile, it was in neither of them."""
    on_shelf(sky, 10)
    fair = promise({sky: 6})
    real = ledger.begun_and_lapsed

    def read_then_begun(now):
        found = real(now)
        Reservation.objects.filter(pk=fair.pk).update(begun=True)
        return found

    with mock.patch.object(ledger, "begun_and_lapsed", read_then_begun):
        assert free(sky) == 4


def test_a_hold_is_not_picked_for(pole):
    on_shelf(pole, 4)
    held = promise({pole: 4}, confirm=False)
    with pytest.raises(ValueError, match="on hold"):
        picking.pick(reservation=held, item=pole, quantity=4)


def test_a_lot_keeps_what_is_out(pole):
    lot = on_shelf(pole, 10)
    picking.pick(reservation=promise({pole: 8}), item=pole, quantity=8)
    found = Lot.objects.get(pk=lot.pk)
    found.quantity = 5
    with pytest.raises(ValueError, match="below 8"):
        stocking.lot_change(lot=found, even_if_short=True)
    assert here(pole) == 2


def test_an_order_that_came_meanwhile_is_not_forgotten(sky):
    lot = Lot.objects.create(item=sky, quantity=9, arrives_on=timezone.localdate(), received=False)
    stale = Lot.objects.get(pk=lot.pk)
    stocking.lot_receive(lot=lot, on=timezone.localdate())
    with pytest.raises(ValueError, match="came in meanwhile"):
        stocking.lot_remove(lot=stale)
    assert here(sky) == 9


def test_what_is_counted_back_stays_over_when_the_rest_is_changed(sky, pole):
    on_shelf(sky, 10)
    on_shelf(pole, 4)
    fair = promise({sky: 6, pole: 2})
    picking.pick(reservation=fair, item=sky, quantity=6)
    returning.take_back(reservation=fair, item=sky, ways=Ways(back=4, used=2))
    assert free(sky) == 8
    fair.refresh_from_db()
    lines = [(sky.pk, 6), (pole.pk, 3)]
    services.reservation_change(reservation=fair, lines=lines, starts=fair.starts, ends=fair.ends)
    assert (free(sky), free(pole)) == (8, 1)


def test_the_rest_of_an_overdue_event_lacks_nothing(pole):
    on_shelf(pole, 4)
    fair = promise({pole: 4}, starts_in=-5)
    picking.pick(reservation=fair, item=pole, quantity=2)
    counting.count(item=pole, found=0, even_if_short=True)
    assert not stocking.lacking_by_line(item_id=pole.pk, now=timezone.now())


def test_fewer_are_taken_off_what_spoils_first(sky):
    """NULL sorts first on one database and last on the other."""
    soon = timezone.localdate() + timedelta(days=9)
    lasting, spoiling = on_shelf(sky, 5), on_shelf(sky, 5, use_by=soon)
    counting.count(item=sky, found=5)
    assert ledger.on_hand_by_lot(sky.pk) == {lasting.pk: 5}
    assert spoiling.pk != lasting.pk


def test_lots_added_up_say_what_their_lines_say(sky):
    lot = on_shelf(sky, 10)
    ledger.add_up([lot.pk])
    picking.pick(reservation=promise({sky: 6}), item=sky, quantity=6)
    assert ledger.sums([sky.pk])[lot.pk][1:] == (4, 6)
    ledger.add_up([lot.pk])
    counting.count(item=sky, found=3)
    assert ledger.sums([sky.pk])[lot.pk][1:] == (3, 6)
