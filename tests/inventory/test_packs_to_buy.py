from datetime import date
from decimal import Decimal

import pytest

from inventory.services import ShortLine, packs_to_buy

NEEDED, TODAY = date(2031, 6, 13), date(2031, 6, 1)


def test_whole_packs_their_cost_and_the_last_day_to_order(sky):
    (buy,) = packs_to_buy([ShortLine(sky.pk, 636, 500, 136)], needed_on=NEEDED, today=TODAY)
    assert (buy.name, buy.supplier, buy.short) == ("5 in sky", "Estuary Latex", 136)
    assert (buy.packs, buy.quantity, buy.cost) == (2, 200, Decimal("12.40"))
    assert (buy.order_by, buy.too_late) == (date(2031, 6, 8), False)


@pytest.mark.parametrize(("short", "packs"), [(1, 1), (100, 1), (101, 2)])
def test_packs_are_rounded_up(sky, short, packs):
    assert packs_to_buy([ShortLine(sky.pk, short, 0, short)], needed_on=NEEDED, today=TODAY)[0].packs == packs


def test_the_last_day_itself_is_in_time_and_the_next_is_not(sky):
    line = [ShortLine(sky.pk, 1, 0, 1)]
    assert not packs_to_buy(line, needed_on=NEEDED, today=date(2031, 6, 8))[0].too_late
    assert packs_to_buy(line, needed_on=NEEDED, today=date(2031, 6, 9))[0].too_late


def test_one_item_short_twice_is_one_line_and_the_most_urgent_comes_first(sky, red):
    red.lead_days = 9
    red.save()
    lines = [ShortLine(sky.pk, 60, 0, 60), ShortLine(red.pk, 1, 0, 1), ShortLine(sky.pk, 60, 0, 60)]
    bought = packs_to_buy(lines, needed_on=NEEDED, today=TODAY)
    assert [(b.item_id, b.packs) for b in bought] == [(red.pk, 1), (sky.pk, 2)]


def test_nothing_short_is_nothing_to_buy(db):
    assert packs_to_buy([], needed_on=NEEDED, today=TODAY) == []


def test_bad_lines_are_named(sky):
    with pytest.raises(ValueError, match="lines: item"):
        packs_to_buy([ShortLine(sky.pk, 1, 1, 0)], needed_on=NEEDED, today=TODAY)
    with pytest.raises(ValueError, match="there is no item 77"):
        packs_to_buy([ShortLine(77, 1, 0, 1)], needed_on=NEEDED, today=TODAY)
