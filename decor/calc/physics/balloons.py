"""What a balloon holds, what it lifts, and which size is bought for which diameter."""

from __future__ import annotations

import math
from dataclasses import dataclass

from decor.calc.checks import check_above_zero, check_not_negative
from decor.calc.physics.atmosphere import Air
from decor.calc.physics.gas import helium_lift_kg_per_m3
from decor.calc.units import inches_to_m

USABLE_SHARE_OF_NOMINAL = 0.95
"""A balloon is sized to at most this share of its nominal size (from memory, no source)."""


@dataclass(frozen=True)
class NominalSize:
    """One size that balloons are sold in.

    `mass_kg` is one empty balloon; `float_hours` is how long it floats on untreated helium, 0 where it does not
    float usefully.
    """

    nominal_in: float
    shape: str
    mass_kg: float
    float_hours: float

    def __post_init__(self) -> None:
        for name in ("nominal_in", "mass_kg"):
            check_above_zero(name, getattr(self, name))
        check_not_negative("float_hours", self.float_hours)
        if self.shape not in ("round", "double-ended", "long"):
            raise ValueError("shape must be round, double-ended or long")

    @property
    def largest_diameter_m(self) -> float:
        """The largest diameter that this size is inflated to [m]."""
        return inches_to_m(self.nominal_in) * USABLE_SHARE_OF_NOMINAL


DEFAULT_SIZES: tuple[NominalSize, ...] = (
    NominalSize(5, "round", 0.0010, 0.0),
    NominalSize(9, "round", 0.0021, 10.0),
    NominalSize(11, "round", 0.0030, 16.0),
    NominalSize(12, "round", 0.0033, 18.0),
    NominalSize(16, "round", 0.0065, 30.0),
    NominalSize(24, "round", 0.018, 50.0),
    NominalSize(36, "round", 0.042, 80.0),
    NominalSize(5, "double-ended", 0.0012, 0.0),
    NominalSize(6, "double-ended", 0.0016, 0.0),
    NominalSize(12, "double-ended", 0.0038, 14.0),
)
"""Masses and float times from memory, no source: each studio puts its own in their place."""


def volume_m3(diameter_m: float, elongation: float = 1.0) -> float:
    """Volume of a balloon sized to a diameter, as a spheroid of revolution: π/6 · d² · L [m³].

    `diameter_m` [m] is the width that the sizer checks; `elongation` is L/d, from 1.0 (well under-inflated) to
    about 1.25 (full, pear-like; common practice, no source). Raises ValueError on a negative diameter or an
    elongation of 0 or less.

    >>> round(volume_m3(0.2794) * 1000, 4)
    11.4203
    """
    check_not_negative("diameter_m", diameter_m)
    check_above_zero("elongation", elongation)
    return math.pi / 6.0 * diameter_m**3 * elongation


def net_lift_kg(*, diameter_m: float, latex_mass_kg: float, air: Air, elongation: float = 1.0) -> float:
    """What one helium balloon lifts beside itself [kg]; negative when it is too heavy to float.

    The helium is taken at the pressure and temperature of the air round it: the skin's few kPa are left out,
    which overstates the lift by about 0.3 %.

    >>> from decor.calc.physics.atmosphere import standard_air
    >>> lift = net_lift_kg(diameter_m=0.2794, latex_mass_kg=0.003, air=standard_air(0, 293.15))
    >>> round(lift * 1000, 1)
    8.9
    """
    check_not_negative("latex_mass_kg", latex_mass_kg)
    return volume_m3(diameter_m, elongation) * helium_lift_kg_per_m3(air) - latex_mass_kg


def nominal_size(
    sized_diameter_m: float, shape: str = "round", sizes: tuple[NominalSize, ...] = DEFAULT_SIZES
) -> NominalSize:
    """The smallest size on sale whose 95 % reaches the sized diameter (from memory, no source).

    Raises ValueError naming `sized_diameter_m` when none does, or `shape` when none of that shape is known.

    >>> nominal_size(0.119).nominal_in
    5
    """
    check_above_zero("sized_diameter_m", sized_diameter_m)
    alike = sorted((size for size in sizes if size.shape == shape), key=lambda size: size.nominal_in)
    if not alike:
        raise ValueError(f"shape: no sizes of {shape} balloons are known")
    for size in alike:
        if size.largest_diameter_m >= sized_diameter_m:
            return size
    raise ValueError(
        f"sized_diameter_m must be at most {alike[-1].largest_diameter_m:.3f} m: "
        f"no {shape} balloon is sold larger than {alike[-1].nominal_in:g} in"
    )


def size_named(nominal_in: float, shape: str, sizes: tuple[NominalSize, ...] = DEFAULT_SIZES) -> NominalSize:
    """The size with that name and shape; ValueError naming `nominal_in` when there is none."""
    for size in sizes:
        if size.shape == shape and math.isclose(size.nominal_in, nominal_in):
            return size
    raise ValueError(f"nominal_in: no {nominal_in:g} in {shape} balloon is known")


def size_checked(
    nominal_in: float | None, sized_diameter_m: float, shape: str, sizes: tuple[NominalSize, ...]
) -> NominalSize:
    """The named size, or the smallest that serves where none is named.

    Raises ValueError naming `sized_diameter_m` where the balloons would have to be blown up too far.
    """
    if nominal_in is None:
        return nominal_size(sized_diameter_m, shape, sizes)
    size = size_named(nominal_in, shape, sizes)
    if size.largest_diameter_m < sized_diameter_m:
        raise ValueError(
            f"sized_diameter_m must be at most {size.largest_diameter_m:.3f} m for a {nominal_in:g} in balloon"
        )
    return size
