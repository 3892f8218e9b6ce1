"""What is stored is worked out again exactly as it was asked for."""

import json
from decimal import Decimal

import pytest

from decor.calc.estimate import EstimateInput, compute, input_key, to_json
from jobs.estimates.inputs import background_now, event_input
from jobs.estimates.stored import input_from_plain, input_to_plain


@pytest.fixture
def given(event, panel_piece, column_piece, store) -> EstimateInput:
    return event_input(event, background_now())


def test_there_and_back_through_json(given):
    again = input_from_plain(json.loads(json.dumps(input_to_plain(given))))
    assert again == given
    assert input_key(again) == input_key(given)
    assert to_json(compute(again)) == to_json(compute(given))


def test_money_is_stored_to_the_last_digit(given):
    from dataclasses import replace

    odd = replace(given, prices=replace(given.prices, wage_per_hour=Decimal("18.10"), coin=Decimal("0.05")))
    plain = json.loads(json.dumps(input_to_plain(odd)))
    assert plain["prices"]["wage_per_hour"] == "18.10"
    assert input_from_plain(plain).prices.coin == Decimal("0.05")
    assert isinstance(input_from_plain(plain).prices.latex_each[0][1], Decimal)


def test_only_the_arithmetics_own_things_are_made(given):
    plain = input_to_plain(given)
    plain["conditions"] = {"is": "subprocess:Popen", "args": ["true"]}
    with pytest.raises(ValueError, match="none of the arithmetic's"):
        input_from_plain(plain)


def test_input_of_other_formulas_is_refused_in_words(given):
    plain = input_to_plain(given)
    plain["conditions"]["gravity_m_per_s2"] = 9.81
    with pytest.raises(ValueError, match="other formulas"):
        input_from_plain(plain)
