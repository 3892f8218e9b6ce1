"""Spares from what burst: four jobs in five need no more."""

import math
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import nbinom, norm

from decor.calc.costs import piece_weight
from decor.calc.estimate import compute, input_key
from decor.calc.materials import EXACT_UP_TO, P80_Z, measured, spare_share_of, spares_for_burst
from decor.calc.work.rates import Rates
from jobs.estimates.stored import input_from_plain, input_to_plain
from tests.calc.test_estimate import COLUMNS, EVENT, PANEL, PRICES


@given(st.integers(1, EXACT_UP_TO), st.floats(0.001, 0.15))
def test_as_scipy_says(needed, burst):
    """scipy.stats.nbinom: failures before `needed` successes, each with the chance 1 − burst."""
    spares = spares_for_burst(needed, burst)
    low, high = nbinom.cdf(spares - 1, needed, 1 - burst), nbinom.cdf(spares, needed, 1 - burst)
    assert low < 0.8 + 1e-9 and high >= 0.8 - 1e-9


@pytest.mark.parametrize("needed", [4_001, 7_000, 100_000])
@pytest.mark.parametrize("burst", [0.005, 0.02, 0.06])
def test_very_many_are_within_one_of_scipy(needed, burst):
    assert abs(spares_for_burst(needed, burst) - nbinom.ppf(0.8, needed, 1 - burst)) <= 1


def test_the_quantile_is_the_published_one():
    assert abs(P80_Z - norm.ppf(0.8)) < 1e-12


def test_by_hand():
    """Ten needed, one in ten bursts: 0.9^10 = 0.3487 need none, 0.3487 one (10 × 0.1), 0.1918 two (55 × 0.01):
    together 0.8892, and with one spare only 0.6974. So two."""
    assert 0.9**10 * (1 + 10 * 0.1) < 0.8 < 0.9**10 * (1 + 10 * 0.1 + 55 * 0.01)
    assert spares_for_burst(10, 0.1) == 2


@pytest.mark.parametrize("burst", [-0.01, 1.0, math.nan])
def test_what_is_no_share_is_refused(burst):
    with pytest.raises(ValueError, match="burst"):
        spares_for_burst(10, burst)
    with pytest.raises(ValueError, match="burst"):
        replace(EVENT, burst=((1, burst),))


def test_only_what_is_known_gets_its_own_spares():
    """400 of one colour at 2 of 100: 11 spares where four in a hundred would be 16; the other keeps its 7."""
    got = compute(replace(EVENT, burst=((1, 0.02),)))
    lines = {(line.key, line.nominal_in): line for line in got.latex}
    assert (lines[1, 5].spares, lines[1, 5].quantity, lines[2, 5].spares) == (11, 411, 7)
    assert lines[1, 5].says.endswith("and 11 spares, from what burst: 2 of 100, and four jobs in five need no more")
    assert lines[2, 5].says.endswith("and 4 % spares")
    assert "from what burst before where that is known, else 4 % of each size and colour" in got.latex_says
    costs = {line.kind: line for line in got.costs}
    before = {line.kind: line for line in compute(EVENT).costs}
    fewer = sum(line.quantity for line in compute(EVENT).latex if line.key == 1) - sum(
        line.quantity for line in got.latex if line.key == 1
    )
    assert before["latex"].low - costs["latex"].low == fewer * Decimal("0.06")


def test_without_any_it_is_the_same_as_before_and_with_some_another_estimate():
    known = replace(EVENT, burst=((1, 0.02),))
    assert input_key(known) != input_key(EVENT)
    assert input_from_plain(input_to_plain(known)) == known
    old = input_to_plain(EVENT)
    del old["burst"]
    assert input_from_plain(old) == EVENT


def test_a_piece_bears_its_own_spares_of_the_price():
    """400 at 0.06 and 172 at 0.07: with a fifth bursting of the first, its 24.00 weigh 24.00 / 0.8 = 30.00."""
    needs = measured(PANEL, Rates()).all
    flat = piece_weight(needs, lambda key: 0.0, 0.0, 0.0, Decimal(0), PRICES)
    burst = piece_weight(needs, lambda key: spare_share_of(key, 0.0, {1: 0.2}), 0.0, 0.0, Decimal(0), PRICES)
    assert burst - flat == Decimal("6.00")
    assert spare_share_of(None, 0.04, {1: 0.2}) == spare_share_of(9, 0.04, {1: 0.2}) == 0.04
    assert measured(COLUMNS, Rates()).all.latex
