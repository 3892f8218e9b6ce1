"""What an estimate takes from the store, what is short and what that means."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from inventory.models import Item
from inventory.services import reservation_hold
from jobs.estimates.inputs import background_now, event_input
from jobs.estimates.needs import hold_lines, needs_of_input, shortages_of, stock_lines
from jobs.events.shelf import stock_span
from tests.shelf import empty

NOW = datetime(2031, 5, 1, 9, tzinfo=UTC)


@pytest.fixture
def span(event):
    return stock_span(load_in=event.load_in, strike=event.strike, turn_round_hours=24)


def needs(event):
    background = background_now()
    return needs_of_input(event_input(event, background), background.catalogue, background.store)


def by_label(lines):
    return {line.need.label: line for line in lines}


def test_stock_leaves_a_day_before_and_is_back_after_the_turn_round(event, span):
    assert span.starts == event.load_in - timedelta(hours=24)
    assert span.ends > event.strike + timedelta(hours=24)


def test_every_line_beside_what_is_free(event, panel_piece, column_piece, store, span):
    lines = by_label(stock_lines(needs(event), span, now=NOW))
    assert (lines["Net 22 × 13"].need.quantity, lines["Net 22 × 13"].free) == (2, 9)
    # Two columns of nine clusters of four in two colours, and 4 % spares rounded up.
    assert (lines["red"].need.quantity, lines["red"].free, lines["red"].short) == (38, 400, 0)
    assert (lines["pole"].need.quantity, lines["pole"].free) == (2, 8)
    assert lines["5 in balloons"].free == 6 * 400
    assert not lines["5 in balloons"].need.named


def test_a_named_colour_is_not_counted_again_for_open_ones(event, panel_piece, store, span):
    panel_piece.measures |= {"colours": ["red"]}
    panel_piece.save()
    other = type(panel_piece).objects.create(event=event, kind="panel", title="Other", measures={
        **panel_piece.measures, "width": 0.5, "height": 0.5, "colours": []})  # fmt: skip
    lines = by_label(stock_lines(needs(event), span, now=NOW))
    assert other.pk
    assert lines["red"].short == lines["red"].need.quantity - 400 > 0
    assert lines["5 in balloons"].free == 5 * 400


def test_short_in_whole_packs_by_a_last_day(event, panel_piece, store, span):
    panel_piece.measures |= {"colours": ["sky"]}
    panel_piece.save()
    line = by_label(stock_lines(needs(event), span, now=NOW))["sky"]
    assert (line.need.quantity, line.short, line.packs) == (520, 120, 2)
    assert line.cost == Decimal(16)
    # Work begins on 12 June, a day before load-in; the item's lead time is five days.
    assert line.order_by == date(2031, 6, 7)
    assert line.state == "warn"
    late = by_label(stock_lines(needs(event), span, now=datetime(2031, 6, 8, tzinfo=UTC)))["sky"]
    assert (late.late, late.state) == (True, "no")


def test_nothing_like_it_in_the_store(event, panel_piece, store, span):
    empty()
    Item.objects.filter(kind="latex").update(active=False)
    line = by_label(stock_lines(needs(event), span, now=NOW))["5 in balloons"]
    assert (line.free, line.short, line.order_by, line.state) == (0, 520, None, "no")


def test_what_must_be_bought_goes_into_the_price(event, panel_piece, store, span):
    panel_piece.measures |= {"colours": ["sky"]}
    panel_piece.save()
    (buy,) = shortages_of(stock_lines(needs(event), span, now=NOW))
    assert (buy.key, buy.quantity, buy.packs, buy.pack_price) == (store["sky"].pk, 120, 2, 8)


def test_other_events_count_and_ones_own_does_not(event, column_piece, store, span):
    other = reservation_hold(
        lines=[(store["red 11"].pk, 390)],
        starts=span.starts,
        ends=span.ends,
        label="other",
        expires=span.ends,
    )
    assert by_label(stock_lines(needs(event), span, now=NOW))["red"].short == 28
    assert by_label(stock_lines(needs(event), span, now=NOW, exclude=other))["red"].short == 0


def test_helium_takes_cylinders(event, column_piece, store, span):
    column_piece.fill, column_piece.count = "helium", 4
    column_piece.save()
    line = by_label(stock_lines(needs(event), span, now=NOW))["helium cylinder"]
    assert line.need.quantity == 1
    assert line.free == 2


def test_hold_all_or_what_is_free(event, panel_piece, column_piece, store, span):
    panel_piece.measures |= {"colours": ["sky"]}
    panel_piece.save()
    sky, net = store["sky"].pk, store["large"].pk
    whole = dict(hold_lines(needs(event), span, now=NOW, partly=False))
    part = dict(hold_lines(needs(event), span, now=NOW, partly=True))
    assert (whole[sky], part[sky]) == (520, 400)
    assert whole[net] == part[net] == 2
    assert whole[store["pole"].pk] == 2


def test_open_colours_are_not_held(event, panel_piece, store, span):
    assert {item for item, _ in hold_lines(needs(event), span, now=NOW, partly=False)} == {store["large"].pk}
