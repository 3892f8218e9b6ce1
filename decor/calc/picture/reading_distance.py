"""From how far a panel reads.

Normal sight tells details apart from one minute of arc (visual acuity 1.0: ISO 8596:2017, the Landolt ring's gap;
the same as 20/20), and letters from five (the ring is five gaps high, as are optotype letters).
"""

import math

ACUITY_ARCMIN = 1.0
"""The smallest detail of normal sight (ISO 8596:2017, acuity 1.0)."""
LETTER_DETAILS = 5
"""A letter's height in details (ISO 8596:2017: the ring is five times its gap)."""
WHOLE_FIELD_DEG = 40.0
"""The angle within which a picture is taken in at one look (common practice, no source)."""


def told_apart_until_m(size_m: float, acuity_arcmin: float = ACUITY_ARCMIN) -> float:
    """Up to where details of this size [m], such as a panel's cells, are told apart [m]; beyond it they merge.

    Raises:
        ValueError: an argument is not above 0.

    >>> round(told_apart_until_m(0.001), 2)
    3.44
    """
    return _above_0("size_m", size_m) / math.tan(math.radians(_above_0("acuity_arcmin", acuity_arcmin) / 60.0))


def letters_read_until_m(height_m: float, acuity_arcmin: float = ACUITY_ARCMIN) -> float:
    """Up to where letters of this height [m] can just be read in good light [m]; for ease, half of it.

    Raises:
        ValueError: an argument is not above 0.

    >>> round(letters_read_until_m(0.00873), 1)
    6.0
    """
    return told_apart_until_m(_above_0("height_m", height_m) / LETTER_DETAILS, acuity_arcmin)


def whole_from_m(width_m: float, height_m: float, field_deg: float = WHOLE_FIELD_DEG) -> float:
    """The distance [m] from which a picture of this size [m] is taken in at one look.

    Raises:
        ValueError: an argument is not above 0, or ``field_deg`` is 180 or more.

    >>> round(whole_from_m(3.0, 2.0), 1)
    4.1
    """
    if not 0.0 < field_deg < 180.0:
        raise ValueError(f"field_deg: must be above 0 and below 180, not {field_deg!r}")
    longer = max(_above_0("width_m", width_m), _above_0("height_m", height_m))
    return longer / 2.0 / math.tan(math.radians(field_deg / 2.0))


def _above_0(name: str, value: float) -> float:
    if not (math.isfinite(value) and value > 0.0):
        raise ValueError(f"{name}: must be above 0, not {value!r}")
    return float(value)
