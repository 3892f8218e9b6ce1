"""Whom an early pick leaves without: as it is told before, so it is once it is done."""

from datetime import timedelta
from random import Random

import pytest
from django.utils import timezone

from inventory import picking, stocking
from inventory.models import Lot, ReservationLine
from inventory.picks.lists import pick_list
from inventory.services import Shortage
from inventory.shown import short_day
from tests.inventory.store_work import net, promise, stocked

pytestmark = pytest.mark.django_db


def lacking(item) -> dict[int, int]:
    return stocking.lacking_by_line(item_id=item.pk, now=timezone.now())


def row_of(promised, owner):
    (row,) = pick_list(promised, owner, timezone.now()).rows
    return row


def test_balloons_of_a_later_order_are_not_those_that_are_here(sky, owner):
    """Who is served by the order would take what an earlier event lives of."""
    due = timezone.localdate() + timedelta(days=20)
    Lot.objects.create(item_id=stocked(sky, 100).pk, quantity=100, arrives_on=due, received=False)
    promise({sky: 70}, starts_in=10, label="0043 Regatta")
    row = row_of(promise({sky: 100}, starts_in=30), owner)
    assert row.early.safe == 30 and "70 for 0043 Regatta" in row.early.says


def test_what_is_due_today_or_needed_by_nobody_before_is_taken_without_a_word(sky, pole, owner):
    fair = promise({stocked(sky, 100): 100}, starts_in=30)
    begun = promise({stocked(pole, 4): 4}, starts_in=0)
    promise({pole: 4}, starts_in=9, label="After it")
    assert row_of(fair, owner).early.says == row_of(begun, owner).early.says == ""


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("kind", ["sky", "pole", "net"])
def test_what_is_told_is_what_comes_of_it(request, owner, kind, seed):
    dice = Random(seed)
    item = net(uses=9) if kind == "net" else request.getfixturevalue(kind)
    stocked(item, dice.randint(4, 12))
    due = timezone.localdate() + timedelta(days=dice.randint(2, 15))
    Lot.objects.create(item_id=item.pk, quantity=dice.randint(1, 6), arrives_on=due, received=False)
    made = []
    for number in range(12):
        quantity, starts, days = dice.randint(1, 5), dice.randint(1, 20), dice.randint(1, 4)
        try:
            made.append(promise({item: quantity}, starts_in=starts, days=days, label=f"Event {number}"))
        except Shortage:
            continue
    picked = max(made, key=lambda one: one.starts)
    assert not lacking(item)
    row = row_of(picked, owner)
    in_all = min(row.asked, row.here)
    if row.early.says:
        picking.picked_in_all(reservation=picked, item=item, total=row.early.safe)
        assert not lacking(item)
        if row.early.safe < in_all:
            picking.picked_in_all(reservation=picked, item=item, total=row.early.safe + 1)
            assert lacking(item)
    picking.picked_in_all(reservation=picked, item=item, total=in_all)
    lines = ReservationLine.objects.in_bulk(lacking(item))
    named = [
        f"{n} for {lines[pk].reservation.label} ({short_day(lines[pk].starts)})" for pk, n in lacking(item).items()
    ]
    assert sorted(row.early.says.partition(": ")[2].split(", ")) == (sorted(named) or [""])
