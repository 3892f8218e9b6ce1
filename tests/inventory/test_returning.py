"""What came back, in what state, and what that leaves."""

from datetime import timedelta

import pytest
from django.utils import timezone

from inventory import picking, returning
from inventory.models import Lot, Movement, Reservation
from inventory.picks import returns
from inventory.returning import Ways
from inventory.stocking import PromisesBroken
from tests.inventory.store_work import here, net, out, promise, stocked

pytestmark = pytest.mark.django_db


@pytest.fixture
def fair(sky, pole):
    made = promise({stocked(sky, 300): 120, stocked(pole, 8): 4}, starts_in=-3)
    for item, quantity in ((sky, 120), (pole, 4)):
        picking.pick(reservation=made, item=item, quantity=quantity)
    return made


def state(reservation) -> str:
    return Reservation.objects.get(pk=reservation.pk).state


def test_the_rest_of_a_consumable_is_used(fair, sky, owner):
    at = timezone.now() - timedelta(hours=1)
    returning.count_back(reservation=fair, item=sky, ways=Ways(back=30, burst=5), by=owner, at=at)
    assert (here(sky), out(fair, sky)) == (210, 0)
    lines = fair.movements.exclude(kind="picked")
    assert {line.kind: line.out for line in lines} == {"back": -30, "used": -85, "burst": -5}
    assert all((line.by, line.at) == (owner, at) for line in lines)


def test_the_rest_of_a_returnable_is_back_in_good_order(fair, pole):
    returning.count_back(reservation=fair, item=pole, ways=Ways(lost=1))
    assert (here(pole), out(fair, pole)) == (7, 0)


def test_the_last_one_settles_the_event(fair, sky, pole):
    returning.count_back(reservation=fair, item=sky, ways=Ways())
    assert state(fair) == "confirmed"
    returning.count_back(reservation=fair, item=pole, ways=Ways())
    assert state(fair) == "settled"
    with pytest.raises(ValueError, match="counted back"):
        returning.count_back(reservation=fair, item=pole, ways=Ways())


def test_more_than_is_out_is_refused_and_nothing_written(fair, sky):
    before = Movement.objects.count()
    with pytest.raises(ValueError, match="more than the 120"):
        returning.count_back(reservation=fair, item=sky, ways=Ways(burst=121))
    assert Movement.objects.count() == before and fair.lines.get(item=sky).counts


@pytest.mark.parametrize("way", ["back", "used", "burst", "thrown", "lost"])
def test_no_way_is_below_nought(way):
    with pytest.raises(ValueError, match=way):
        Ways(**{way: -1})


@pytest.mark.parametrize(("taken", "left"), [(True, 180), (False, 300)])
def test_what_nobody_ticked_went_out_as_planned_or_stayed(sky, taken, left):
    fair = promise({stocked(sky, 300): 120}, starts_in=-3)
    returning.count_back(reservation=fair, item=sky, ways=Ways(), taken=taken)
    assert (here(sky), out(fair, sky), state(fair)) == (left, 0, "settled")


def test_sheets_lose_a_use_and_the_last_one_wears_them_out():
    sheet = stocked(net(uses=2), 6)
    for number, left in ((1, 6), (2, 0)):
        fair = promise({sheet: 6}, starts_in=-3, label=f"{number} fair")
        picking.pick(reservation=fair, item=sheet, quantity=6)
        [row] = returns.return_list(fair)
        assert row.last_use == (6 if number == 2 else 0)
        returning.count_back(reservation=fair, item=sheet, ways=Ways())
        assert here(sheet) == left
    assert Lot.objects.get(split_from__isnull=False).uses_left == 1
    assert Movement.objects.get(kind="worn").out == -6


def test_a_mistake_is_turned_round_by_other_lines(fair, sky, pole, owner):
    for item in (sky, pole):
        returning.count_back(reservation=fair, item=item, ways=Ways(back=2))
    before = Movement.objects.count()
    returning.count_back_undo(reservation=fair, item=sky, by=owner)
    assert (here(sky), out(fair, sky), state(fair)) == (180, 120, "confirmed")
    assert Movement.objects.count() == before + 2, "nothing was changed, two lines were added"
    returning.count_back(reservation=fair, item=sky, ways=Ways(back=20))
    assert (here(sky), state(fair)) == (200, "settled")
    [row] = [row for row in returns.return_list(fair) if row.item.pk == sky.pk]
    assert row.became == "20 back, 100 used"


def test_worn_sheets_are_new_again_when_it_was_a_mistake():
    sheet = stocked(net(), 6)
    fair = promise({sheet: 6}, starts_in=-3)
    picking.pick(reservation=fair, item=sheet, quantity=6)
    returning.count_back(reservation=fair, item=sheet, ways=Ways(thrown=1))
    returning.count_back_undo(reservation=fair, item=sheet)
    assert (here(sheet), out(fair, sheet)) == (0, 6)
    returning.count_back(reservation=fair, item=sheet, ways=Ways())
    assert here(sheet) == 6


def test_nothing_is_turned_round_that_somebody_took_since(fair, pole):
    returning.count_back(reservation=fair, item=pole, ways=Ways())
    later = promise({pole: 8}, label="later", starts_in=1)
    picking.pick(reservation=later, item=pole, quantity=8)
    with pytest.raises(ValueError, match="something else since"):
        returning.count_back_undo(reservation=fair, item=pole)
    assert out(fair, pole) == 0


def test_nothing_is_turned_round_that_is_promised_since(fair, sky):
    returning.count_back(reservation=fair, item=sky, ways=Ways(back=120))
    promise({sky: 300}, label="later", starts_in=1)
    with pytest.raises(PromisesBroken):
        returning.count_back_undo(reservation=fair, item=sky)
    assert (here(sky), out(fair, sky)) == (300, 0)


def test_an_event_that_nobody_ticked_is_settled_as_planned(sky, pole):
    sheet = stocked(net(), 6)
    fair = promise({stocked(sky, 300): 120, stocked(pole, 8): 4, sheet: 6}, starts_in=-3)
    returning.settle_as_planned(reservation=fair)
    assert (here(sky), here(pole), here(sheet), state(fair)) == (180, 8, 6, "settled")
    assert Lot.objects.get(item=sheet, split_from__isnull=False).uses_left == 2


def test_as_planned_leaves_out_what_is_not_there(sky):
    fair = promise({stocked(sky, 120): 120}, starts_in=-3)
    Movement.objects.create(lot=sky.lots.get(), item=sky, kind="corrected", store=-50)
    returning.settle_as_planned(reservation=fair)
    assert (here(sky), state(fair)) == (0, "settled")
    assert fair.movements.get(kind="used").out == -70
