"""Helium as a real gas: its density, its lift, and what a cylinder gives.

References
----------
The equation of state of Ortiz Vega et al., "An Equation of State for the Thermodynamic Properties of Helium",
NISTIR 8474 (2023), as tabulated in `tests/references/helium_reference.csv`. The density virial series below is
fitted to its rows from 1 to 300 bar and -10 to 50 °C, which it meets within 2 parts in 100,000.
"""

from __future__ import annotations

from decor.calc.checks import check_above_zero
from decor.calc.physics.atmosphere import STANDARD_PRESSURE_PA, Air

GAS_CONSTANT_J_PER_MOL_K = 8.314462618
HELIUM_MOLAR_MASS_KG_PER_MOL = 0.004002602

HIGHEST_PRESSURE_PA = 5.0e7
LOWEST_TEMPERATURE_K = 150.0
HIGHEST_TEMPERATURE_K = 400.0

_FIT_TEMPERATURE_K = 288.15
_B_M3_PER_MOL = 1.18905e-5
_B_SLOPE = -3.94256e-9
_C_M6_PER_MOL2 = 1.04419e-10
_C_SLOPE = -2.07074e-13
_D_M9_PER_MOL3 = 1.00778e-15
"""Virial coefficients at 288.15 K and their change with temperature [per K]."""


def helium_density_kg_per_m3(pressure_pa: float, temperature_k: float) -> float:
    """Density of helium [kg/m³] at an absolute pressure [Pa] and a temperature [K], as a real gas.

    Within 0.002 % of the reference from 0.7 to 300 bar at -10 to 50 °C; beyond that the same series is carried on,
    to 500 bar and from 150 to 400 K. Raises ValueError naming the argument outside that range.

    >>> round(helium_density_kg_per_m3(101325, 288.15), 4)
    0.1692
    >>> round(helium_density_kg_per_m3(200e5, 288.15), 2)
    30.46
    """
    if not 0 <= pressure_pa <= HIGHEST_PRESSURE_PA:
        raise ValueError(f"pressure_pa must be between 0 and {HIGHEST_PRESSURE_PA:g}")
    _check_temperature("temperature_k", temperature_k)
    above_k = temperature_k - _FIT_TEMPERATURE_K
    b = _B_M3_PER_MOL + _B_SLOPE * above_k
    c = _C_M6_PER_MOL2 + _C_SLOPE * above_k
    d = _D_M9_PER_MOL3
    ideal = pressure_pa / (GAS_CONSTANT_J_PER_MOL_K * temperature_k)
    mol = ideal
    # Newton from above: pressure rises and bends upward with density, so it never overshoots.
    for _ in range(50):
        step = (mol * (1 + mol * (b + mol * (c + mol * d))) - ideal) / (1 + mol * (2 * b + mol * (3 * c + mol * 4 * d)))
        mol -= step
        if abs(step) <= 1e-14 * ideal:
            break
    return mol * HELIUM_MOLAR_MASS_KG_PER_MOL


def _check_temperature(name: str, kelvin: float) -> None:
    if not LOWEST_TEMPERATURE_K <= kelvin <= HIGHEST_TEMPERATURE_K:
        raise ValueError(f"{name} must be between {LOWEST_TEMPERATURE_K:g} and {HIGHEST_TEMPERATURE_K:g} K")


def helium_lift_kg_per_m3(air: Air) -> float:
    """What a cubic metre of helium lifts in that air, at its pressure and temperature [kg/m³].

    >>> from decor.calc.physics.atmosphere import standard_air
    >>> round(helium_lift_kg_per_m3(standard_air()), 4)
    1.0558
    """
    return air.density_kg_per_m3 - helium_density_kg_per_m3(air.pressure_pa, air.temperature_k)


def cylinder_free_gas_m3(
    *,
    water_volume_m3: float,
    gauge_pressure_pa: float,
    temperature_k: float,
    residual_gauge_pa: float = 0.0,
    delivered_pressure_pa: float = 101325.0,
    delivered_temperature_k: float = 288.15,
) -> float:
    """Free helium that can be drawn from a cylinder [m³], measured at the delivered pressure and temperature.

    `water_volume_m3` is the cylinder's inside; the gauge reads above one standard atmosphere, at the cylinder's
    own `temperature_k`; `residual_gauge_pa` is what is left in it, at the same temperature. Losses are not
    counted here. Raises ValueError naming what is out of range, `residual_gauge_pa` where it is above the gauge.

    >>> drawn = cylinder_free_gas_m3(water_volume_m3=0.05, gauge_pressure_pa=200e5, temperature_k=288.15)
    >>> round(drawn, 2)
    8.99
    """
    check_above_zero("water_volume_m3", water_volume_m3)
    highest_gauge_pa = HIGHEST_PRESSURE_PA - STANDARD_PRESSURE_PA
    if not 0 <= gauge_pressure_pa <= highest_gauge_pa:
        raise ValueError(f"gauge_pressure_pa must be between 0 and {highest_gauge_pa:g}")
    if not 0 <= residual_gauge_pa <= gauge_pressure_pa:
        raise ValueError("residual_gauge_pa must be between 0 and the gauge pressure")
    if not 0 < delivered_pressure_pa <= HIGHEST_PRESSURE_PA:
        raise ValueError(f"delivered_pressure_pa must be above 0, at most {HIGHEST_PRESSURE_PA:g}")
    _check_temperature("temperature_k", temperature_k)
    _check_temperature("delivered_temperature_k", delivered_temperature_k)
    full = helium_density_kg_per_m3(gauge_pressure_pa + STANDARD_PRESSURE_PA, temperature_k)
    left = helium_density_kg_per_m3(residual_gauge_pa + STANDARD_PRESSURE_PA, temperature_k)
    return water_volume_m3 * (full - left) / helium_density_kg_per_m3(delivered_pressure_pa, delivered_temperature_k)
