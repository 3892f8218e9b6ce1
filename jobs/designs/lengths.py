"""Sizes as people write them: metres, feet, or cells of a sheet."""

from django import forms

from decor.calc.units import feet_to_m, m_to_feet, m_to_inches

UNITS = [("m", "metres"), ("ft", "feet"), ("cells", "cells")]
LENGTHS = UNITS[:2]
MOST = 10_000_000
"""The largest size in any unit, so that it can be reckoned with; what a kind can be built at is its own affair."""
SHORT = {"m": "m", "ft": "ft"}


def unit_of(units: str) -> str:
    return "ft" if units == "imperial" else "m"


def to_m(value: float, unit: str) -> float:
    return feet_to_m(value) if unit == "ft" else value


def figure(value: float) -> str:
    """3.0 -> 3, 2.55 -> 2.55"""
    return f"{value:.2f}".rstrip("0").rstrip(".")


def size_words(width_m: float, height_m: float, units: str) -> str:
    """3.3 × 2.6 m, in the studio's own unit."""
    if units == "imperial":
        return f"{m_to_feet(width_m):.1f} × {m_to_feet(height_m):.1f} ft"
    return f"{width_m:.1f} × {height_m:.1f} m"


def length_words(length_m: float, units: str) -> str:
    return f"{m_to_feet(length_m):.1f} ft" if units == "imperial" else f"{figure(length_m)} m"


def diameter_words(diameter_m: float, units: str) -> str:
    return f"{figure(m_to_inches(diameter_m))} in" if units == "imperial" else f"{diameter_m * 1000:.0f} mm"


class SizeField(forms.FloatField):
    """A size above nothing; what is refused is said in words."""

    def __init__(self, **kwargs: object) -> None:
        kwargs.setdefault("error_messages", {"invalid": "Write a number, like 3 or 2.5."})
        super().__init__(**kwargs)

    def validate(self, value: float | None) -> None:
        super().validate(value)
        if value is not None and value <= 0:
            raise forms.ValidationError("This must be more than 0.")
        if value is not None and value > MOST:
            raise forms.ValidationError(f"That is too large; the most is {MOST:,}.")
