"""The 1976 standard atmosphere, dry.

References
----------
U.S. Standard Atmosphere, 1976 (NOAA, NASA, USAF): constants of table 2, layers of table 4, equations 18, 19, 23,
33a and 33b.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

STANDARD_PRESSURE_PA = 101_325.0
STANDARD_TEMPERATURE_K = 288.15
GRAVITY_M_PER_S2 = 9.80665
AIR_GAS_CONSTANT_J_PER_KG_K = 287.05287
"""Of dry standard air: 8314.32 / 28.96442, as the standard's own tables and ISO 2533 have it."""
EARTH_RADIUS_M = 6_356_766.0

LOWEST_M = -5_000.0
HIGHEST_M = 80_000.0
"""The standard is tabulated from -5 km; from 80 km on the mean molar mass falls and these layers no longer hold."""

_LAYERS = (
    (0.0, -0.0065),
    (11_000.0, 0.0),
    (20_000.0, 0.0010),
    (32_000.0, 0.0028),
    (47_000.0, 0.0),
    (51_000.0, -0.0028),
    (71_000.0, -0.0020),
)
"""Base of each layer [geopotential m] and how the temperature changes in it [K/m]."""


@dataclass(frozen=True)
class Air:
    """Dry air: `pressure_pa` [Pa], `temperature_k` [K], `density_kg_per_m3` [kg/m³]."""

    pressure_pa: float
    temperature_k: float
    density_kg_per_m3: float


def geopotential_m(altitude_m: float) -> float:
    """Geopotential altitude [m] of a geometric altitude above sea level [m] (equation 18).

    >>> round(geopotential_m(5000.0), 2)
    4996.07
    """
    return EARTH_RADIUS_M * altitude_m / (EARTH_RADIUS_M + altitude_m)


def air_density_kg_per_m3(pressure_pa: float, temperature_k: float) -> float:
    """Density of dry air as an ideal gas [kg/m³]; the real gas is 0.04 % denser at sea level."""
    return pressure_pa / (AIR_GAS_CONSTANT_J_PER_KG_K * temperature_k)


def standard_air(altitude_m: float = 0.0, temperature_k: float | None = None) -> Air:
    """The standard atmosphere's air at a geometric altitude above sea level [m], from -5 to 80 km.

    With `temperature_k` [K] given, the air has that temperature at the altitude's standard pressure, as in a
    heated hall. Raises ValueError naming `altitude_m` outside the range, or `temperature_k` at 0 K or below.

    >>> round(standard_air().density_kg_per_m3, 4)
    1.225
    >>> round(standard_air(1500).pressure_pa)
    84560
    """
    if not LOWEST_M <= altitude_m <= HIGHEST_M:
        raise ValueError(f"altitude_m must be between {LOWEST_M:g} and {HIGHEST_M:g}")
    if temperature_k is not None and not (math.isfinite(temperature_k) and temperature_k > 0):
        raise ValueError("temperature_k must be above 0 K")
    standard_k, pressure_pa = _layer_state(geopotential_m(altitude_m))
    kelvin = standard_k if temperature_k is None else temperature_k
    return Air(pressure_pa, kelvin, air_density_kg_per_m3(pressure_pa, kelvin))


def _layer_state(height_m: float) -> tuple[float, float]:
    """Temperature [K] and pressure [Pa] at a geopotential height, layer upon layer from sea level."""
    kelvin, pascal = STANDARD_TEMPERATURE_K, STANDARD_PRESSURE_PA
    tops = [base for base, _ in _LAYERS[1:]] + [math.inf]
    for (base_m, slope), top_m in zip(_LAYERS, tops, strict=True):
        step_m = min(height_m, top_m) - base_m
        pascal *= _pressure_ratio(kelvin, slope, step_m)
        kelvin += slope * step_m
        if height_m <= top_m:
            break
    return kelvin, pascal


def _pressure_ratio(base_k: float, slope_k_per_m: float, step_m: float) -> float:
    hydrostatic = GRAVITY_M_PER_S2 / AIR_GAS_CONSTANT_J_PER_KG_K
    if slope_k_per_m == 0.0:
        return math.exp(-hydrostatic * step_m / base_k)
    return float((base_k / (base_k + slope_k_per_m * step_m)) ** (hydrostatic / slope_k_per_m))
