"""The one place where inches, feet, bar and degrees Celsius become metres, pascals and kelvin, and back.

The factors are exact by definition (NIST Special Publication 811, 2008, appendix B.8).
"""

METRES_PER_INCH = 0.0254
METRES_PER_FOOT = 0.3048
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


def bar_to_pa(bar: float) -> float:
    """Bar to pascals."""
    return bar * PASCALS_PER_BAR


def celsius_to_k(celsius: float) -> float:
    """Degrees Celsius to kelvin.

    >>> celsius_to_k(15.0)
    288.15
    """
    return celsius + ZERO_CELSIUS_K
