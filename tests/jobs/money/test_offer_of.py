from decimal import Decimal
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from decor.calc.estimate import EstimateInput, PieceInput, Prices, compute, to_json
from decor.calc.pieces.column import ColumnMeasures
from jobs.estimates.stored import input_to_plain
from jobs.money.offers import Offer, net_range, offer_of


def estimate(tax: str = "0.20", deposit: str = "0.30", titles: tuple[str, ...] = ("Arch", "Columns", "Swag")):
    column = ColumnMeasures(height_m=1.8, sized_diameter_m=0.25, colours=(None,), balloons=4, pattern="spiral")
    prices = Prices(
        tax_fraction=Decimal(tax), deposit_fraction=Decimal(deposit), wage_per_hour=Decimal("18.37"), currency="GBP"
    )
    given_input = EstimateInput(
        pieces=tuple(PieceInput(title=title, measures=column, count=1 + at) for at, title in enumerate(titles)),
        prices=prices,
    )
    return SimpleNamespace(result=to_json(compute(given_input)), inputs=input_to_plain(given_input))


def whole(offer: Offer) -> None:
    assert sum(amount for _, amount in offer.lines) == offer.net
    assert offer.net + offer.tax == offer.total
    for amount in (offer.net, offer.tax, offer.total, offer.deposit, *(a for _, a in offer.lines)):
        assert amount == amount.quantize(Decimal("0.01"))


def test_it_is_the_estimates_upper_price():
    found = estimate()
    offer = offer_of(found)
    whole(offer)
    assert offer.total == Decimal(found.result["price_to"])
    assert offer.total > Decimal(found.result["price_from"])
    assert [title for title, _ in offer.lines] == ["Arch", "Columns × 2", "Swag × 3"]
    assert (offer.tax_percent, offer.currency) == (20, "GBP")
    assert offer.deposit == (offer.total * Decimal("0.30")).quantize(Decimal("0.01"))
    assert net_range(found)[1] == offer.net


STORED = {tax: estimate(tax) for tax in ("0", "0.055", "0.20", "0.21", "1")}


@given(tax=st.sampled_from(sorted(STORED)), coins=st.integers(1, 999_999_999))
def test_any_price_is_cut_without_losing_a_coin(tax, coins):
    net = Decimal(coins) / 100
    offer = offer_of(STORED[tax], net=net)
    whole(offer)
    assert offer.net == net
    assert abs(offer.tax - net * Decimal(tax)) <= Decimal("0.005")


def test_the_tax_rate_is_the_one_the_estimate_was_made_with():
    assert offer_of(STORED["0.055"]).tax_percent == Decimal("5.5")


@pytest.mark.parametrize("net", ["0", "-5", "10.005"])
def test_a_price_that_cannot_be_paid_is_refused(net):
    with pytest.raises(ValueError, match="net"):
        offer_of(estimate(), net=Decimal(net))


def test_an_unfinished_estimate_gives_no_offer():
    with pytest.raises(ValueError, match="estimate"):
        offer_of(SimpleNamespace(result=None, inputs={}))


def test_an_offer_that_does_not_add_up_cannot_be_made():
    right = offer_of(estimate())
    for wrong in ({"net": right.net + 1}, {"total": right.total + 1}, {"deposit": right.total + 1}):
        with pytest.raises(ValueError, match=r"must be|must add"):
            Offer(**(vars(right) | wrong))
