import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from decor.calc.physics.atmosphere import Air, standard_air
from decor.calc.physics.balloons import NominalSize, net_lift_kg, nominal_size, size_checked, volume_m3
from tests.calc.reference import rows


@pytest.mark.parametrize("row", rows("spheres.csv"), ids=lambda row: row["d_in"])
def test_spheres(row):
    diameter_m = float(row["d_in"]) * 0.0254
    assert volume_m3(diameter_m) * 1000 == pytest.approx(float(row["volume_l"]), abs=6e-5)
    reference_air = Air(101325.0, 293.15, 1.204575)
    lift_kg = net_lift_kg(diameter_m=diameter_m, latex_mass_kg=0.0, air=reference_air)
    assert lift_kg * 1000 == pytest.approx(float(row["lift_20C_g"]), rel=5e-5)


def test_a_spheroid_has_the_published_volume():
    """Prolate spheroid (0.1397, 0.16): V = 0.013079809060 m³."""
    assert volume_m3(2 * 0.1397, 0.16 / 0.1397) == pytest.approx(0.013079809060, rel=1e-10)


def test_a_heavy_skin_does_not_float():
    assert net_lift_kg(diameter_m=0.127, latex_mass_kg=0.0015, air=standard_air(0, 293.15)) < 0


def test_no_balloon_lifts_less_than_nothing_but_its_skin():
    assert net_lift_kg(diameter_m=0.0, latex_mass_kg=0.003, air=standard_air()) == -0.003


@given(st.floats(0.0, 8000.0), st.floats(0.0, 2000.0))
def test_lift_falls_with_altitude(altitude_m, higher_m):
    low, high = standard_air(altitude_m), standard_air(altitude_m + higher_m)
    assert net_lift_kg(diameter_m=0.3, latex_mass_kg=0.003, air=high) <= net_lift_kg(
        diameter_m=0.3, latex_mass_kg=0.003, air=low
    )


@pytest.mark.parametrize(
    ("arguments", "named"),
    [((-0.1,), "diameter_m"), ((math.nan,), "diameter_m"), ((0.1, 0.0), "elongation")],
)
def test_bad_volumes_are_refused(arguments, named):
    with pytest.raises(ValueError, match=named):
        volume_m3(*arguments)


def test_negative_latex_is_refused():
    with pytest.raises(ValueError, match="latex_mass_kg"):
        net_lift_kg(diameter_m=0.3, latex_mass_kg=-0.001, air=standard_air())


def test_the_smallest_size_whose_95_per_cent_reaches():
    assert nominal_size(0.127 * 0.95).nominal_in == 5
    assert nominal_size(0.127 * 0.95 + 1e-6).nominal_in == 9
    assert nominal_size(0.119, "double-ended").nominal_in == 5


def test_above_the_largest_size_it_is_refused():
    with pytest.raises(ValueError, match="sized_diameter_m"):
        nominal_size(36 * 0.0254 * 0.95 + 1e-6)


def test_a_named_size_must_reach():
    sizes = (NominalSize(5, "round", 0.001, 0.0),)
    assert size_checked(5, 0.12, "round", sizes).mass_kg == 0.001
    with pytest.raises(ValueError, match="sized_diameter_m"):
        size_checked(5, 0.13, "round", sizes)
    with pytest.raises(ValueError, match="nominal_in"):
        size_checked(11, 0.13, "round", sizes)
    with pytest.raises(ValueError, match="shape"):
        size_checked(None, 0.1, "long", sizes)


@pytest.mark.parametrize(
    ("row", "named"),
    [
        ((0, "round", 0.001, 0.0), "nominal_in"),
        ((5, "round", -1.0, 0.0), "mass_kg"),
        ((5, "round", 0.001, -1.0), "float_hours"),
        ((5, "square", 0.001, 0.0), "shape"),
    ],
)
def test_bad_rows_of_the_table_are_refused(row, named):
    with pytest.raises(ValueError, match=named):
        NominalSize(*row)
