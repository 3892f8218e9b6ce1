"""What a foil shape's packet says, held against what helium can do."""

from decor.calc.physics.atmosphere import standard_air
from decor.calc.physics.gas import helium_lift_kg_per_m3
from inventory.models import Foil

GRAMS_PER_LITRE = helium_lift_kg_per_m3(standard_air())
"""At sea level and 15 °C, where it lifts about as much as it ever does at a party. kg per m³ are grams per litre."""


def most_lift_g(gas_volume_l: float) -> float:
    """The helium's own lift [g], before the foil's weight is taken off.

    >>> round(most_lift_g(14), 1)
    14.8
    """
    return gas_volume_l * GRAMS_PER_LITRE


def lift_doubt(foil: Foil) -> str:
    """Why the packet's lift can't be right, in words; nothing where it may be."""
    if not foil.gas_volume_l or not foil.lift_g:
        return ""
    most = most_lift_g(foil.gas_volume_l)
    if foil.lift_g <= most:
        return ""
    return (
        f"{foil.gas_volume_l:g} litres of helium lift {most:.1f} g at most, and the foil itself weighs too: "
        f"look at its packet again."
    )
