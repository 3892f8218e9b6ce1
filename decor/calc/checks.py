"""Bad numbers are refused with a ValueError that names the argument."""

from __future__ import annotations

import math


def check_above_zero(name: str, value: float) -> None:
    """ValueError unless it is a finite number above 0."""
    if not (math.isfinite(value) and value > 0):
        raise ValueError(f"{name} must be above 0")


def check_not_negative(name: str, value: float) -> None:
    """ValueError unless it is a finite number, 0 or more."""
    if not (math.isfinite(value) and value >= 0):
        raise ValueError(f"{name} must be 0 or more")


def check_whole(name: str, value: float, least: int) -> None:
    """ValueError unless it is a whole number and not below the least."""
    if isinstance(value, bool) or not math.isfinite(value) or int(value) != value or value < least:
        raise ValueError(f"{name} must be a whole number, {least} or more")
