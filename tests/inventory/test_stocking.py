from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from inventory import stocking
from inventory.models import Lot
from tests.inventory.conftest import on_shelf


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"quantity": 0}, "quantity must be above zero"),
        ({"use_by": timezone.localdate() - timedelta(days=1)}, "use_by must not come before arrives_on"),
        (
            {"arrives_on": timezone.localdate() + timedelta(days=2)},
            "arrives_on must not be in the future when received",
        ),
    ],
)
def test_bad_lots_are_named(sky, changes, words):
    good = {"item": sky, "quantity": 5, "arrives_on": timezone.localdate()}
    with pytest.raises(ValueError, match=words):
        stocking.lot_add(**good | changes)
    assert not Lot.objects.exists()
    lot = stocking.lot_add(**good)
    for name, value in changes.items():
        setattr(lot, name, value)
    with pytest.raises(ValueError, match=words):
        stocking.lot_change(lot=lot)
    assert Lot.objects.get().quantity == 5


def test_a_lot_keeps_its_items_cost_unless_told(sky):
    assert stocking.lot_add(item=sky, quantity=5, arrives_on=timezone.localdate()).unit_cost == Decimal("0.0620")
    free = stocking.lot_add(item=sky, quantity=5, arrives_on=timezone.localdate(), unit_cost=Decimal(0))
    assert free.unit_cost == 0


@pytest.mark.parametrize(
    ("size", "shape", "finish", "name"),
    [
        ("5", "round", "plain", "5 in sky"),
        ("5.0", "round", "pearl", "5 in pearl sky"),
        ("10", "double-ended", "plain", "10 in double-ended sky"),
        ("260", "long", "metallic", "260 in long metallic sky"),
    ],
)
def test_names_of_balloons(size, shape, finish, name):
    assert stocking.latex_name(nominal_in=Decimal(size), shape=shape, colour="sky", finish=finish) == name


def test_found_items_are_the_active_ones(sky, red):
    stocking.item_retire(item=red)
    assert stocking.items_found() == [sky.item_ptr]
    assert stocking.items_found(words="red") == []


def test_used_is_counted_by_lot(sky):
    on_shelf(sky, 10)
    assert stocking.lot_used(lot=Lot.objects.get(), now=timezone.now()) == 0
