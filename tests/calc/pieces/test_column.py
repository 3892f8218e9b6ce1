import math
from collections import Counter
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from decor.calc.pieces.clusters import layer_spacing_m, ring_radius_m
from decor.calc.pieces.column import ColumnMeasures, colour_counts, needs, placed_balloons
from decor.calc.work.rates import Rates

RATES = Rates()


@st.composite
def columns(draw):
    pattern = draw(st.sampled_from(["rings", "spiral", "blocks"]))
    balloons = draw(st.integers(3, 5))
    colours = tuple(draw(st.lists(st.one_of(st.none(), st.integers(1, 4)), min_size=1, max_size=balloons)))
    try:
        return ColumnMeasures(
            height_m=draw(st.floats(0.3, 6)),
            sized_diameter_m=draw(st.floats(0.1, 0.8)),
            colours=colours,
            balloons=balloons,
            pattern=pattern,
            squeeze=draw(st.floats(0, 0.5)),
        )
    except ValueError as error:
        assume("colours" not in str(error))
        raise


@given(columns())
def test_colours_add_to_the_balloons_as_drawn_and_as_needed(measures):
    drawn = Counter(balloon.colour for balloon in placed_balloons(measures))
    assert tuple(drawn[colour] for colour in range(len(measures.colours))) == colour_counts(measures)
    got = needs(measures, RATES)
    assert got.balloons == measures.layers * measures.balloons == sum(drawn.values())
    by_key = Counter()
    for colour, number in drawn.items():
        by_key[measures.colours[colour]] += number
    assert {need.key: need.quantity for need in got.latex} == dict(by_key)


@given(columns())
def test_every_colour_named_is_shown(measures):
    assert min(colour_counts(measures)) >= 1


@given(columns())
def test_it_reaches_the_height_and_would_not_with_a_layer_less(measures):
    assert measures.built_height_m >= measures.height_m - 1e-6
    if measures.layers > 1:
        assert measures.built_height_m - measures.spacing_m < measures.height_m


@given(columns(), st.floats(0.0, 2.0))
def test_taller_never_needs_fewer(measures, more_m):
    taller = ColumnMeasures(
        measures.height_m + more_m,
        measures.sized_diameter_m,
        measures.colours,
        measures.balloons,
        measures.pattern,
        measures.squeeze,
    )
    assert needs(taller, RATES).balloons >= needs(measures, RATES).balloons


def test_layers_are_spaced_as_the_antiprism():
    measures = ColumnMeasures(1.8, 0.25, (1,))
    assert measures.layers == 1 + math.ceil((1.8 - 0.25) / (0.25 * 0.8408964))
    heights = sorted({balloon.height_m for balloon in placed_balloons(measures)})
    assert heights[0] == pytest.approx(0.125)
    steps = [high - low for low, high in pairwise(heights)]
    assert steps == pytest.approx([layer_spacing_m(4, 0.25)] * len(steps))


def test_an_exact_height_takes_no_layer_more():
    spacing_m = layer_spacing_m(4, 0.25)
    assert ColumnMeasures(0.25 + 5 * spacing_m, 0.25, (1,)).layers == 6
    assert ColumnMeasures(0.25, 0.25, (1,)).layers == 1
    assert ColumnMeasures(0.1, 0.25, (1,)).layers == 1


def test_drawn_balloons_touch_their_nearest_neighbours():
    measures = ColumnMeasures(1.5, 0.25, (1,), balloons=5)
    radius_m = ring_radius_m(5, 0.25)
    centres = [
        (radius_m * math.cos(b.angle_rad), radius_m * math.sin(b.angle_rad), b.height_m)
        for b in placed_balloons(measures)
    ]
    for at, centre in enumerate(centres):
        nearest = min(math.dist(centre, other) for number, other in enumerate(centres) if number != at)
        assert nearest == pytest.approx(0.25)


def test_rings_change_colour_by_layer():
    measures = ColumnMeasures(1.8, 0.25, (10, 20, 30), pattern="rings")
    for balloon in placed_balloons(measures):
        assert balloon.colour == balloon.layer % 3


def test_blocks_rise_and_differ_by_at_most_one_layer():
    measures = ColumnMeasures(2.0, 0.25, (10, 20, 30), pattern="blocks")
    colours = [balloon.colour for balloon in placed_balloons(measures)]
    assert colours == sorted(colours)
    layers = [count // 4 for count in colour_counts(measures)]
    assert max(layers) - min(layers) <= 1


def test_a_spirals_colour_turns_by_half_a_place_a_layer():
    measures = ColumnMeasures(1.8, 0.25, (10, 20, 30, 40), pattern="spiral")
    first = [balloon for balloon in placed_balloons(measures) if balloon.colour == 0]
    turns = [(b.angle_rad - a.angle_rad) % (2 * math.pi) for a, b in pairwise(first)]
    assert turns == pytest.approx([math.pi / 4] * len(turns))


def test_each_column_takes_a_pole_and_a_base():
    got = needs(ColumnMeasures(1.8, 0.25, (1, 2)), RATES)
    assert [(thing.name, thing.quantity) for thing in got.hardware] == [("pole", 1), ("base plate", 1)]
    assert got.weight_kg == pytest.approx(36 * 0.0030 + RATES.pole_kg + RATES.base_kg)


def test_large_balloons_cost_waiting_time():
    def waiting(sized_m):
        return sum(task.extra_min for task in needs(ColumnMeasures(3.0, sized_m, (1,)), RATES).tasks)

    assert waiting(0.12) == 0.0
    assert waiting(0.5) > 1.0


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"height_m": 0.0}, "height_m"),
        ({"height_m": 9000.0}, "height_m must be lower"),
        ({"sized_diameter_m": -0.2}, "sized_diameter_m"),
        ({"balloons": 2}, "balloons"),
        ({"balloons": 6}, "balloons"),
        ({"squeeze": 0.6}, "squeeze"),
        ({"pattern": "zigzag"}, "pattern"),
        ({"built_at": "home"}, "built_at"),
        ({"colours": ()}, "colours"),
        ({"colours": (1, 2, 3, 4, 5), "pattern": "spiral"}, "colours"),
        ({"height_m": 0.3, "colours": (1, 2, 3), "pattern": "blocks"}, "colours"),
        ({"height_m": 0.3, "colours": (1, 2, 3), "pattern": "rings"}, "colours"),
    ],
)
def test_bad_measures_are_refused_by_name(changes, named):
    usual = {"height_m": 1.8, "sized_diameter_m": 0.25, "colours": (1, 2)}
    with pytest.raises(ValueError, match=named):
        ColumnMeasures(**(usual | changes))


def test_a_balloon_that_is_not_sold_is_refused():
    with pytest.raises(ValueError, match="sized_diameter_m"):
        needs(ColumnMeasures(3.0, 0.9, (1,)), RATES)
