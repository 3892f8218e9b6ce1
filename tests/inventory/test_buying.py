"""What to buy over all events to a day."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory import availability, ordering, picking, stocking, unpromised
from inventory.buying import buy_lines, by_supplier
from inventory.matters import matters
from inventory.models import Item, Latex, Lot, Sheet
from inventory.services import Shortage, reservation_change, reservation_confirm, reservation_hold
from tests.inventory.conftest import on_shelf
from tests.inventory.store_work import net, promise
from tests.shelf import lost


def promised(item, quantity: int, *, in_days: int, label: str, days: int = 1, confirmed: bool = True):
    starts = timezone.now() + timedelta(days=in_days)
    held = reservation_hold(
        lines=[(item.pk, quantity)],
        starts=starts,
        ends=starts + timedelta(days=days),
        label=label,
        expires=timezone.now() + timedelta(days=3),
    )
    return reservation_confirm(reservation=held) if confirmed else held


def bought(**kwargs):
    until = timezone.localdate() + timedelta(days=kwargs.pop("days", 28))
    return buy_lines(until=until, now=timezone.now(), **kwargs)


@pytest.fixture
def short_sky(sky):
    """Of 500, 150 for each of three events, 300 were lost: with 200 left the second lacks 100, the third all 150."""
    lot = on_shelf(sky, 500)
    for number, label in enumerate(("Harbour fair", "Choir jubilee", "Regatta supper"), 1):
        promised(sky, 150, in_days=7 * number, label=label)
    lost(lot, 300)
    return sky


def test_nothing_short_nothing_to_buy(sky):
    on_shelf(sky, 200)
    promised(sky, 150, in_days=7, label="Harbour fair")
    assert bought() == []


@pytest.mark.parametrize("picked", [0, 6])
@pytest.mark.parametrize("received", [True, False])
@pytest.mark.parametrize("wears", [True, False])
def test_what_comes_back_serves_an_event_under_way_from_the_day_it_comes(pole, picked, received, wears):
    item = net() if wears else pole
    lot = on_shelf(item, 10)
    fair = promise({item: 10}, starts_in=-1, days=3)
    if picked:
        picking.pick(reservation=fair, item=item, quantity=picked)
    lost(lot, 4)
    today = availability.utc_day(timezone.now())
    bought_in = Lot.objects.create(item_id=item.pk, quantity=4, arrives_on=today + timedelta(days=1), received=False)
    assert [line.buy.short for line in bought()] == [4]
    Lot.objects.filter(pk=bought_in.pk).update(arrives_on=today)
    if received:
        stocking.lot_receive(lot=Lot.objects.get(pk=bought_in.pk), on=today)
    assert bought() == [] and not stocking.lacking_by_line(item_id=item.pk, now=timezone.now())
    # What came beyond that can be promised to it as well, and no more.
    on_shelf(item, 1)
    span = {"starts": fair.starts, "ends": fair.ends}
    with pytest.raises(Shortage):
        reservation_change(reservation=fair, lines=[(item.pk, 12)], **span)
    reservation_change(reservation=fair, lines=[(item.pk, 11)], **span)


def test_every_event_that_lacks_some_is_named_and_packs_are_whole(short_sky):
    (line,) = bought()
    assert [(one.label, one.quantity) for one in line.what_for] == [("Choir jubilee", 100), ("Regatta supper", 150)]
    assert (line.buy.short, line.buy.packs, line.buy.quantity) == (250, 3, 300)
    assert line.buy.cost == 3 * Decimal("6.20")
    first = availability.utc_day(line.what_for[0].starts)
    assert line.buy.order_by == first - timedelta(days=short_sky.lead_days) and not line.buy.too_late


def test_it_says_what_every_other_answer_says(short_sky):
    detail = availability.free_detail([short_sky.pk], timezone.now(), timezone.now() + timedelta(days=1))
    assert bought()[0].buy.short == detail[short_sky.pk].short


def test_only_up_to_the_day(short_sky):
    (line,) = bought(days=16)
    assert [one.label for one in line.what_for] == ["Choir jubilee"] and line.buy.packs == 1
    assert bought(days=8) == []
    with pytest.raises(ValueError, match="until"):
        bought(days=-1)


def test_too_late_for_the_first_and_in_time_for_the_next(short_sky):
    Item.objects.filter(pk=short_sky.pk).update(lead_days=18)
    (line,) = bought()
    assert line.buy.too_late
    assert [(one.label, one.too_late) for one in line.what_for] == [("Choir jubilee", True), ("Regatta supper", False)]


def test_holds_count_or_are_left_out(sky):
    lot = on_shelf(sky, 300)
    promised(sky, 150, in_days=7, label="Asked for", confirmed=False)
    promised(sky, 150, in_days=9, label="Harbour fair")
    lost(lot, 200)
    (line,) = bought()
    assert line.buy.short == 200 and line.what_for[0].on_hold and not line.what_for[1].on_hold
    (line,) = bought(with_holds=False)
    assert line.buy.short == 50 and [one.label for one in line.what_for] == ["Harbour fair"]


def test_what_is_on_order_counts_unless_it_is_late(short_sky):
    due = timezone.localdate() + timedelta(days=10)
    lot = Lot.objects.create(item_id=short_sky.pk, quantity=200, arrives_on=due, received=False)
    (line,) = bought()
    assert line.buy.short == 50 and (line.on_order.coming, line.on_order.due) == (200, due)
    was_due = timezone.localdate() - timedelta(days=2)
    Lot.objects.filter(pk=lot.pk).update(arrives_on=was_due)
    (line,) = bought()
    assert line.buy.short == 250 and (line.on_order.late, line.on_order.late_since) == (200, was_due)


def test_an_order_that_comes_after_the_event_does_not_serve_it(short_sky):
    due = timezone.localdate() + timedelta(days=17)
    Lot.objects.create(item_id=short_sky.pk, quantity=300, arrives_on=due, received=False)
    assert [(one.label, one.quantity) for one in bought()[0].what_for] == [("Choir jubilee", 100)]


def test_returnables_are_bought_for_the_deepest_moment_and_not_for_each_event(pole):
    lot = on_shelf(pole, 12)
    promised(pole, 6, in_days=7, days=3, label="Harbour fair")
    promised(pole, 6, in_days=8, days=3, label="Choir jubilee")
    promised(pole, 6, in_days=20, label="Regatta supper")
    lost(lot, 7)
    (line,) = bought()
    # two at once need 12 of 5, the third alone 6 of 5: seven more serve all three
    assert line.buy.short == 7 and len(line.what_for) == 3


def test_what_wears_out_is_bought_by_its_uses(db):
    net = Sheet.objects.create(
        kind=Item.Kind.SHEET, name="Net", returnable=True, rows=10, columns=10, pitch_m=0.1,
        sized_diameter_m=0.1, uses=2, pack_price=5,
    )  # fmt: skip
    lot = on_shelf(net, 6)
    for number in range(3):
        promised(net, 4, in_days=4 + 3 * number, label=f"Event {number}")
    lost(lot, 2)
    # twelve uses are promised and four sheets have eight: two more sheets make up for it
    (line,) = bought()
    assert line.buy.short == 2


def test_below_its_level_is_a_line_of_its_own(sky, pole):
    Item.objects.filter(pk=sky.pk).update(reorder_level=300)
    Item.objects.filter(pk=pole.pk).update(reorder_level=8)
    on_shelf(sky, 250)
    on_shelf(pole, 9)
    promised(sky, 150, in_days=60, label="Far off")
    (line,) = bought()
    assert line.low and line.there == 100 and line.buy.packs == 2 and not line.buy.too_late
    promised(pole, 9, in_days=3, label="Away, and comes back")
    assert len(bought()) == 1


def test_on_order_counts_for_the_level(sky):
    Item.objects.filter(pk=sky.pk).update(reorder_level=300)
    on_shelf(sky, 250)
    due = timezone.localdate() + timedelta(days=3)
    Lot.objects.create(item_id=sky.pk, quantity=100, arrives_on=due, received=False)
    assert bought() == []


def test_short_and_low_at_once(short_sky):
    Item.objects.filter(pk=short_sky.pk).update(reorder_level=300)
    short, low = bought()
    # 250 short, three packs leave 50; to have 300 it takes 250 more
    assert not short.low and low.low and low.there == 50 and low.buy.packs == 3


def test_grouped_by_supplier_with_the_nameless_last(short_sky, red):
    lot = on_shelf(red, 100)
    promised(red, 100, in_days=3, label="Soon")
    lost(lot, 40)
    assert [name for name, _ in by_supplier(bought())] == ["Estuary Latex", ""]


def test_what_stands_in_a_draft_is_said(short_sky):
    ordering.orders_draft(packs={short_sky.pk: 2})
    assert bought()[0].drafted == 2


def test_as_many_queries_for_fifty_items_as_for_one(short_sky, studio):
    Item.objects.filter(pk=short_sky.pk).update(reorder_level=200)
    with CaptureQueriesContext(connection) as few:
        bought()
    for number in range(50):
        other = Latex.objects.create(
            kind=Item.Kind.LATEX, name=f"5 in shade {number}", nominal_in=5, colour=f"shade {number}",
            rgb="#7db3d8", pack_size=100, reorder_level=200,
        )  # fmt: skip
        lot = on_shelf(other, 60)
        promised(other, 60, in_days=5, label=f"Event {number}")
        lost(lot, 30)
    with CaptureQueriesContext(connection) as many:
        assert len(bought()) == 102
    assert len(many) <= len(few) <= 20, (len(few), len(many))


def test_a_draft_serves_the_shortage_first_and_then_the_level(short_sky):
    Item.objects.filter(pk=short_sky.pk).update(reorder_level=300)
    ordering.orders_draft(packs={short_sky.pk: 4})
    short, low = bought()
    assert (short.buy.packs, short.drafted, low.buy.packs, low.drafted) == (3, 3, 3, 1)


def test_what_is_lacking_up_to_a_day_is_the_same_whether_later_promises_are_read_or_not(sky, pole):
    """Whoever comes first is served first: a dozen overlapping promises of each, cut at every day."""
    keeps = timezone.localdate() + timedelta(days=9)
    lots = [on_shelf(sky, 600, use_by=keeps), on_shelf(sky, 600), on_shelf(pole, 40)]
    for number in range(12):
        promised(sky, 20 + 5 * number, in_days=1 + number, days=1 + number % 4, label=f"S{number}")
        promised(pole, 1 + number % 3, in_days=1 + number, days=1 + number % 4, label=f"P{number}")
    for lot, fewer in zip(lots, (500, 450, 38), strict=True):
        lost(lot, fewer)
    now = timezone.now()
    whole = availability.stock_of([sky.pk, pole.pk], now=now, starts=now)
    for days in range(1, 15):
        before = now + timedelta(days=days)
        part = availability.stock_of([sky.pk, pole.pk], now=now, starts=now, ends=before, before=before)
        for item in (sky, pole):
            early = {d.line_id for d in whole[item.pk].promised if d.starts < before}
            lacking = {line: n for line, n in whole[item.pk].lacking().items() if line in early}
            told = part[item.pk].lacking()
            # Of a returnable, a later promise may take from an earlier one that goes on beside it.
            assert told == lacking if item is sky else all(told.get(line, 0) <= n for line, n in lacking.items())
    assert whole[sky.pk].lacking() and whole[pole.pk].lacking()


# --- what events need beyond their promises


def beyond(monkeypatch, *needs) -> None:
    monkeypatch.setattr(unpromised, "_ASKED", ["tests.inventory.test_buying.told"])
    monkeypatch.setitem(globals(), "told", lambda: list(needs))


def need(item, quantity: int, *, in_days: int, label: str, on_hold: bool = False) -> unpromised.Need:
    starts = timezone.now() + timedelta(days=in_days)
    ends = starts + timedelta(days=1)
    return unpromised.Need(item.pk, quantity, starts, ends, label, "/there/", on_hold, name=item.name)


def test_what_could_not_be_promised_is_bought_too(monkeypatch, sky):
    on_shelf(sky, 200)
    promised(sky, 180, in_days=9, label="Harbour fair")
    beyond(monkeypatch, need(sky, 60, in_days=5, label="Choir jubilee"))
    (line,) = bought()
    # The twenty that are left serve it; nobody's promise is said to lack anything.
    assert [(one.label, one.quantity, one.href) for one in line.what_for] == [("Choir jubilee", 40, "/there/")]
    assert (line.buy.short, line.buy.packs) == (40, 1)


def test_promises_come_first_and_the_rest_after(monkeypatch, short_sky):
    beyond(monkeypatch, need(short_sky, 60, in_days=8, label="Market"))
    (line,) = bought()
    told = {one.label: one.quantity for one in line.what_for}
    assert told == {"Market": 60, "Choir jubilee": 100, "Regatta supper": 150} and line.buy.short == 310


def test_what_came_meanwhile_serves_it(monkeypatch, sky):
    beyond(monkeypatch, need(sky, 60, in_days=5, label="Choir jubilee"))
    assert bought()[0].buy.short == 60
    on_shelf(sky, 100)
    assert bought() == []


def test_beyond_a_hold_only_with_the_holds_and_only_up_to_the_day(monkeypatch, sky, pole):
    beyond(
        monkeypatch,
        need(sky, 60, in_days=5, label="Choir jubilee", on_hold=True),
        need(pole, 3, in_days=20, label="Market"),
    )
    assert {line.item.pk for line in bought()} == {sky.pk, pole.pk}
    assert {line.item.pk for line in bought(with_holds=False)} == {pole.pk}
    assert {line.item.pk for line in bought(days=10)} == {sky.pk}
    assert "Market" in [matter.says for matter in matters(now=timezone.now())]


def test_two_needs_of_one_pole_at_once_are_told_apart(monkeypatch, pole):
    """The first can have its three of the four, and the store gives them as it follows: the second lacks two."""
    on_shelf(pole, 4)
    beyond(monkeypatch, need(pole, 3, in_days=5, label="Market"), need(pole, 3, in_days=5, label="Supper"))
    (line,) = bought()
    assert line.buy.short == 2 and [(one.label, one.quantity) for one in line.what_for] == [("Supper", 2)]
