"""Times of a panel's tying and loading, each worked out by hand beside it."""

from dataclasses import replace

import pytest

from decor.calc.pieces.panel import needs
from decor.calc.work.labour import task_minutes
from decor.calc.work.rates import Rates
from tests.calc.pieces.test_panel import panel

RATES = Rates()


def minutes(measures, rates=RATES):
    return {task.kind: task_minutes(task, rates) for task in needs(measures, rates).tasks if task.kind != "join"}


def test_mixed_pairs_take_longer_to_sort_and_tie():
    plain, mixed = minutes(panel(mixed_pairs=0)), minutes(panel(mixed_pairs=90))
    assert "mixed pairs" not in plain
    assert mixed["mixed pairs"] == pytest.approx(90 * 4 / 60)
    assert mixed["inflate pairs"] == plain["inflate pairs"]
    assert minutes(panel(mixed_pairs=90), replace(RATES, mixed_pair_s=10.0))["mixed pairs"] == pytest.approx(15)


def test_pairs_between_rows_are_a_fifth_slower_to_load():
    """100 of 286 pairs lie between rows: 200 cells at 700 an hour, by 1.2; 372 along the rows. The first rows are
    slower by one row's time in all, 26 cells."""
    got = minutes(panel(mixed_pairs=0, pairs_between_rows=100))
    assert got["load between rows"] == pytest.approx(200 / 700 * 60 * 1.2)
    assert got["load paired"] == pytest.approx((372 + 26) / 700 * 60)


@pytest.mark.parametrize("way", ["two-sided", "sandwich", "strung"])
def test_pairs_are_only_minded_where_there_are_any(way):
    with_pairs = needs(panel(way=way, mixed_pairs=90, pairs_between_rows=100), RATES)
    assert with_pairs.tasks == needs(panel(way=way), RATES).tasks


def test_strings_by_bags_and_by_their_changes_of_colour():
    got = minutes(panel(way="strung", colour_changes=240))
    assert got["bag strings"] == 12  # 572 balloons, 50 a bag, a minute each
    assert got["change colours"] == pytest.approx(240 * 1.5 / 60)
    assert minutes(panel(way="strung"), replace(RATES, string_balloons=143))["bag strings"] == 4


def test_the_first_rows_of_each_section_are_the_slowest():
    """22 rows of 26 in one section: (0.5 + 0.5 × 2/3 + 0.5 × 1/3) × 26 = 26 cells more. A van that takes one sheet
    row at a time makes two sections of 11 rows, one above the other: twice that."""
    wide = replace(RATES, van_door_m=3.0, van_length_m=4.0)
    flat = replace(wide, first_row_factor=1.0)
    whole = panel(sheet_rows=11, sheet_columns=26)
    each = 60 / 700
    assert minutes(whole, wide)["load paired"] - minutes(whole, flat)["load paired"] == pytest.approx(26 * each)
    low_door = replace(wide, van_door_m=1.5)
    assert needs(whole, low_door).sections == 2
    assert minutes(whole, low_door)["load paired"] - minutes(whole, flat)["load paired"] == pytest.approx(52 * each)
    single_row = panel(rows=1, counts=((1, 26),))
    more = minutes(single_row, wide)["load paired"] - minutes(single_row, flat)["load paired"]
    assert more == pytest.approx(13 * each)


@pytest.mark.parametrize("name", ["mixed_pairs", "pairs_between_rows", "colour_changes"])
def test_more_than_there_can_be_is_refused_by_name(name):
    with pytest.raises(ValueError, match=f"^{name}"):
        panel(**{name: 572})
    with pytest.raises(ValueError, match=f"^{name}"):
        panel(**{name: -1})
