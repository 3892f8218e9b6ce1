import json
from dataclasses import asdict, fields

import pytest

from decor.calc.physics.balloons import NominalSize
from decor.calc.work.rates import Rates, rates_from_plain, scalar_fields


def test_every_figure_has_what_a_form_needs():
    shown = scalar_fields()
    assert {item.name for item in shown} == {item.name for item in fields(Rates)} - {"sizes"}
    for item in shown:
        assert item.metadata["label"] and item.metadata["unit"]
        assert "no source" in item.metadata["source"]
        assert item.metadata["low"] <= item.default <= item.metadata["high"]


def test_labels_are_not_repeated():
    labels = [item.metadata["label"] for item in scalar_fields()]
    assert len(labels) == len(set(labels))


def test_stored_and_read_back_they_are_the_same():
    rates = Rates(spares_share=0.07, sizes=(NominalSize(11, "round", 0.003, 16.0),))
    assert rates_from_plain(json.loads(json.dumps(asdict(rates)))) == rates
    assert rates_from_plain({}) == Rates()


@pytest.mark.parametrize("item", scalar_fields(), ids=lambda item: item.name)
def test_each_figure_out_of_range_is_named(item):
    for wrong in (item.metadata["low"] - 1, item.metadata["high"] + 1, float("nan")):
        with pytest.raises(ValueError, match=item.name):
            Rates(**{item.name: wrong})


def test_unknown_figures_and_empty_tables_are_refused():
    with pytest.raises(ValueError, match="colour_of_van"):
        rates_from_plain({"colour_of_van": 1})
    with pytest.raises(ValueError, match="sizes"):
        Rates(sizes=())
