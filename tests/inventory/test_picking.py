"""Taking off the store: what somebody holds in the hand is written down, said twice it is so once."""

from datetime import date, timedelta

import pytest
from django.utils import timezone

from inventory import allocation, availability, picking, services
from inventory.models import Count, Lot, Movement, Reservation
from inventory.picks import lists
from inventory.picks.lists import packs_words
from inventory.shown import short_day
from tests.inventory.store_work import here, net, out, promise, signed, stocked

pytestmark = pytest.mark.django_db


@pytest.fixture
def fair(sky, pole):
    return promise({stocked(sky, 300): 120, stocked(pole, 8): 4})


def lacking(item) -> dict[int, int]:
    now = timezone.now()
    return availability.stock_of([item.pk], now=now, starts=now)[item.pk].lacking()


def test_what_is_picked_leaves_the_store_and_is_signed(fair, sky, owner):
    at = timezone.now() - timedelta(minutes=20)
    picking.pick(reservation=fair, item=sky, quantity=120, by=owner, at=at)
    assert (here(sky), out(fair, sky)) == (180, 120)
    assert signed(fair, owner, at)
    assert Reservation.objects.get(pk=fair.pk).begun


def test_more_than_is_promised_is_not_picked(fair, sky, owner):
    picking.pick(reservation=fair, item=sky, quantity=100)
    with pytest.raises(ValueError, match="from 1 to 20"):
        picking.pick(reservation=fair, item=sky, quantity=21)
    assert out(fair, sky) == 100


def test_what_the_ledger_does_not_know_of_is_not_picked(sky):
    fair = promise({stocked(sky, 100): 100})
    Movement.objects.create(lot=sky.lots.get(), item=sky, kind="corrected", store=-40)
    with pytest.raises(picking.NotThere) as refusal:
        picking.pick(reservation=fair, item=sky, quantity=100)
    assert refusal.value.there == 60


def test_a_wrong_pick_goes_back_to_its_lot(fair, sky):
    picking.pick(reservation=fair, item=sky, quantity=120)
    picking.put_back(reservation=fair, item=sky, quantity=20)
    assert (here(sky), out(fair, sky)) == (200, 100)
    with pytest.raises(ValueError, match="from 1 to 100"):
        picking.put_back(reservation=fair, item=sky, quantity=101)


@pytest.mark.parametrize("times", [1, 2, 3])
def test_said_again_it_is_so_once(fair, sky, times):
    for _ in range(times):
        picking.picked_in_all(reservation=fair, item=sky, total=120)
    assert (here(sky), out(fair, sky)) == (180, 120)
    assert Movement.objects.filter(kind="picked").count() == 1


def test_fewer_than_before_are_put_back(fair, sky):
    picking.picked_in_all(reservation=fair, item=sky, total=120)
    picking.picked_in_all(reservation=fair, item=sky, total=50)
    picking.picked_in_all(reservation=fair, item=sky, total=0)
    assert (here(sky), out(fair, sky)) == (300, 0)


def test_no_more_there_empties_the_shelf_and_shows_who_lacks_it(fair, sky, owner):
    later = promise({sky: 100}, starts_in=5, label="0043 Regatta")
    picking.picked_in_all(reservation=fair, item=sky, total=90, no_more=True, by=owner)
    assert (here(sky), out(fair, sky)) == (0, 90)
    assert lacking(sky) == {fair.lines.get(item=sky).pk: 30, later.lines.get().pk: 100}
    count = Count.objects.get()
    assert (count.found, count.said, count.by) == (0, 210, owner) and "Harbour fair" in count.why


def test_poles_picked_weeks_before_are_lacking_to_who_comes_first_and_not_to_who_has_them(pole, owner):
    """Promised one after the other, each can have them all; whoever takes them now keeps them from the other."""
    later, first = promise({stocked(pole, 4): 4}, starts_in=30), promise({pole: 2}, starts_in=10, label="0043 Regatta")
    assert not lacking(pole)
    picking.picked_in_all(reservation=later, item=pole, total=4)
    assert lacking(pole) == {first.lines.get().pk: 2}
    row = lists.pick_list(later, owner, timezone.now()).rows[0]
    assert row.short == f"Short: 2 for 0043 Regatta ({short_day(first.starts)})"
    picking.picked_in_all(reservation=later, item=pole, total=2)
    assert not lacking(pole)


def test_no_more_there_of_a_late_message_leaves_what_came_since(fair, sky):
    """The phone had no signal; a delivery was received meanwhile."""
    at = timezone.now()
    stocked(sky, 500)
    picking.picked_in_all(reservation=fair, item=sky, total=90, no_more=True, at=at)
    assert (here(sky), out(fair, sky)) == (500, 90)


def test_more_than_the_ledger_knew_were_found(sky):
    fair = promise({stocked(sky, 100): 100})
    Movement.objects.create(lot=sky.lots.get(), item=sky, kind="corrected", store=-40)
    picking.picked_in_all(reservation=fair, item=sky, total=100)
    assert (here(sky), out(fair, sky)) == (0, 100)
    assert Movement.objects.get(kind="counted").store == 40


def test_what_spoiled_is_picked_all_the_same_when_somebody_holds_it(sky):
    """Allocation would not take it; whoever ticks it has it in hand."""
    fair = promise({stocked(sky, 100): 100})
    Lot.objects.update(use_by=timezone.localdate() - timedelta(days=3))
    picking.picked_in_all(reservation=fair, item=sky, total=100)
    assert (here(sky), out(fair, sky)) == (0, 100)


@pytest.mark.parametrize("state", ["released", "settled"])
def test_nothing_is_picked_for_what_is_over(fair, sky, state):
    Reservation.objects.update(state=state)
    with pytest.raises(ValueError, match="nothing is picked"):
        picking.picked_in_all(reservation=fair, item=sky, total=1)


def test_a_colour_comes_from_one_lot_where_one_has_enough(sky):
    stocked(sky, 50, batch="old")
    Lot.objects.create(item_id=sky.pk, quantity=200, arrives_on=date(2024, 6, 1), batch="new")
    fair = promise({sky: 120})
    shares = allocation.lots_for(reservation=fair, now=timezone.now())[sky.pk]
    assert [(Lot.objects.get(pk=s.lot_id).batch, s.quantity) for s in shares] == [("new", 120)]


def test_the_list_walks_through_the_store(sky, red, pole, owner):
    for item, bin_ in ((sky, "A10"), (red, "A2"), (pole, "")):
        item.bin = bin_
        item.save()
        stocked(item, 500)
    fair = promise({sky: 120, red: 30, pole: 4})
    picking.pick(reservation=fair, item=red, quantity=30)
    found = lists.pick_list(fair, owner, timezone.now())
    assert [name for name, _ in found.bins] == ["A2", "A10", ""]
    assert [(row.item.name, row.state) for row in found.rows] == [
        ("11 in red", "done"), ("5 in sky", "open"), ("Pole, 2 m", "open"),
    ]  # fmt: skip
    assert found.next.item == sky.item_ptr and found.picked == 1


def test_two_lots_of_a_colour_are_to_be_kept_apart(sky, owner):
    stocked(sky, 70, batch="H-1")
    stocked(sky, 70, batch="H-2")
    row = lists.pick_list(promise({sky: 120}), owner, timezone.now()).rows[0]
    assert row.apart and "70 from the lot of 10 Jan 2024, batch H-1" in row.lots
    assert "50 from the lot of 10 Jan 2024, batch H-2" in row.lots


def test_what_comes_from_another_lot_than_was_picked_is_to_be_kept_apart(sky, owner):
    stocked(sky, 70, batch="H-1")
    fair = promise({sky: 60})
    picking.pick(reservation=fair, item=sky, quantity=40)
    picking.pick_short(reservation=fair, item=sky)
    stocked(sky, 100, batch="H-2")
    [row] = lists.pick_list(fair, owner, timezone.now()).rows
    assert row.lots.endswith("batch H-2") and row.apart
    picking.put_back(reservation=fair, item=sky, quantity=40)
    assert not lists.pick_list(fair, owner, timezone.now()).rows[0].apart, "nothing is in the other shade any more"


@pytest.mark.parametrize(
    ("pieces", "size", "words"),
    [(300, 100, "3 packs of 100"), (340, 100, "3 packs of 100 and 40 more"), (40, 100, ""), (7, 1, ""), (-5, 100, "")],
)
def test_packs_in_words(pieces, size, words):
    assert packs_words(pieces, size) == words


def test_sheets_with_fewer_uses_are_named(owner):
    sheet = stocked(net(), 6)
    Lot.objects.update(uses_left=2)
    stocked(sheet, 6)
    row = lists.pick_list(promise({sheet: 8}), owner, timezone.now()).rows[0]
    assert row.lots == "6 from the lot of 10 Jan 2024; 2 from those with 2 uses left"


def test_the_stores_work_by_what_is_to_be_done(sky, pole, owner):
    stocked(sky, 900), stocked(pole, 90)
    named = {
        "to pick": promise({sky: 10}, label="to pick"),
        "far": promise({sky: 10}, starts_in=40, label="far"),
        "hold": promise({sky: 10}, label="hold", confirm=False),
        "out": promise({pole: 4}, label="out", starts_in=-1, days=3),
        "over": promise({pole: 4}, label="over", starts_in=-4),
        "untold": promise({sky: 10}, label="untold", starts_in=-4),
        "released": promise({sky: 10}, label="released"),
    }
    for name in ("out", "over"):
        picking.pick(reservation=named[name], item=pole, quantity=4)
    services.reservation_release(reservation=named["released"])
    work = lists.store_work(owner, timezone.now())
    assert {
        name: [one.reservation.label for one in getattr(work, name)] for name in ("to_pick", "out", "over", "untold")
    } == {"to_pick": ["to pick"], "out": ["out"], "over": ["over"], "untold": ["untold"]}


def test_a_bin_tells_what_is_to_be_picked_from_it(fair, sky, owner, crew_user):
    now = timezone.now()
    picking.pick(reservation=fair, item=sky, quantity=20)
    assert [(row.item.pk, row.rest) for row in lists.open_rows_of_bin("b2", owner, now)] == [(sky.pk, 100)]
    assert lists.open_rows_of_bin("B2", crew_user, now) == []
    picking.pick(reservation=fair, item=sky, quantity=100)
    assert lists.open_rows_of_bin("B2", owner, now) == []
