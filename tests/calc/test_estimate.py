"""The whole estimate: what was entered is what is counted, timed and priced."""

import json
import math
import re
from dataclasses import replace
from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from decor.calc.estimate import (
    Conditions,
    Cylinder,
    EstimateInput,
    PieceInput,
    Prices,
    Rates,
    SheetCost,
    ToBuy,
    compute,
    input_key,
    to_json,
)
from decor.calc.pieces.column import ColumnMeasures
from decor.calc.pieces.panel import PanelMeasures

PANEL = PieceInput(
    "Lighthouse panel",
    PanelMeasures(
        rows=22,
        columns=26,
        pitch_m=0.125,
        sheet_rows=22,
        sheet_columns=13,
        sized_diameter_m=0.119,
        counts=((1, 400), (2, 172)),
        way="strung",
        sheet_key=7,
        sheet_weight_kg=0.4,
        tabs_side=22,
        tabs_top=13,
    ),
)
COLUMNS = PieceInput("Columns", ColumnMeasures(1.8, 0.25, (1, 3), nominal_in=11), count=2)
PRICES = Prices(
    latex_each=((1, Decimal("0.06")), (2, Decimal("0.07"))),
    latex_otherwise=Decimal("0.10"),
    sheets=(SheetCost(7, Decimal("12.00"), uses=8),),
    hardware_each=(("pole", Decimal("0.50")), ("base plate", Decimal("1.00"))),
    cylinder=Cylinder(price=Decimal("120.00")),
)
CONDITIONS = Conditions(altitude_m=300.0, drive_minutes=30.0, distance_km=20.0, load_in_to_doors_min=240.0)
EVENT = EstimateInput((PANEL, COLUMNS), conditions=CONDITIONS, prices=PRICES)


def helium(title="Floating", sized_m=0.26, **changes) -> PieceInput:
    return PieceInput(title, ColumnMeasures(1.8, sized_m, (1,), nominal_in=11, **changes), fill="helium")


def problems(given: EstimateInput) -> set[str]:
    return {problem.key for problem in compute(given).problems}


def test_balloons_and_spares_by_colour_and_size():
    lines = {(line.key, line.nominal_in): line for line in compute(EVENT).latex}
    assert lines[1, 5].needed == 400 and lines[1, 5].spares == 16
    assert lines[2, 5].needed == 172 and lines[2, 5].spares == 7  # 6.88, rounded up
    assert lines[1, 11].needed == lines[3, 11].needed + 8  # nine layers in turn: five of one, four of the other
    assert all(line.quantity == line.needed + line.spares for line in lines.values())
    assert lines[1, 5].says == "Lighthouse panel: 400 cells, one balloon each; and 4 % spares"


def test_sheets_joins_and_hardware():
    got = compute(EVENT)
    assert [(line.key, line.quantity) for line in got.sheets] == [(7, 2)]
    assert got.joins.says == "1 join of 22 tabs"
    assert {line.name: line.quantity for line in got.hardware} == {"pole": 2, "base plate": 2}


def test_minutes_by_hand():
    """572 strings at 300 an hour and loaded at 1,200: 114.4 and 28.6 minutes, with 5 to get ready for each. The first
    row takes half as long again, the next two a third and a sixth: one row of 26 more, 1.3 minutes. A minute for each
    of 12 bags of 50, and to get ready for them none."""
    tasks = {(task.kind, task.place): task for task in compute(EVENT).tasks}
    assert tasks["inflate strings", "workshop"].minutes_middle == pytest.approx(114.4 + 5)
    assert tasks["load strung", "workshop"].minutes_middle == pytest.approx(28.6 + 1.3 + 5)
    assert tasks["bag strings", "workshop"].minutes_middle == pytest.approx(12)
    assert tasks["load strung", "workshop"].minutes_p80 == pytest.approx(1.25 * 34.9)
    assert tasks["rig", "venue"].minutes_middle == pytest.approx(80 + 5)
    assert tasks["rig", "venue"].minutes_p80 == pytest.approx(1.4 * 85)
    assert tasks["drive", "road"].minutes_middle == pytest.approx(4 * 30 * 2)
    install = sum(tasks[key, "venue"].minutes_middle for key in ("load in", "rig", "stand", "dress")) - 10
    assert tasks["strike", "venue"].minutes_middle == pytest.approx(install / 3)


def test_the_jobs_80_per_cent_figure_is_not_the_tasks_own_added():
    got = compute(EVENT)
    assert sum(task.minutes_middle for task in got.tasks) < got.person_minutes_middle < got.person_minutes_p80
    assert got.person_minutes_p80 < sum(task.minutes_p80 for task in got.tasks)


def test_cost_by_hand():
    got = compute(EVENT)
    costs = {line.kind: line for line in got.costs}
    quantity = {(line.key, line.nominal_in): line.quantity for line in got.latex}
    latex = (
        (quantity[1, 5] + quantity[1, 11]) * Decimal("0.06")
        + quantity[2, 5] * Decimal("0.07")
        + quantity[3, 11] * Decimal("0.10")
    )
    assert costs["latex"].low == costs["latex"].high == latex
    assert costs["sheets"].low == 2 * Decimal("1.50")
    assert costs["hardware"].low == 2 * Decimal("1.50")
    assert costs["travel"].low == 80 * Decimal("0.50")
    assert float(costs["labour"].low) == pytest.approx(got.person_minutes_middle / 60 * 20, abs=0.0051)
    assert float(costs["labour"].high) == pytest.approx(got.person_minutes_p80 / 60 * 20, abs=0.0051)
    direct = sum(line.low for kind, line in costs.items() if kind != "overhead")
    assert abs(costs["overhead"].low - direct * Decimal("0.15")) <= Decimal("0.005")
    assert got.quote_low.net == pytest.approx(
        sum(line.low for line in got.costs) / Decimal("0.7"), abs=Decimal("0.005")
    )


def test_price_lines_and_tax_add_to_the_total():
    got = compute(EVENT)
    for price in (got.quote_low, got.quote_high):
        assert [line.title for line in price.lines] == ["Lighthouse panel", "Columns × 2"]
        assert sum(line.amount for line in price.lines) + price.tax == price.total
    assert got.price_from == got.quote_low.total < got.price_to == got.quote_high.total


def test_what_must_be_bought_raises_only_the_upper_price():
    short = replace(EVENT, to_buy=(ToBuy(1, 36, 100, Decimal("9.00"), label="sky"),))
    before, after = compute(EVENT), compute(short)
    assert after.price_from == before.price_from
    assert after.price_to > before.price_to
    buying = next(line for line in after.costs if line.kind == "buy")
    assert buying.high == Decimal("9.00") - 36 * Decimal("0.06")
    assert buying.says == "1 pack of 100 sky, 9.00, less 2.16 that stands above"


def test_single_goods_are_bought_by_the_number_and_cost_what_they_say():
    """A sheet that lasts five events: one use of each stands among the sheets already."""
    short = replace(EVENT, to_buy=(ToBuy(None, 2, 1, Decimal("9.00"), what="hardware", label="Pole"),))
    buying = next(line for line in compute(short).costs if line.kind == "buy")
    assert (buying.high, buying.says) == (Decimal("18.00"), "2 × Pole, 18.00")


def test_work_on_alike_pieces_says_that_its_words_are_of_each():
    got = compute(EVENT)
    stand = next(task for task in got.tasks if task.kind == "stand")
    assert stand.says == "Columns × 2, each: 1 column" and stand.units == 2


def test_a_pack_cheaper_than_stock_is_no_gift():
    cheap = replace(EVENT, to_buy=(ToBuy(1, 36, 36, Decimal("0.10")), ToBuy(7, 1, 1, Decimal(1), what="sheet")))
    assert compute(cheap).price_to == compute(EVENT).price_to


def test_helium_by_hand():
    """36 balloons at the venue's pressure, 2 kPa over it in the skin, 5 % lost; cylinders by what they give there."""
    got = compute(replace(EVENT, pieces=(helium(),)))
    balloons = 4 * (1 + math.ceil((1.8 - 0.26) / (0.26 * 0.8408964) - 1e-9))
    volume_m3 = balloons * math.pi / 6 * 0.26**3 * 1.1
    pressure_pa = 97773.0  # 300 m
    assert got.gas.helium_m3 == pytest.approx(volume_m3 * (1 + 2000 / pressure_pa) * 1.05, rel=1e-4)
    assert got.gas.cylinders == 1
    assert got.gas.air_m3 == 0.0
    gas = next(line for line in got.costs if line.kind == "gas")
    assert gas.low == pytest.approx(Decimal(got.gas.helium_m3 / got.gas.cylinder_gives_m3 * 120), abs=Decimal("0.006"))
    assert gas.high == Decimal(120)
    assert "helium" in got.cautions


def test_the_rent_of_cylinders_by_hand():
    """Two cylinders for a day's event are paid for a week: 2 × 1 × 4.50 = 9.00, in both prices. Of an event that
    stands for six days, with a day before and a day after, two weeks: 18.00. Fifteen per cent overhead on each."""
    rented = replace(EVENT.prices, cylinder=replace(EVENT.prices.cylinder, rent_per_week=Decimal("4.50")))
    own = replace(EVENT, pieces=(replace(helium(), count=30),))
    before, after = compute(own), compute(replace(own, prices=rented))
    assert after.gas.cylinders == 2
    (line,) = [line for line in after.costs if line.kind == "rent"]
    assert (line.low, line.high) == (Decimal("9.00"), Decimal("9.00"))
    assert line.says == "2 cylinders for 1 week, at 4.50 a week"
    assert not [line for line in before.costs if line.kind == "rent"], "one of the studio's own costs no rent"

    def cost(got):
        return sum(line.low for line in got.costs)

    overhead = 1 + EVENT.prices.overhead_fraction
    assert cost(after) - cost(before) == pytest.approx(Decimal("9.00") * overhead, abs=Decimal("0.01"))
    assert after.price_from > before.price_from and after.price_to > before.price_to
    long = compute(replace(own, prices=rented, conditions=replace(CONDITIONS, doors_to_end_hours=144.0)))
    assert next(line.low for line in long.costs if line.kind == "rent") == Decimal("18.00") * long.gas.cylinders / 2
    dry = compute(replace(EVENT, prices=rented))
    assert dry.gas.cylinders == 0 and not [line for line in dry.costs if line.kind == "rent"]


def test_more_helium_than_a_cylinder_holds_takes_two():
    got = compute(replace(EVENT, pieces=(replace(helium(), count=30),)))
    assert got.gas.helium_m3 > got.gas.cylinder_gives_m3
    assert got.gas.cylinders == math.ceil(got.gas.helium_m3 / got.gas.cylinder_gives_m3) == 2


def test_altitude_stretches_a_cylinder():
    low, high = (
        compute(replace(EVENT, pieces=(helium(),), conditions=replace(CONDITIONS, altitude_m=metres))).gas
        for metres in (0.0, 2000.0)
    )
    assert high.cylinder_gives_m3 / low.cylinder_gives_m3 == pytest.approx(101325 / 79501.4, rel=1e-3)


def test_what_is_said_of_the_gas_can_be_reckoned_again():
    gas = compute(replace(EVENT, pieces=(helium(),))).gas
    words = r"([\d.]+) m³ in balloons, ([\d.]+) % more as the skin presses it and ([\d.]+) % lost"
    volume_m3, pressed, lost = (float(number) for number in re.search(words, gas.says).groups())
    assert gas.helium_m3 == pytest.approx(volume_m3 * (1 + pressed / 100) * (1 + lost / 100), abs=0.006)


def test_helium_that_does_not_last_is_refused():
    lasting = replace(CONDITIONS, hours_between_inflation_and_end=15.9)
    too_long = replace(CONDITIONS, hours_between_inflation_and_end=16.1)
    assert problems(replace(EVENT, pieces=(helium(),), conditions=lasting)) == set()
    assert problems(replace(EVENT, pieces=(helium(),), conditions=too_long)) == {"float-time"}
    assert problems(replace(EVENT, pieces=(helium(),), conditions=replace(too_long, treated=True))) == set()


def test_hours_to_last_come_from_the_day_backwards():
    got = compute(replace(EVENT, pieces=(helium(),)))
    inflating = next(bar for bar in got.day_backwards if bar.label == "Inflate, tie")
    assert got.gas.hours_to_last == pytest.approx(-inflating.start_offset_min / 60 + 6.0)
    late = compute(replace(EVENT, pieces=(helium(),), conditions=replace(CONDITIONS, doors_to_end_hours=12.0)))
    assert {problem.key for problem in late.problems} == {"float-time"}


def test_air_has_no_float_time():
    long = replace(CONDITIONS, hours_between_inflation_and_end=90.0)
    assert problems(replace(EVENT, conditions=long)) == set()


def test_small_balloons_do_not_float():
    small = PieceInput("Small", ColumnMeasures(1.0, 0.12, (1,)), fill="helium")
    assert problems(replace(EVENT, pieces=(small,))) == {"no-lift"}


def test_thin_air_does_not_carry_an_11_inch_balloon():
    high = replace(CONDITIONS, altitude_m=9000.0)
    assert problems(replace(EVENT, pieces=(helium(sized_m=0.20),), conditions=high)) == {"no-lift"}


def test_too_short_a_load_in_is_told():
    assert problems(replace(EVENT, conditions=replace(CONDITIONS, load_in_to_doors_min=15.0))) == {"too-late"}


def test_more_than_a_working_day_at_the_venue_is_told():
    huge = replace(PANEL.measures, rows=220, columns=260, counts=((1, 57_200),), built_at="venue")
    got = compute(EstimateInput((replace(PANEL, measures=huge),)))
    assert [problem.key for problem in got.problems] == ["too-late"]
    assert "more than a working day" in got.problems[0].says


def test_a_large_job_says_how_many_days_the_workshop_needs():
    large = replace(PANEL.measures, rows=110, columns=130, counts=((1, 14_300),))
    got = compute(EstimateInput((replace(PANEL, measures=large),)))
    in_workshop = sum(bar.end_offset_min - bar.start_offset_min for bar in got.day_backwards if bar.place == "workshop")
    assert got.people == 8
    assert f"that is {math.ceil(in_workshop / 480)} working days," in got.people_says


def test_a_low_ceiling_is_told():
    assert problems(replace(EVENT, conditions=replace(CONDITIONS, ceiling_m=2.4))) == {"ceiling"}


def test_a_piece_too_large_for_the_van_is_told():
    assert problems(replace(EVENT, rates=Rates(van_door_m=1.0))) == {"van-door"}


def test_a_piece_that_cannot_be_made_is_named():
    wrong = PieceInput("Giant", ColumnMeasures(3.0, 0.95, (1,)))
    with pytest.raises(ValueError, match="Giant: sized_diameter_m"):
        compute(replace(EVENT, pieces=(PANEL, wrong)))


def test_the_day_runs_without_gaps_and_arrives_at_load_in():
    got = compute(EVENT)
    bars = got.day_backwards
    assert [bar.label for bar in bars][-2:] == ["Open, join", "Install"]
    for one, after in pairwise(bars):
        assert one.end_offset_min == pytest.approx(after.start_offset_min)
    drive = next(bar for bar in bars if bar.label == "Drive")
    assert drive.end_offset_min == pytest.approx(-240.0)
    assert got.spare_before_doors_min == pytest.approx(-bars[-1].end_offset_min)
    assert got.elapsed_minutes == pytest.approx(bars[-1].end_offset_min - bars[0].start_offset_min)


def test_without_a_load_in_all_stands_half_an_hour_before_doors():
    got = compute(replace(EVENT, conditions=replace(CONDITIONS, load_in_to_doors_min=None)))
    assert got.day_backwards[-1].end_offset_min == -30.0


def test_a_shorter_load_in_takes_more_people():
    crews = [
        compute(replace(EVENT, conditions=replace(CONDITIONS, load_in_to_doors_min=minutes))).people
        for minutes in (300.0, 90.0, 60.0)
    ]
    assert crews == sorted(crews) and crews[0] == 2 and crews[-1] > 2


def test_more_than_a_van_holds_is_two_trips():
    got = compute(replace(EVENT, pieces=(replace(COLUMNS, count=12),)))
    room_m3 = 12 * COLUMNS.measures.needs(Rates()).packed_volume_m3 + 0.3
    assert got.van.room_m3 == pytest.approx(room_m3)
    assert got.van.trips == math.ceil(room_m3 / 10)
    assert got.van.fraction == pytest.approx(room_m3 / (10 * got.van.trips))


def test_weight_and_skills():
    got = compute(EVENT)
    assert got.weight_kg == pytest.approx(sum(piece.weight_kg * piece.count for piece in got.pieces))
    assert "1.5 kg on 5 points" in got.weight_says
    assert got.skills == ("lead", "rig", "ladder", "drive")
    assert compute(EstimateInput((PieceInput("One", ColumnMeasures(1.2, 0.25, (1,))),))).skills == ("lead",)


def test_every_figure_says_what_it_came_from():
    got = compute(replace(EVENT, pieces=(PANEL, COLUMNS, helium()), to_buy=(ToBuy(1, 5, 100, Decimal(9)),)))
    lines = (*got.pieces, *got.latex, *got.sheets, got.joins, *got.hardware, got.gas, *got.tasks, got.van, *got.costs)
    assert all(line.says for line in lines)
    assert got.latex_says.startswith("680 balloons and ")
    for words in (got.work_says, got.people_says, got.day_says, got.weight_says, got.price_says):
        assert words


def test_json_holds_everything_and_money_as_text():
    plain = to_json(compute(EVENT))
    assert json.loads(json.dumps(plain)) == plain
    assert Decimal(plain["price_from"]) == compute(EVENT).price_from
    assert isinstance(plain["quote_low"]["net"], str)
    money = {"costs", "quote_low", "quote_high", "price_says", "price_from", "price_to"}
    rest = json.dumps({name: value for name, value in plain.items() if name not in money})
    for word in ("price", "quote", "cost", "net", "deposit"):
        assert f'"{word}' not in rest


def test_same_input_same_key_and_same_figures():
    again = replace(EVENT, prices=replace(PRICES, wage_per_hour=Decimal("20.00")))
    assert input_key(again) == input_key(EVENT)
    assert len(input_key(EVENT)) == 64
    assert to_json(compute(again)) == to_json(compute(EVENT))
    whole = PieceInput("x", ColumnMeasures(2, 0.25, (1,)))
    assert input_key(EstimateInput((whole,))) == input_key(
        EstimateInput((replace(whole, measures=ColumnMeasures(2.0, 0.25, (1,))),))
    )


@pytest.mark.parametrize(
    "other",
    [
        replace(EVENT, pieces=(COLUMNS, PANEL)),
        replace(EVENT, pieces=(PANEL, replace(COLUMNS, count=3))),
        replace(EVENT, pieces=(PANEL, replace(COLUMNS, fill="helium"))),
        replace(EVENT, rates=Rates(spares_share=0.05)),
        replace(EVENT, rates=Rates(sizes=Rates().sizes[:-1])),
        replace(EVENT, conditions=replace(CONDITIONS, altitude_m=301.0)),
        replace(EVENT, prices=replace(PRICES, tax_fraction=Decimal("0.21"))),
        replace(EVENT, to_buy=(ToBuy(1, 5, 100, Decimal(9)),)),
    ],
)
def test_any_change_is_another_key(other):
    assert input_key(other) != input_key(EVENT)


def test_progress_rises_to_the_end():
    told = []
    compute(EVENT, lambda share, says: told.append((share, says)))
    shares = [share for share, _ in told]
    assert shares[0] == 0.0 and shares[-1] == 1.0 and shares == sorted(shares)
    assert all(says for _, says in told)


def test_bad_pieces_are_refused():
    with pytest.raises(ValueError, match="pieces"):
        EstimateInput(())
    with pytest.raises(ValueError, match="count"):
        replace(COLUMNS, count=0)
    with pytest.raises(ValueError, match="fill"):
        replace(COLUMNS, fill="water")
    with pytest.raises(ValueError, match="measures"):
        PieceInput("x", object())


@st.composite
def panel_and_larger(draw):
    rows, columns = draw(st.integers(1, 60)), draw(st.integers(1, 60))
    larger = rows + draw(st.integers(0, 20)), columns + draw(st.integers(0, 20))
    way = draw(st.sampled_from(["paired", "two-sided", "sandwich", "strung"]))
    at = draw(st.sampled_from(["workshop", "venue"]))

    def piece(size):
        counts = ((1, size[0] * size[1]),)
        changed = replace(PANEL.measures, rows=size[0], columns=size[1], counts=counts, way=way, built_at=at)
        return replace(EVENT, pieces=(replace(PANEL, measures=changed), COLUMNS))

    return piece((rows, columns)), piece(larger)


@settings(max_examples=80)
@given(panel_and_larger())
def test_cost_never_falls_with_size(both):
    small, large = (compute(given) for given in both)
    for small_line, large_line in zip(small.costs, large.costs, strict=True):
        assert large_line.low >= small_line.low and large_line.high >= small_line.high, small_line.kind
    assert large.price_from >= small.price_from
    assert large.price_to >= small.price_to


@settings(max_examples=40)
@given(panel_and_larger(), st.integers(1, 4))
def test_totals_hold_for_any_event(both, count):
    given_ = replace(both[0], pieces=(*both[0].pieces, replace(helium(), count=count)))
    got = compute(given_)
    assert sum(line.needed for line in got.latex) == sum(piece.balloons for piece in got.pieces)
    for price in (got.quote_low, got.quote_high):
        assert sum(line.amount for line in price.lines) + price.tax == price.total
    assert got.price_from <= got.price_to
    assert got.person_minutes_middle <= got.person_minutes_p80
    assert 0 < got.van.fraction <= 1
