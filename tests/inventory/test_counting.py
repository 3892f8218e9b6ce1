"""Counting the store, and correcting the ledger by another line."""

from datetime import timedelta

import pytest
from django.utils import timezone

from inventory import counting, picking, returning
from inventory.models import Count, Lot, Movement
from inventory.picks import counts
from inventory.returning import Ways
from inventory.stocking import PromisesBroken
from tests import shelf
from tests.inventory.store_work import here, promise, stocked

pytestmark = pytest.mark.django_db


def test_as_many_as_the_ledger_says_moves_nothing(sky, owner):
    stocked(sky, 300)
    assert counting.count(item=sky, found=300, by=owner) == []
    count = Count.objects.get()
    assert (count.found, count.said, count.by) == (300, 300, owner)


@pytest.mark.parametrize("found", [0, 260, 340])
def test_a_difference_is_a_line_with_a_reason(sky, owner, found):
    stocked(sky, 300)
    [line] = counting.count(item=sky, found=found, by=owner, why="a torn bag")
    assert (line.kind, line.store, line.by, line.why) == ("counted", found - 300, owner, "a torn bag")
    assert here(sky) == found


def test_the_oldest_lot_lacks_first(sky):
    old = Lot.objects.create(item_id=sky.pk, quantity=50, arrives_on="2024-01-10", use_by="2027-01-01")
    stocked(sky, 50)
    counting.count(item=sky, found=30)
    assert {line.lot_id: line.store for line in Movement.objects.filter(kind="counted")} == {
        old.pk: -50, sky.lots.exclude(pk=old.pk).get().pk: -20,
    }  # fmt: skip


def test_what_was_found_without_any_lot_is_signed(sky, owner):
    at = timezone.now()
    counting.count(item=sky, found=12, by=owner, at=at, why="behind the rack")
    line = Movement.objects.get()
    assert (line.store, line.by, line.at, line.why) == (12, owner, at, "behind the rack")
    assert sky.lots.get().received


def test_a_late_count_counts_for_the_moment_it_was_made(sky):
    """Counted at ten without a signal, picked at five past, told at noon."""
    fair = promise({stocked(sky, 300): 120})
    ten = timezone.now()
    picking.pick(reservation=fair, item=sky, quantity=120, at=ten + timedelta(minutes=5))
    counting.count(item=sky, found=290, at=ten)
    assert here(sky) == 170, "ten fewer than the ledger said at ten, and the 120 that left after it"


def test_a_late_count_never_leaves_less_than_nothing(sky):
    fair = promise({stocked(sky, 100): 90})
    ten = timezone.now()
    picking.pick(reservation=fair, item=sky, quantity=90, at=ten + timedelta(minutes=5))
    counting.count(item=sky, found=50, at=ten)
    assert here(sky) == 0


def test_promises_that_would_be_short_are_named_and_nothing_is_written(sky):
    promise({stocked(sky, 300): 250})
    with pytest.raises(PromisesBroken) as refusal:
        counting.count(item=sky, found=200)
    assert [(p.label, p.short) for p in refusal.value.promises] == [("0042 Harbour fair", 50)]
    assert here(sky) == 300 and not Count.objects.exists()
    counting.count(item=sky, found=200, even_if_short=True)
    assert here(sky) == 200


def test_below_nought_is_no_count(sky):
    with pytest.raises(ValueError, match="found"):
        counting.count(item=sky, found=-1)


@pytest.mark.parametrize(
    ("change", "why", "words"), [(0, "x", "change"), (5, " ", "why"), (-301, "x", "the 300 that are here")]
)
def test_a_correction_says_what_and_why(sky, change, why, words):
    stocked(sky, 300)
    with pytest.raises(ValueError, match=words):
        counting.correct(item=sky, change=change, why=why)
    assert here(sky) == 300


def test_a_correction_is_a_line_of_its_own(sky, owner):
    stocked(sky, 300)
    [line] = counting.correct(item=sky, change=-20, why="written twice", by=owner)
    assert (line.kind, line.store, line.why, here(sky)) == ("corrected", -20, "written twice", 280)
    with pytest.raises(TypeError):
        line.save()


def test_what_was_moved_since_the_last_count_in_words(sky, owner):
    fair = promise({stocked(sky, 300): 120}, starts_in=-3)
    counting.count(item=sky, found=310, by=owner)
    picking.pick(reservation=fair, item=sky, quantity=12)
    returning.take_back(reservation=fair, item=sky, ways=Ways(burst=3, back=4), done=False)
    [row] = counts.rows_of([sky.item_ptr])
    assert row.said == 302
    assert (
        row.since == "4 came back from 0042 Harbour fair, 3 burst at 0042 Harbour fair, 12 picked for 0042 Harbour fair"
    )
    assert row.last.startswith("310 on ") and row.last.endswith("by Olive Marsh")


def test_bins_in_the_order_of_the_walk_say_what_was_never_counted(sky, red, pole, owner):
    for item, bin_ in ((sky, "A10"), (red, "A2"), (pole, "a2")):
        item.bin = bin_
        item.save()
    counting.count(item=red, found=3)
    found = counts.count_bins(owner, timezone.now())
    assert [(one.name.upper(), one.items, one.never) for one in found] == [("A2", 2, 1), ("A10", 1, 1)]


def test_a_pick_told_after_the_count_that_saw_it_is_not_counted_twice(sky):
    """Picked at ten to ten without a signal; counted at ten, 120 fewer; the pick is told at noon."""
    fair = promise({stocked(sky, 300): 120})
    ten = timezone.now()
    before = ten - timedelta(minutes=10)
    shelf.came_earlier(days=9)
    counting.count(item=sky, found=180, at=ten, even_if_short=True)
    picking.pick(reservation=fair, item=sky, quantity=120, at=before)
    assert here(sky) == 60
    [line] = counting.told_late(item=sky, at=before)
    assert (line.store, line.at, here(sky)) == (120, ten, 180)
    assert counting.told_late(item=sky, at=before) == [], "and that once"


def test_what_was_done_after_the_count_stays_done(sky):
    fair = promise({stocked(sky, 300): 120})
    ten = timezone.now()
    counting.count(item=sky, found=300, at=ten)
    picking.pick(reservation=fair, item=sky, quantity=120, at=ten + timedelta(minutes=5))
    assert counting.told_late(item=sky, at=ten + timedelta(minutes=5)) == [] and here(sky) == 180


def test_an_older_count_that_comes_late_changes_nothing(sky):
    stocked(sky, 300)
    ten = timezone.now()
    shelf.came_earlier(days=9)
    counting.count(item=sky, found=280, at=ten)
    earlier = ten - timedelta(minutes=10)
    counting.count(item=sky, found=290, at=earlier)
    counting.told_late(item=sky, at=earlier)
    assert here(sky) == 280
