"""Stories that the store at random told and that went wrong once, each told again as it was."""

import pytest
from django.utils import timezone

from inventory import availability, counting, picking, stocking
from tests.inventory.store_work import here, out, promise, stocked
from tests.inventory.test_store_machine import Store, cast

__all__ = ["cast"]


def told(*steps) -> None:
    """With all that must be so after each step."""
    story = Store()
    try:
        for name, given in steps:
            getattr(story, name)(**given)
            story.the_ledgers_sum_is_what_lies_there()
            story.no_promise_is_worse_off_unless_somebody_signed_it()
            story.what_is_over_reserves_nothing()
            story.the_promises_are_those_that_were_made()
    finally:
        story.teardown()


BEGUN = ("shelves_filled", {"quantities": (6, 6, 6), "begun": [(0, 1, 0, 1), (1, 1, 0, 1)]})


def test_what_a_tick_found_does_not_lie_on_the_shelf_as_well(cast):
    """The ledger said none, one was found and carried off; one was left on the shelf that nobody ever saw."""
    told(
        BEGUN,
        ("time_passes", {"hours": 1}),
        ("lot_taken_away", {"number": 1, "force": True, "plug": 0}),
        ("tick_sent", {"number": 0, "nth": 0, "total": None, "knew": None, "none_left": False, "plug": 0}),
    )


def test_what_was_never_fetched_is_not_lacked_by_who_is_late(cast):
    """Two events shared the last pole; it went to one, which is late with it. The other is over and did without: the
    late one was told to lack what it has."""
    told(
        BEGUN,
        ("confirm", {"number": 0, "plug": 0}),
        ("count", {"number": 1, "found": 1, "force": True, "plug": 0}),
        ("pick", {"number": 0, "nth": 1, "quantity": 1, "plug": 0}),
        ("pick", {"number": 1, "nth": 1, "quantity": 1, "plug": 0}),
        ("time_passes", {"hours": 50}),
    )


def test_who_counts_fewer_than_an_event_that_is_over_was_promised(cast):
    """The third event used three and nobody ticked it. Four are left, enough for the other two: nobody to ask."""
    told(
        ("shelves_filled", {"quantities": (11, 12, 12), "begun": [(0, 1, 0, 3), (0, 2, 0, 3), (0, 3, 0, 1)]}),
        ("time_passes", {"hours": 24}),
        ("count_sent", {"number": 0, "found": 4, "force": False, "plug": 0}),
    )


def test_the_last_piece_that_two_share_is_not_taken_away_without_a_word(pole):
    """Each of two events of one day lacked one pole. Without the last one each still lacked one: nobody was asked."""
    stocked(pole, 2)
    promise({pole: 1}, label="Fair")
    promise({pole: 1}, label="Quay")
    counting.count(item=pole, found=1, even_if_short=True)
    with pytest.raises(stocking.PromisesBroken) as refusal:
        counting.count(item=pole, found=0)
    assert [(broken.label, broken.short) for broken in refusal.value.promises] == [("Fair", 1), ("Quay", 1)]
    assert here(pole) == 1


def test_a_late_tick_is_written_though_others_took_the_rest_since(pole, owner):
    """Two were carried off without a signal; the ledger still knew of them, and all that it knew of went to another
    event before the tick came. It picked nothing then, and what was in somebody's hands was nowhere."""
    stocked(pole, 5)
    late, first = promise({pole: 2}, label="Fair"), promise({pole: 3}, label="Quay")
    tick = timezone.now()
    picking.picked_in_all(reservation=first, item=pole, total=3, by=owner)
    counting.count(item=pole, found=0, by=owner, even_if_short=True)
    picking.picked_in_all(reservation=late, item=pole, total=2, by=owner, at=tick)
    counting.told_late(item=pole, at=tick, by=owner)
    assert (out(late, pole), out(first, pole), here(pole)) == (2, 3, 0)
    stock = availability.stock_of([pole.pk], now=timezone.now(), starts=timezone.now())[pole.pk]
    assert not stock.lacking()


@pytest.mark.parametrize(("gone", "left"), [(1, 0), (2, 0), (3, 0), (0, 1)])
def test_what_went_elsewhere_before_a_tick_came_is_not_what_it_picked(sky, owner, gone, left):
    stocked(sky, 3)
    event, tick = promise({sky: 2}), timezone.now()
    if gone:
        counting.correct(item=sky, change=-gone, why="burst in the box", by=owner, even_if_short=True)
    picking.picked_in_all(reservation=event, item=sky, total=2, by=owner, at=tick)
    counting.told_late(item=sky, at=tick, by=owner)
    assert (out(event, sky), here(sky)) == (2, left)
