"""What is short for a span, and what would close it."""

import itertools
from datetime import timedelta
from decimal import Decimal

import numpy as np
import pytest
from django.utils import timezone
from hypothesis import assume, given, settings
from hypothesis import strategies as some
from skimage.color import deltaE_ciede2000, rgb2lab

from inventory import availability
from inventory.availability import Stock
from inventory.balance import NEVER, Demand, Supply
from inventory.gap_words import gap_line
from inventory.gaps import gaps_of_list
from inventory.givers import Span, _could_give
from inventory.later import LOOK_AHEAD, first_later
from inventory.models import Cylinder, Hardware, Item, Latex, Lot, Sheet
from inventory.picking import pick
from inventory.services import reservation_confirm, reservation_hold
from inventory.swaps import LOOKED_AT, SHADE, candidates, difference_words
from tests.inventory.conftest import NOW, day, on_shelf
from tests.shelf import lost

pytestmark = pytest.mark.django_db


@pytest.fixture
def now():
    return timezone.now()


def latex(colour: str, rgb: str, finish: str = "plain", size: int = 5, shape: str = "round") -> Latex:
    return Latex.objects.create(
        kind="latex", name=f"{size} in {finish} {shape} {colour}", nominal_in=size, colour=colour, rgb=rgb,
        finish=finish, shape=shape, pack_size=100, pack_price=Decimal("6.20"), lead_days=5,
    )  # fmt: skip


def ahead(now, days, hours=0):
    return now + timedelta(days=days, hours=hours)


def hold(now, lines, starts, ends, label="Harbour fair"):
    return reservation_hold(
        lines=lines, starts=ahead(now, starts), ends=ahead(now, ends), label=label, expires=ahead(now, 3)
    )


def gap(now, item, quantity, starts=20, ends=22, **besides):
    wanted = {item.pk: quantity} | {other.pk: n for other, n in besides.get("besides", {}).items()}
    return gaps_of_list(wanted, ahead(now, starts), ahead(now, ends), now=now)[item.pk]


def test_what_is_free_has_no_gap(now, sky):
    on_shelf(sky, 600)
    found = gap(now, sky, 525)
    assert (found.free, found.short, found.buy, found.swaps, found.givers) == (600, 0, None, (), ())


def test_buying_in_whole_packs_in_time_and_too_late(now, sky):
    on_shelf(sky, 100)
    found = gap(now, sky, 236)
    assert (found.short, found.buy.packs, found.buy.quantity, found.buy.cost) == (136, 2, 200, Decimal("12.40"))
    assert found.buy.order_by == availability.utc_day(ahead(now, 20)) - timedelta(days=5)
    assert found.arrives == availability.utc_day(now) + timedelta(days=5)
    words = gap_line(found, "EUR").closers[0]
    assert words.says == "2 packs of 100, €12.40, from Estuary Latex" and "last day to order" in words.small
    late = gap_line(gap(now, sky, 236, 2, 3), "EUR").closers
    assert late[0].chip == ("no", "Too late") and "would be here on" in late[0].small
    assert late[-1].says.startswith("With an order today, from ")


def test_when_it_would_be_free_a_returnable(now, pole):
    on_shelf(pole, 10)
    hold(now, [(pole.pk, 8)], 19, 23)
    hold(now, [(pole.pk, 8)], 24, 26)
    found = gap(now, pole, 4)
    # From day 23 there is a day only, and it is wanted for two.
    assert found.short == 2 and found.later == ahead(now, 26)
    assert gap(now, pole, 11).later is None


def test_when_it_would_be_free_a_consumable(now, sky):
    on_shelf(sky, 100)
    due = availability.utc_day(ahead(now, 30))
    Lot.objects.create(item_id=sky.pk, quantity=300, arrives_on=due, received=False)
    assert gap(now, sky, 236).later == availability.day_start(due)
    far = availability.utc_day(ahead(now, 20) + LOOK_AHEAD) + timedelta(days=1)
    Lot.objects.filter(received=False).update(arrives_on=far)
    assert gap(now, sky, 236).later is None


spans = some.lists(
    some.tuples(some.integers(1, 6), some.integers(0, 20), some.integers(1, 6)), max_size=5
)  # fmt: skip


@settings(max_examples=200)
@given(supplies=spans, demands=spans, returnable=some.booleans(), wanted=some.integers(1, 8))
def test_the_first_later_day_is_the_first_of_all_days(supplies, demands, returnable, wanted):
    """Against asking for every half day, one after the other."""
    lots = [Supply(n, day(at), day(at + 3 * long)) for n, at, long in supplies]
    taken = [Demand(n, day(at), day(at + long), number) for number, (n, at, long) in enumerate(demands)]
    stock = Stock(1, returnable, supplies=lots, demands=taken if returnable else [], wear=[] if returnable else taken)
    starts, length = day(2), timedelta(days=2)
    every = (starts + timedelta(hours=12 * n) for n in range(1, 16 * 7 + 1))
    slow = next((at for at in every if stock.free(at, at + length) >= wanted), None)
    if stock.free(starts, starts + length) >= wanted:
        # It is not short; only what is short is ever asked.
        return
    assert first_later(stock, wanted, starts, starts + length) == slow


def test_the_nearest_free_colours_same_finish_first(now, sky):
    on_shelf(sky, 100)
    near = latex("pale blue", "#7fb5da")
    pearl = latex("pearl sky", "#7db3d8", "pearl")
    far = latex("red", "#c62b2f")
    latex("blue", "#2a63b5", size=11)
    latex("twin sky", "#7db3d8", shape="double-ended")
    for item in (near, pearl, far):
        on_shelf(item, 300)
    swaps = gap(now, sky, 236).swaps
    assert [swap.candidate.item.pk for swap in swaps] == [near.pk, pearl.pk]
    assert all(swap.enough and swap.candidate.wanted == 136 for swap in swaps)
    assert "pearl instead of plain" in swaps[1].candidate.says
    words = [closer for closer in gap_line(gap(now, sky, 236), "EUR").closers if closer.how == "Instead"]
    assert words[0].beside == ("#7db3d8", "#7fb5da") and "hardly to be told apart" in words[0].small
    assert gap(now, sky, 236).other_colour is None


def test_another_colour_is_told_apart_and_not_as_if_it_would_do(now, sky):
    on_shelf(sky, 100)
    near, red, navy = latex("pale blue", "#b7d7ec"), latex("red", "#c62b2f"), latex("navy", "#1f2f5c", "pearl")
    for item in (red, navy):
        on_shelf(item, 130)
    found = gap(now, sky, 236)
    # Of the nearer one none is there; navy is nearer to sky than red is, by scikit-image too.
    assert not found.swaps and found.other_colour.candidate.item.pk == navy.pk
    assert found.other_colour.candidate.difference == pytest.approx(peer_difference(sky.rgb, navy.rgb), abs=0.02)
    assert peer_difference(sky.rgb, navy.rgb) < peer_difference(sky.rgb, red.rgb)
    closers = gap_line(found, "EUR", instead=lambda gap, swap: f"/with/{swap.candidate.item.pk}").closers
    assert not [closer for closer in closers if closer.how == "Instead"]
    (other,) = [closer for closer in closers if closer.how == "Other"]
    assert other.says.startswith("No near colour is free; the nearest is 5 in pearl round navy, plainly another colour")
    assert "136 needed, 130 free" in other.small and other.chip == ("warn", "Not enough")
    on_shelf(near, 5)
    found = gap(now, sky, 236)
    assert [swap.candidate.item.pk for swap in found.swaps] == [near.pk] and found.other_colour is None


def test_the_limit_of_another_colour(sky):
    """Pairs of a studio's balloons that are told apart by name, and two that stand in for each other."""
    assert difference_words(peer_difference("#f4ecd8", "#ffffff")) == "another shade"
    assert difference_words(SHADE - 0.1) == "another shade" and difference_words(SHADE) == "plainly another colour"


def lab(rgb):
    return rgb2lab(np.array([[[int(rgb[at : at + 2], 16) / 255 for at in (1, 3, 5)]]]))[0, 0]


def peer_difference(one: str, other: str) -> float:
    """scikit-image's CIEDE2000."""
    return float(deltaE_ciede2000(lab(one), lab(other)))


def test_the_difference_is_that_of_a_reference_library(now, sky):
    """scikit-image's CIEDE2000, of colours that we chose by eye."""
    others = [latex(f"c{number}", rgb) for number, rgb in enumerate(("#b7d7ec", "#2a63b5", "#36aeb0", "#8f9496"))]
    for item in others:
        on_shelf(item, 300)
    peers = sorted((peer_difference(sky.rgb, item.rgb), item.pk) for item in others)
    found = candidates({sky.pk: 10}, {sky.pk: sky})[sky.pk]
    assert [one.item.pk for one in found] == [pk for _, pk in peers]
    for one, (peer, _) in zip(found, peers, strict=True):
        assert one.difference == pytest.approx(peer, abs=0.02) and one.far == (peer >= SHADE)


def test_a_colour_that_the_list_wants_besides_is_not_offered_twice(now, sky):
    near = latex("pale blue", "#7fb5da")
    on_shelf(near, 300)
    (swap,) = gap(now, sky, 136, besides={near: 200}).swaps
    assert (swap.free, swap.enough) == (100, False)
    assert gap_line(gap(now, sky, 136, besides={near: 200}), "EUR").closers[1].chip == ("warn", "Not enough")
    assert not gap(now, sky, 136, besides={near: 300}).swaps


def test_what_is_out_of_use_or_not_there_is_not_offered(now, sky):
    latex("pale blue", "#7fb5da")
    gone = latex("cream", "#f1e6cf")
    on_shelf(gone, 300)
    Item.objects.filter(pk=gone.pk).update(active=False)
    assert gap(now, sky, 10).swaps == ()


def test_one_free_colour_behind_many_that_are_gone(now, sky):
    for number in range(LOOKED_AT - 1):
        latex(f"c{number}", f"#7db3d{number}")
    last = latex("pale blue", "#b7d7ec")
    on_shelf(last, 300)
    assert [swap.candidate.item.pk for swap in gap(now, sky, 10).swaps] == [last.pk]


def test_differences_in_words():
    words = [difference_words(d) for d in (0, 1.99, 2, 4.99, 5, 11.99, 12)]
    told = ["hardly to be told apart", "close", "another shade"]
    assert words == [told[0], told[0], told[1], told[1], told[2], told[2], "plainly another colour"]


def net(name: str, rows: int, columns: int, **more) -> Sheet:
    given = {"pitch_m": 0.124, "sized_diameter_m": 0.119, "lattice": "offset", "returnable": True, **more}
    return Sheet.objects.create(kind="sheet", name=name, rows=rows, columns=columns, **given)


def test_other_sheets_of_the_same_net_by_cells(now):
    ours, twice, small = net("Middle", 22, 13), net("Wide", 22, 26), net("Small", 11, 13)
    other, square = net("Wider net", 22, 13, pitch_m=0.13), net("Square", 22, 13, lattice="square")
    for item in (ours, twice, small, other, square):
        on_shelf(item, 3)
    swaps = {swap.candidate.item.pk: swap for swap in gap(now, ours, 6).swaps}
    assert swaps.keys() == {twice.pk, small.pk}
    assert (swaps[twice.pk].candidate.wanted, swaps[small.pk].candidate.wanted) == (2, 6)
    assert swaps[twice.pk].enough and not swaps[small.pk].enough
    assert "larger: 26 wide, 22 high" in swaps[twice.pk].candidate.says


def test_other_poles_and_cylinders(now, pole):
    long = Hardware.objects.create(kind="hardware", name="Pole, 3 m", purpose="pole", returnable=True)
    base = Hardware.objects.create(kind="hardware", name="Base", purpose="base", returnable=True)
    big = Cylinder.objects.create(kind="cylinder", name="Big", water_volume_l=50, pressure_bar=200, returnable=True)
    small = Cylinder.objects.create(kind="cylinder", name="Small", water_volume_l=20, pressure_bar=200, returnable=True)
    for item in (long, base, small):
        on_shelf(item, 9)
    assert [(s.candidate.item.pk, s.candidate.wanted) for s in gap(now, pole, 3).swaps] == [(long.pk, 3)]
    assert [(s.candidate.item.pk, s.candidate.wanted) for s in gap(now, big, 2).swaps] == [(small.pk, 5)]


def test_who_could_give_holds_first_then_later_ones(now, pole):
    on_shelf(pole, 12)
    reservation_confirm(reservation=hold(now, [(pole.pk, 3)], 19, 21, "Sure, early"))
    reservation_confirm(reservation=hold(now, [(pole.pk, 3)], 20, 24, "Sure, late"))
    hold(now, [(pole.pk, 2)], 18, 23, "Hold, early")
    hold(now, [(pole.pk, 2)], 21, 23, "Hold, late")
    hold(now, [(pole.pk, 2)], 22, 23, "Not at once")
    found = gap(now, pole, 12)
    assert [(g.label, g.quantity, g.on_hold) for g in found.givers] == [
        ("Hold, late", 2, True), ("Hold, early", 2, True), ("Sure, late", 3, False),
    ]  # fmt: skip
    assert found.more_givers == 1
    asks = [c for c in gap_line(found, "EUR").closers if c.how == "Ask"]
    assert asks[0].says == "Hold, late has 2" and "nothing is taken from it here" in asks[0].small
    assert asks[-1].says == "1 more event holds some of it"


def test_who_could_give_what_is_used_up(now, sky):
    """An event that is under way has used its own; a later one can still buy again."""
    on_shelf(sky, 600)
    reservation_confirm(reservation=hold(now, [(sky.pk, 100)], -2, 1, "Under way"))
    hold(now, [(sky.pk, 300)], 40, 42, "Later")
    picked = reservation_confirm(reservation=hold(now, [(sky.pk, 100)], 10, 12, "Half picked"))
    pick(reservation=picked, item=sky, quantity=60)
    found = gap(now, sky, 200)
    assert [(g.label, g.quantity) for g in found.givers] == [("Later", 300), ("Half picked", 40)]


def test_nobody_is_asked_for_what_is_lacking_there_too(now, sky):
    lot = on_shelf(sky, 100)
    for number in range(9):
        hold(now, [(sky.pk, 5)], 60 + number, 61 + number, f"Without {number}")
    for starts, label in ((30, "Whole"), (40, "In part")):
        reservation_confirm(reservation=hold(now, [(sky.pk, 25)], starts, starts + 1, label))
    lost(lot, 60)
    found = gap(now, sky, 20)
    assert [(g.label, g.quantity) for g in found.givers] == [("In part", 15), ("Whole", 25)]
    assert found.more_givers == 0


def test_two_that_lack_the_same_poles_are_asked_for_the_rest(now, pole):
    lot = on_shelf(pole, 12)
    hold(now, [(pole.pk, 6)], 19, 21, "One")
    hold(now, [(pole.pk, 6)], 20, 22, "Other")
    lost(lot, 4)
    assert {(g.label, g.quantity) for g in gap(now, pole, 3).givers} == {("One", 2), ("Other", 2)}
    lost(lot, 6)
    assert gap(now, pole, 3).givers == ()


def test_who_lives_of_a_later_order_is_not_asked(now, sky):
    """Of 100 that are here and 100 that come later, whoever begins after that could be served from either."""
    on_shelf(sky, 100)
    Lot.objects.create(item_id=sky.pk, quantity=100, arrives_on=ahead(now, 30).date(), received=False)
    hold(now, [(sky.pk, 60)], 10, 12, "Before")
    for number in range(9):
        hold(now, [(sky.pk, 10)], 40 + number, 42 + number, f"After {number}")
    found = gap(now, sky, 90)
    assert found.free == 40 and [(g.label, g.quantity) for g in found.givers] == [("Before", 60)]
    assert found.more_givers == 0
    # One that needs more than the order brings has the rest of what is here; by its side any other could change.
    hold(now, [(sky.pk, 20)], 60, 62, "Rest")
    found = gap(now, sky, 90)
    assert found.free == 30 and [g.label for g in found.givers] == ["Rest", "After 8", "After 7"]
    assert found.more_givers == 8


def test_whose_poles_come_only_after_the_beginning_is_not_asked(now, pole):
    on_shelf(pole, 5)
    Lot.objects.create(item_id=pole.pk, quantity=5, arrives_on=ahead(now, 22).date(), received=False)
    hold(now, [(pole.pk, 5)], 23, 26, "Of the order")
    found = gap(now, pole, 8, 20, 25)
    assert (found.free, found.givers) == (5, ())
    hold(now, [(pole.pk, 2)], 21, 26, "Of what is here")
    found = gap(now, pole, 8, 20, 25)
    assert found.free == 3
    # Of the five that are here it has two; without it they are there all the time.
    assert [(g.label, g.quantity) for g in found.givers] == [("Of what is here", 2)]
    hold(now, [(pole.pk, 2)], 23, 25, "Of both")
    found = gap(now, pole, 8, 20, 25)
    assert found.free == 1
    assert [g.label for g in found.givers] == ["Of the order", "Of both", "Of what is here"]


lots_of = some.lists(
    some.tuples(some.integers(1, 6), some.integers(-3, 8), some.integers(1, 14)), min_size=1, max_size=4
)
promises_of = some.lists(some.tuples(some.integers(1, 5), some.integers(1, 9), some.integers(1, 4)), max_size=5)


@settings(max_examples=300)
@given(lots_of, promises_of, some.integers(1, 9), some.integers(1, 4), some.booleans())
def test_who_could_give_is_who_leaves_more_when_they_go(lots, promised, starts, lasts, returnable):
    """Beside it: the same promises with one taken out, alone or after any others. Nobody lacks anything here, for what
    somebody gives goes to who lacks some first."""
    supplies = [Supply(n, ahead(NOW, c), NEVER if returnable else ahead(NOW, c + k)) for n, c, k in lots]
    demands = [Demand(n, ahead(NOW, b), ahead(NOW, b + k), line) for line, (n, b, k) in enumerate(promised, 1)]
    span = Span(ahead(NOW, starts), ahead(NOW, starts + lasts), NOW, frozenset())

    def store(rest) -> Stock:
        kept = {"demands": list(rest)} if returnable else {"wear": list(rest)}
        return Stock(1, returnable, supplies=supplies, **kept)

    assume(not store(demands).lacking())

    def free(rest) -> int:
        return store(rest).free(span.starts, span.ends)

    helps = {
        d.line_id
        for d in demands
        for n in range(len(demands))
        for gone in itertools.combinations([other for other in demands if other != d], n)
        if free(x for x in demands if x != d and x not in gone) > free(x for x in demands if x not in gone)
    }
    could = _could_give(store(demands), 10**6, span)
    assert could.keys() == helps
    for d in demands:
        alone = free(x for x in demands if x != d) - free(demands)
        assert alone <= could.get(d.line_id, 0) <= d.quantity


def test_few_queries_however_long_the_list(now, sky, django_assert_max_num_queries):
    colours = [latex(f"c{n}", f"#{n * 6:02x}80{255 - n * 6:02x}") for n in range(39)]
    for item in colours[::2]:
        on_shelf(item, 50)
    wanted = {item.pk: 100 for item in (sky, *colours)}
    with django_assert_max_num_queries(26):
        found = gaps_of_list(wanted, ahead(now, 20), ahead(now, 22), now=now)
    assert len(found) == 40 and all(one.short and one.buy for one in found.values())


def test_an_empty_list_asks_nothing(now, django_assert_num_queries):
    with django_assert_num_queries(0):
        assert gaps_of_list({}, NOW, ahead(NOW, 1), now=now) == {}
