from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from decor.calc.work.price import Cylinder, Prices, SheetCost, ToBuy, allocate, quote, to_coin

AMOUNT = st.decimals(0, 10**6, places=6)
FRACTION = st.decimals(0, Decimal("0.94"), places=4)
WEIGHTS = st.lists(st.decimals(0, 10**5, places=5), min_size=1, max_size=12).map(tuple)


@given(AMOUNT, WEIGHTS, FRACTION, FRACTION, FRACTION, st.sampled_from(["0.01", "1", "0.05", "0.001"]))
def test_lines_and_tax_add_to_the_total_to_the_coin(cost, weights, margin, tax, deposit, coin):
    prices = Prices(margin_fraction=margin, tax_fraction=tax, deposit_fraction=deposit, coin=Decimal(coin))
    got = quote(cost, tuple("x" for _ in weights), weights, prices)
    assert sum(line.amount for line in got.lines) == got.net
    assert sum(line.amount for line in got.lines) + got.tax == got.total == got.deposit + got.balance
    for amount in (got.net, got.tax, got.total, got.deposit, *(line.amount for line in got.lines)):
        assert amount % Decimal(coin) == 0 and amount >= 0
    assert abs(got.net - cost / (1 - margin)) <= Decimal(coin) / 2


@given(st.integers(0, 10**7), WEIGHTS)
def test_no_line_is_a_whole_coin_off_its_share(coins, weights):
    total = Decimal(coins) / 100
    parts = allocate(total, weights)
    assert sum(parts) == total
    if sum(weights) > 0:
        for part, weight in zip(parts, weights, strict=True):
            assert abs(part - total * weight / sum(weights)) < Decimal("0.0100001")


def test_margin_is_of_the_price_and_not_on_the_cost():
    got = quote(Decimal("700"), ("all",), (Decimal(1),), Prices(margin_fraction=Decimal("0.30")))
    assert got.net == Decimal("1000.00")
    assert (got.tax, got.total) == (Decimal("200.00"), Decimal("1200.00"))
    assert (got.deposit, got.balance) == (Decimal("360.00"), Decimal("840.00"))


def test_halves_go_up():
    assert to_coin(Decimal("0.005")) == Decimal("0.01")
    assert to_coin(Decimal("2.675")) == Decimal("2.68")
    assert to_coin(Decimal("7.4"), Decimal(5)) == Decimal(5)


def test_the_coin_left_over_goes_to_the_largest_remainder():
    assert allocate(Decimal("1.00"), (Decimal(1), Decimal(2), Decimal(3))) == (
        Decimal("0.17"),
        Decimal("0.33"),
        Decimal("0.50"),
    )


def test_weightless_lines_share_alike():
    assert allocate(Decimal("0.03"), (Decimal(0),) * 2) == (Decimal("0.02"), Decimal("0.01"))


@pytest.mark.parametrize(
    ("total", "weights", "named"),
    [
        ("1.00", (), "weights"),
        ("1.00", (Decimal(-1),), "weights"),
        ("1.005", (Decimal(1),), "total"),
        ("-1", (Decimal(1),), "total"),
    ],
)
def test_bad_allocations_are_refused(total, weights, named):
    with pytest.raises(ValueError, match=named):
        allocate(Decimal(total), weights)


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"wage_per_hour": Decimal(-1)}, "wage_per_hour"),
        ({"wage_per_hour": Decimal("NaN")}, "wage_per_hour"),
        ({"margin_fraction": Decimal(1)}, "margin_fraction"),
        ({"tax_fraction": Decimal("1.2")}, "tax_fraction"),
        ({"deposit_fraction": Decimal(-1)}, "deposit_fraction"),
        ({"latex_each": ((1, Decimal(-1)),)}, "latex_each"),
        ({"hardware_each": (("pole", Decimal(-1)),)}, "hardware_each"),
        ({"coin": Decimal(0)}, "coin"),
    ],
)
def test_bad_prices_are_refused_by_name(changes, named):
    with pytest.raises(ValueError, match=named):
        Prices(**changes)


def test_a_sheet_is_charged_by_its_uses():
    assert SheetCost(1, Decimal(12), uses=8).share == Decimal("1.5")
    with pytest.raises(ValueError, match="uses"):
        SheetCost(1, Decimal(12), uses=0)


@given(st.integers(1, 10_000), st.integers(1, 500))
def test_packs_cover_the_shortage_and_one_fewer_would_not(quantity, pack_size):
    got = ToBuy(1, quantity, pack_size, Decimal("6.20"))
    assert got.packs * pack_size >= quantity > (got.packs - 1) * pack_size


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        ((1, 0, 100, Decimal(1)), "quantity"),
        ((1, 5, 0, Decimal(1)), "pack_size"),
        ((1, 5, 9, Decimal(-1)), "pack_price"),
    ],
)
def test_bad_shortages_are_refused(arguments, named):
    with pytest.raises(ValueError, match=named):
        ToBuy(*arguments)


def test_a_cylinder_emptier_than_its_residual_is_refused():
    with pytest.raises(ValueError, match="residual_gauge_pa"):
        Cylinder(gauge_pressure_pa=1e5, residual_gauge_pa=5e5)
