from datetime import datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest

from inventory.availability import curve, free, free_detail
from inventory.models import Reservation, ReservationLine
from tests.inventory.conftest import NOW, day, stock

CONFIRMED, HOLD, RELEASED = Reservation.State.CONFIRMED, Reservation.State.HOLD, Reservation.State.RELEASED


def promise(item, quantity, starts, ends, state=CONFIRMED, expires=None) -> Reservation:
    reservation = Reservation.objects.create(label="Quay fair", starts=starts, ends=ends, state=state, expires=expires)
    ReservationLine.objects.create(
        reservation=reservation, item_id=item.pk, quantity=quantity, starts=starts, ends=ends, counts=state != RELEASED
    )
    return reservation


def free_of(item, first, last) -> int:
    return free([item.pk], day(first), day(last), now=NOW)[item.pk]


def test_nothing_in_stock_is_nothing_free(pole, sky):
    assert free([pole.pk, sky.pk], day(1), day(2), now=NOW) == {pole.pk: 0, sky.pk: 0}


def test_no_items_is_no_answer(db):
    assert free([], day(1), day(2)) == {}


def test_returnable_counts_the_peak_not_the_sum(pole):
    stock(pole, 10)
    promise(pole, 6, day(1), day(3))
    promise(pole, 6, day(3), day(5))
    assert free_of(pole, 1, 5) == 4


def test_spans_are_half_open(pole):
    stock(pole, 10)
    promise(pole, 10, day(2), day(4))
    assert (free_of(pole, 0, 2), free_of(pole, 4, 6)) == (10, 10)
    assert (free_of(pole, 0, 3), free_of(pole, 3, 6)) == (0, 0)


def test_returnable_that_arrives_within_the_span_does_not_count(pole):
    stock(pole, 4)
    stock(pole, 6, 3, received=False)
    assert (free_of(pole, 2, 5), free_of(pole, 3, 5), free_of(pole, 2, 3)) == (4, 10, 4)


def test_later_bigger_promise_of_a_returnable_holds_within_its_span_only(pole):
    stock(pole, 10)
    promise(pole, 9, day(5), day(6))
    assert (free_of(pole, 1, 5), free_of(pole, 1, 6)) == (10, 1)


def test_consumable_is_gone_after_its_event(sky):
    stock(sky, 100)
    promise(sky, 30, day(1), day(2))
    assert (free_of(sky, 3, 4), free_of(sky, 20, 21)) == (70, 70)


def test_consumable_keeps_a_later_promise_whole(sky):
    stock(sky, 100)
    promise(sky, 80, day(10), day(11))
    assert free_of(sky, 1, 2) == 20


def test_an_order_that_comes_before_the_later_promise_frees_what_is_here(sky):
    stock(sky, 100)
    stock(sky, 80, 9, received=False)
    promise(sky, 80, day(10), day(11))
    assert (free_of(sky, 1, 2), free_of(sky, 10, 11)) == (100, 100)


def test_an_order_counts_from_its_day(sky):
    stock(sky, 50, 4, received=False)
    assert (free_of(sky, 3, 5), free_of(sky, 4, 5)) == (0, 50)


def test_an_order_that_is_overdue_does_not_count(sky, pole):
    for item in (sky, pole):
        stock(item, 50, -1, received=False)
        stock(item, 7, 0, received=False)
    assert (free_of(sky, 3, 5), free_of(pole, 3, 5)) == (7, 7)


def test_a_lot_counts_to_the_end_of_its_last_day(sky, pole):
    for item in (sky, pole):
        stock(item, 50, use_by=4)
        assert free([item.pk], day(3), day(4, 23), now=NOW)[item.pk] == 50
        assert free([item.pk], day(3), day(5), now=NOW)[item.pk] == 50
        assert free([item.pk], day(3), day(5, 1), now=NOW)[item.pk] == 0


def test_what_spoils_first_is_promised_first(sky):
    stock(sky, 50, use_by=4)
    stock(sky, 50)
    promise(sky, 50, day(1), day(2))
    assert free_of(sky, 10, 11) == 50


def test_an_unserved_promise_takes_nothing_from_stock_that_came_after_it(sky):
    promise(sky, 30, day(1), day(2))
    stock(sky, 100, 5, received=False)
    assert free_of(sky, 6, 7) == 100


@pytest.mark.parametrize(
    ("state", "expires", "left"),
    [
        (CONFIRMED, None, 3),
        (HOLD, NOW + timedelta(seconds=1), 3),
        (HOLD, NOW, 10),
        (HOLD, NOW - timedelta(seconds=1), 10),
        (RELEASED, NOW + timedelta(days=3), 10),
    ],
)
def test_what_counts_as_promised(sky, pole, state, expires, left):
    for item in (sky, pole):
        stock(item, 10)
        promise(item, 7, day(1), day(2), state, expires)
        assert free_of(item, 1, 2) == left


def test_one_reservation_can_be_left_out(sky):
    stock(sky, 10)
    mine = promise(sky, 7, day(1), day(2))
    assert free([sky.pk], day(1), day(2), now=NOW, exclude=mine) == {sky.pk: 10}


def test_never_below_zero(sky, pole):
    for item in (sky, pole):
        promise(item, 7, day(1), day(2))
        assert free_of(item, 1, 2) == 0


def test_other_zones_mean_the_same_moment(pole):
    stock(pole, 5)
    promise(pole, 5, day(1), day(2))
    here = [m.astimezone(ZoneInfo("America/Denver")) for m in (day(2), day(3))]
    assert free([pole.pk], *here, now=NOW) == {pole.pk: 5}
    fixed = [m.astimezone(timezone(timedelta(hours=9))) for m in (day(1), day(2))]
    assert free([pole.pk], *fixed, now=NOW) == {pole.pk: 0}


@pytest.mark.parametrize(
    ("starts", "ends", "words"),
    [
        (datetime(2031, 5, 1), day(2), "starts must be a date and time with a time zone"),
        (day(1), datetime(2031, 5, 9), "ends must be a date and time with a time zone"),
        (day(1).date(), day(2), "starts must be a date and time with a time zone"),
        (day(2), day(2), "ends must come after starts"),
        (day(3), day(2), "ends must come after starts"),
    ],
)
def test_bad_spans_are_named(sky, starts, ends, words):
    for ask in (free, free_detail):
        with pytest.raises(ValueError, match=words):
            ask([sky.pk], starts, ends)
    with pytest.raises(ValueError, match=words):
        curve(sky.pk, starts, ends)


def test_a_naive_now_is_named(sky):
    with pytest.raises(ValueError, match="now must be"):
        free([sky.pk], day(1), day(2), now=datetime(2031, 5, 1))


def test_an_unknown_item_is_named(sky):
    with pytest.raises(ValueError, match="there is no item 9999"):
        free([sky.pk, 9999], day(1), day(2))


def test_few_queries_however_many_items(sky, red, pole, django_assert_max_num_queries):
    for item in (sky, red, pole):
        stock(item, 100)
        for number in range(5):
            promise(item, 1, day(number), day(number + 2))
    with django_assert_max_num_queries(7):
        assert free([sky.pk, red.pk, pole.pk], day(1), day(2), now=NOW) == {sky.pk: 95, red.pk: 95, pole.pk: 98}


def test_detail_of_a_consumable(sky):
    stock(sky, 100)
    stock(sky, 40, 2, received=False)
    stock(sky, 40, 8, received=False)
    stock(sky, 500, -2, received=False)
    promise(sky, 30, day(1), day(2))
    promise(sky, 50, day(6), day(7))
    detail = free_detail([sky.pk], day(3), day(4), now=NOW)[sky.pk]
    assert (detail.on_hand, detail.expected, detail.reserved, detail.free) == (70, 40, 50, 60)
    assert (detail.short, detail.short_from) == (0, None)
    assert (detail.due, detail.overdue) == (day(2).date(), day(-2).date())


def test_detail_of_a_returnable(pole):
    stock(pole, 10)
    promise(pole, 6, day(1), day(3))
    promise(pole, 6, day(2), day(5))
    detail = free_detail([pole.pk], day(1), day(2), now=NOW)[pole.pk]
    assert (detail.on_hand, detail.reserved, detail.free) == (10, 6, 4)
    assert (detail.short, detail.short_from) == (2, day(1))


def test_detail_of_a_short_consumable(sky):
    stock(sky, 20)
    promise(sky, 30, day(3), day(4))
    promise(sky, 26, day(6), day(7))
    detail = free_detail([sky.pk], day(1), day(2), now=NOW)[sky.pk]
    assert (detail.free, detail.short, detail.short_from) == (0, 36, day(3))


def test_curve_of_a_consumable_dips_while_it_hurts_and_rises_with_the_order(sky):
    stock(sky, 400)
    promise(sky, 300, day(2), day(3))
    promise(sky, 136, day(5), day(7))
    stock(sky, 300, 8, received=False)
    assert curve(sky.pk, day(0), day(20), now=NOW) == [
        (day(0), 400),
        (day(2), 100),
        (day(5), -36),
        (day(7), 0),
        (day(8), 300),
    ]


def test_curve_of_a_returnable_comes_back(pole):
    stock(pole, 4)
    promise(pole, 6, day(2), day(3))
    assert curve(pole.pk, day(0), day(20), now=NOW) == [(day(0), 4), (day(2), -2), (day(3), 4)]
