from inventory.availability import free
from inventory.models import Reservation
from inventory.services import reservation_confirm, reservation_release
from tests.inventory.conftest import on_shelf
from tests.inventory.test_reservation_hold import SPAN, hold


def test_released_stock_is_free_and_its_lines_stay_to_be_read(sky, pole):
    on_shelf(sky, 100)
    on_shelf(pole, 3)
    held = hold([(sky.pk, 70), (pole.pk, 3)])
    reservation_confirm(reservation=held)
    assert reservation_release(reservation=held).state == Reservation.State.RELEASED
    assert free([sky.pk, pole.pk], **SPAN) == {sky.pk: 100, pole.pk: 3}
    assert held.lines.count() == 2


def test_releasing_twice_is_releasing_once(sky):
    on_shelf(sky, 100)
    held = hold([(sky.pk, 70)])
    reservation_release(reservation=held)
    reservation_release(reservation=Reservation.objects.get(pk=held.pk))
    assert free([sky.pk], **SPAN) == {sky.pk: 100}
