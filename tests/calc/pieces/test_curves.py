import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import ellipe

from decor.calc.pieces.curves import CURVES, arc_length_m
from tests.calc.reference import rows

KINDS = st.sampled_from(CURVES)
LENGTHS = st.floats(1e-3, 1e3)


@pytest.mark.parametrize("row", rows("arcs.csv"), ids=lambda row: f"{row['kind']}-{row['span_m']}-{row['height_m']}")
def test_reference_lengths(row):
    got = arc_length_m(row["kind"], float(row["span_m"]), float(row["height_m"]))
    assert got == pytest.approx(float(row["length_m"]), abs=6e-10)


@given(LENGTHS, LENGTHS)
def test_half_ellipse_against_the_elliptic_integral(span_m, height_m):
    long, short = max(span_m / 2, height_m), min(span_m / 2, height_m)
    assert arc_length_m("half-ellipse", span_m, height_m) == pytest.approx(
        2 * long * ellipe(1 - (short / long) ** 2), rel=1e-11
    )


@given(LENGTHS, st.floats(0.01, 100))
def test_longer_than_the_straight_lines_and_shorter_than_round_the_box(span_m, ratio):
    height_m = span_m * ratio
    straight, box = 2 * math.hypot(span_m / 2, height_m), span_m + 2 * height_m
    parabola, catenary = (arc_length_m(kind, span_m, height_m) for kind in ("parabola", "catenary"))
    assert straight < parabola < catenary < box


@given(KINDS, LENGTHS, LENGTHS, st.floats(1.0001, 10))
def test_higher_is_longer(kind, span_m, height_m, times):
    """Never shorter than rounding allows, and truly longer where the height can be seen in the digits."""
    higher, lower = arc_length_m(kind, span_m, height_m * times), arc_length_m(kind, span_m, height_m)
    assert higher >= lower * (1 - 1e-14)
    assert higher > lower or height_m / span_m < 1e-3


@given(KINDS, LENGTHS, LENGTHS, st.floats(0.01, 100))
def test_length_scales(kind, span_m, height_m, times):
    assert arc_length_m(kind, span_m * times, height_m * times) == pytest.approx(
        times * arc_length_m(kind, span_m, height_m), rel=1e-9
    )


@pytest.mark.parametrize("kind", CURVES)
def test_degenerate_curves(kind):
    assert arc_length_m(kind, 3.0, 0.0) == 3.0
    assert arc_length_m(kind, 0.0, 0.0) == 0.0
    assert arc_length_m(kind, 0.0, 2.0) == pytest.approx(2 * math.pi if kind == "circular" else 4.0)


@pytest.mark.parametrize("kind", CURVES)
@pytest.mark.parametrize("ratio", [1e-12, 0.9e-6, 1.1e-6, 1e-3])
def test_nearly_flat_is_nearly_the_span(kind, ratio):
    extra = arc_length_m(kind, 1.0, ratio) - 1.0
    assert -1e-15 <= extra < 10 * ratio


@pytest.mark.parametrize("kind", CURVES)
def test_no_step_where_the_series_takes_over(kind):
    """The change of formula shows only in the second order: no jump of more than a rounding error."""
    for ratio in (1e-6, 0.25e-6):
        below, above = arc_length_m(kind, 1.0, ratio * (1 - 1e-9)), arc_length_m(kind, 1.0, ratio * (1 + 1e-9))
        assert below == pytest.approx(above, abs=1e-14 if kind != "half-ellipse" else 1e-13)


@pytest.mark.parametrize("kind", ["parabola", "catenary", "half-ellipse"])
def test_very_tall_is_twice_the_height(kind):
    for ratio in (0.9e6, 1.1e6, 1e12):
        assert arc_length_m(kind, 1.0, ratio) == pytest.approx(2 * ratio, rel=1e-4)


def test_more_than_half_a_circle():
    """A quarter missing at the bottom: radius 1, span √2, height 1 + √½, three quarters of the way round."""
    assert arc_length_m("circular", math.sqrt(2), 1 + math.sqrt(0.5)) == pytest.approx(1.5 * math.pi, rel=1e-12)


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (("spiral", 1.0, 1.0), "kind"),
        (("parabola", -1.0, 1.0), "span_m"),
        (("parabola", 1.0, -1.0), "height_m"),
        (("catenary", math.nan, 1.0), "span_m"),
        (("catenary", 1.0, math.inf), "height_m"),
    ],
)
def test_bad_input_is_refused_by_name(arguments, named):
    with pytest.raises(ValueError, match=named):
        arc_length_m(*arguments)
