import math

import pytest

from decor.calc.physics.atmosphere import geopotential_m, standard_air
from tests.calc.reference import rows


@pytest.mark.parametrize("row", rows("isa1976.csv"), ids=lambda row: row["geometric_m"])
def test_reference_rows(row):
    altitude_m = float(row["geometric_m"])
    air = standard_air(altitude_m)
    assert geopotential_m(altitude_m) == pytest.approx(float(row["geopotential_m"]), abs=6e-4)
    assert air.temperature_k == pytest.approx(float(row["T_K"]), abs=6e-5)
    assert air.pressure_pa == pytest.approx(float(row["P_Pa"]), rel=1e-6)
    assert air.density_kg_per_m3 == pytest.approx(float(row["rho_kg_m3"]), rel=1e-6)


@pytest.mark.parametrize("row", rows("atmosphere_published.csv"), ids=lambda row: row["geometric_m"])
def test_published_rows_to_their_last_digit(row):
    air = standard_air(float(row["geometric_m"]))
    assert air.temperature_k == pytest.approx(float(row["T_K"]), abs=0.0051)
    assert air.pressure_pa / 1e5 == pytest.approx(float(row["P_bar"]), abs=0.000051)
    assert air.density_kg_per_m3 == pytest.approx(float(row["rho_kg_m3"]), abs=0.000051)


def test_layer_bases_are_those_of_the_standard():
    """Pressures at the layers' bases as the standard's table 4 has them: 226.32, 54.749, 8.6802, 1.1091 mbar."""
    for base_m, kelvin, pascal in ((11000, 216.65, 22632.0), (20000, 216.65, 5474.9), (32000, 228.65, 868.02)):
        radius_m = 6_356_766.0
        air = standard_air(radius_m * base_m / (radius_m - base_m))
        assert air.temperature_k == pytest.approx(kelvin, abs=1e-6)
        assert air.pressure_pa == pytest.approx(pascal, rel=3e-5)


@pytest.mark.parametrize("base_m", [11000.0, 20000.0, 32000.0, 47000.0, 51000.0, 71000.0])
def test_no_step_between_layers(base_m):
    radius_m = 6_356_766.0
    altitude_m = radius_m * base_m / (radius_m - base_m)
    below, above = standard_air(altitude_m - 1e-3), standard_air(altitude_m + 1e-3)
    assert below.pressure_pa == pytest.approx(above.pressure_pa, rel=1e-6)
    assert below.temperature_k == pytest.approx(above.temperature_k, abs=1e-4)


def test_a_heated_hall_keeps_the_altitudes_pressure():
    outside, inside = standard_air(1500), standard_air(1500, 293.15)
    assert inside.pressure_pa == outside.pressure_pa
    assert inside.temperature_k == 293.15
    assert inside.density_kg_per_m3 == pytest.approx(outside.density_kg_per_m3 * outside.temperature_k / 293.15)


@pytest.mark.parametrize("altitude_m", [-5001.0, 80_001.0, math.nan, math.inf])
def test_altitudes_outside_are_refused(altitude_m):
    with pytest.raises(ValueError, match="altitude_m"):
        standard_air(altitude_m)


@pytest.mark.parametrize("temperature_k", [0.0, -5.0, math.nan])
def test_no_air_at_absolute_zero(temperature_k):
    with pytest.raises(ValueError, match="temperature_k"):
        standard_air(0.0, temperature_k)
