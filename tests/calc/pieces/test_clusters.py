import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from decor.calc.pieces.clusters import layer_spacing_m, ring_radius_m, ring_width_m


@pytest.mark.parametrize(
    ("balloons", "spacing"), [(3, math.sqrt(2 / 3)), (4, 2**-0.25), (5, math.sqrt((5 + math.sqrt(5)) / 10))]
)
def test_published_antiprisms(balloons, spacing):
    """Octahedron √(2/3), square antiprism 2^(-1/4), pentagonal √((5+√5)/10): 0.8165, 0.8409, 0.8507."""
    assert layer_spacing_m(balloons, 1.0) == pytest.approx(spacing, rel=1e-14)
    assert layer_spacing_m(balloons, 0.28, 0.1) == pytest.approx(0.28 * 0.9 * spacing, rel=1e-14)


@given(st.integers(2, 40), st.floats(0.01, 3))
def test_nested_balloons_touch(balloons, diameter_m):
    """In a layer, and from one layer to the next turned by π/n, the nearest centres are one diameter apart."""
    radius_m = ring_radius_m(balloons, diameter_m)
    beside_m = 2 * radius_m * math.sin(math.pi / balloons)
    across_m = 2 * radius_m * math.sin(math.pi / (2 * balloons))
    assert beside_m == pytest.approx(diameter_m)
    assert math.hypot(across_m, layer_spacing_m(balloons, diameter_m)) == pytest.approx(diameter_m)


@pytest.mark.parametrize(("balloons", "width"), [(3, 2.154701), (4, 2.414214), (5, 2.701302)])
def test_published_ring_widths(balloons, width):
    assert ring_width_m(balloons, 1.0) == pytest.approx(width, abs=6e-7)


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        ((1, 0.3), "balloons"),
        ((3.5, 0.3), "balloons"),
        ((4, -0.1), "diameter_m"),
        ((4, 0.3, 1.1), "squeeze"),
        ((4, 0.3, -0.1), "squeeze"),
        ((4, math.nan), "diameter_m"),
    ],
)
def test_bad_input_is_refused_by_name(arguments, named):
    with pytest.raises(ValueError, match=named):
        layer_spacing_m(*arguments)
