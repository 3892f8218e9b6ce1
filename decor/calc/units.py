"""The one place where inches, feet, ounces and cubic feet become metres, kilograms and cubic metres, and back.

The factors are exact by definition (NIST Special Publication 811, 2008, appendix B.8).
"""

METRES_PER_INCH = 0.0254
METRES_PER_FOOT = 0.3048
CUBIC_METRES_PER_CUBIC_FOOT = 0.028316846592
KILOGRAMS_PER_POUND = 0.45359237
PASCALS_PER_PSI = 6894.757293168
PASCALS_PER_BAR = 1.0e5
ZERO_CELSIUS_K = 273.15


def inches_to_m(inches: float) -> float:
    """Inches to metres.

    >>> round(inches_to_m(11), 4)
    0.2794
    """
    return inches * METRES_PER_INCH


def m_to_inches(metres: float) -> float:
    """Metres to inches."""
    return metres / METRES_PER_INCH


def feet_to_m(feet: float) -> float:
    """Feet to metres.

    >>> round(feet_to_m(10), 3)
    3.048
    """
    return feet * METRES_PER_FOOT


def m_to_feet(metres: float) -> float:
    """Metres to feet."""
    return metres / METRES_PER_FOOT


def cubic_feet_to_m3(cubic_feet: float) -> float:
    """Cubic feet to cubic metres."""
    return cubic_feet * CUBIC_METRES_PER_CUBIC_FOOT


def m3_to_cubic_feet(cubic_metres: float) -> float:
    """Cubic metres to cubic feet.

    >>> round(m3_to_cubic_feet(1.0), 4)
    35.3147
    """
    return cubic_metres / CUBIC_METRES_PER_CUBIC_FOOT


def pounds_to_kg(pounds: float) -> float:
    """Pounds to kilograms."""
    return pounds * KILOGRAMS_PER_POUND


def psi_to_pa(psi: float) -> float:
    """Pounds per square inch to pascals."""
    return psi * PASCALS_PER_PSI


def bar_to_pa(bar: float) -> float:
    """Bar to pascals."""
    return bar * PASCALS_PER_BAR


def celsius_to_k(celsius: float) -> float:
    """Degrees Celsius to kelvin.

    >>> celsius_to_k(15.0)
    288.15
    """
    return celsius + ZERO_CELSIUS_K
