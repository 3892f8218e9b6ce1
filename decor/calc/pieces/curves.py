"""Lengths of the curves that arches follow.

References
----------
Catenary: Encyclopedia of Mathematics, "Catenary", y = a cosh(x/a), arc from the vertex a sinh(x/a). Half-ellipse:
complete elliptic integral of the second kind by the arithmetic-geometric mean (Abramowitz and Stegun, 17.6).
Parabola and circle: closed forms of any handbook.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Literal, get_args

from decor.calc.checks import check_not_negative

Curve = Literal["parabola", "catenary", "half-ellipse", "circular"]
CURVES: tuple[Curve, ...] = get_args(Curve)

_FLAT = 1e-6
"""Below this height over span the series is exact to rounding, and the closed forms begin to lose digits."""
_UPRIGHT = 1e6
"""Above this height over span the curve is two upright lines, to rounding."""


def arc_length_m(kind: str, span_m: float, height_m: float) -> float:
    """Length [m] of a curve over `span_m` at the floor, rising to `height_m` in the middle.

    Kinds: `parabola`, `catenary`, `half-ellipse`, `circular` (a part of a circle; more than half of it where the
    height is above half the span). No height gives the span; no span gives twice the height, and for `circular`
    the whole circle of that height. Raises ValueError naming the argument that is negative or not finite, or an
    unknown `kind`.

    >>> round(arc_length_m("catenary", 4, 2.5), 6)
    6.803993
    >>> round(arc_length_m("circular", 2, 1), 6)
    3.141593
    """
    if kind not in CURVES:
        raise ValueError(f"kind must be one of {', '.join(CURVES)}")
    for name, value in (("span_m", span_m), ("height_m", height_m)):
        check_not_negative(name, value)
    if height_m == 0.0:
        return float(span_m)
    if span_m == 0.0:
        return math.pi * height_m if kind == "circular" else 2.0 * height_m
    return _LENGTHS[kind](float(span_m), float(height_m))


def _parabola(span_m: float, height_m: float) -> float:
    steep = 4.0 * height_m / span_m
    if steep < _FLAT:
        return span_m * (1.0 + steep**2 / 6.0)
    return span_m / 2.0 * (math.hypot(1.0, steep) + math.asinh(steep) / steep)


def _catenary(span_m: float, height_m: float) -> float:
    ratio = height_m / span_m
    if ratio < _FLAT:
        return span_m * (1.0 + 8.0 / 3.0 * ratio**2)
    if ratio > _UPRIGHT:
        return 2.0 * height_m
    half = _catenary_half_angle(2.0 * ratio)
    if half < 1.0:
        return span_m * math.sinh(half) / half
    # From cosh² - sinh² = 1: half the length squared is H (H + 2a), which forgives an error of the angle when tall.
    return 2.0 * math.sqrt(height_m * (height_m + span_m / half))


def _catenary_half_angle(rise: float) -> float:
    """The t with (cosh t - 1) / t = rise, by Newton's method on its logarithm, which is convex in log t."""
    log_t = math.log(2.0 * rise) if rise < 1.0 else math.log(math.log(4.0 * rise) + 2.0)
    target = math.log(rise)
    for _ in range(100):
        t = math.exp(log_t)
        # log(cosh t - 1) = log(2 sinh²(t/2)), written so that it neither overflows nor cancels.
        value = t + 2.0 * math.log(-math.expm1(-t)) - math.log(2.0) - log_t - target
        step = value / (t / math.tanh(t / 2.0) - 1.0)
        log_t -= step
        if abs(step) < 1e-15:
            break
    return math.exp(log_t)


def _half_ellipse(span_m: float, height_m: float) -> float:
    long, short = max(span_m / 2.0, height_m), min(span_m / 2.0, height_m)
    return 2.0 * long * _complete_elliptic_second(math.sqrt(max(0.0, 1.0 - (short / long) ** 2)), short / long)


def _complete_elliptic_second(modulus: float, complement: float) -> float:
    """E of a modulus k, given k and √(1-k²), by the arithmetic-geometric mean."""
    mean, root, gap, weight = 1.0, complement, modulus, 0.5
    total = weight * gap**2
    while abs(gap) > 1e-17 and weight < 1e12:
        mean, root, gap = (mean + root) / 2.0, math.sqrt(mean * root), (mean - root) / 2.0
        weight *= 2.0
        total += weight * gap**2
    return math.pi / (2.0 * mean) * (1.0 - total)


def _circular(span_m: float, height_m: float) -> float:
    ratio = height_m / span_m
    if ratio < _FLAT:
        return span_m * (1.0 + 8.0 / 3.0 * ratio**2)
    radius_m = height_m / 2.0 * (1.0 + (0.5 / ratio) ** 2)
    return 4.0 * radius_m * math.atan2(2.0 * height_m, span_m)


_LENGTHS: dict[str, Callable[[float, float], float]] = {
    "parabola": _parabola,
    "catenary": _catenary,
    "half-ellipse": _half_ellipse,
    "circular": _circular,
}
