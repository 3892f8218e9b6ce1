"""Clusters of equal balloons on a line: how they nest, and how wide they stand.

References
----------
Neighbouring layers of n touching balls, turned by π/n, are the two faces of a regular n-gonal antiprism with edge d:
three 0.8165 d, four 0.8409 d, five 0.8507 d.
"""

from __future__ import annotations

import math

from decor.calc.checks import check_not_negative, check_whole


def _check(balloons: int, diameter_m: float) -> None:
    check_whole("balloons", balloons, 2)
    check_not_negative("diameter_m", diameter_m)


def layer_spacing_m(balloons: int, diameter_m: float, squeeze: float = 0.0) -> float:
    """Distance between the centres of neighbouring nested layers [m].

    `balloons` in a cluster, 2 or more (two are the crossed pairs of a tetrahedron); `diameter_m` of each [m];
    `squeeze` is the fraction, 0 to 1, that the balloons' pressing into each other takes off. Height of the
    antiprism: d · √(1 - 1 / (4 cos²(π / 2n))). Raises ValueError naming the argument that is out of range.

    >>> [round(layer_spacing_m(n, 1.0), 4) for n in (3, 4, 5)]
    [0.8165, 0.8409, 0.8507]
    """
    _check(balloons, diameter_m)
    if not 0.0 <= squeeze <= 1.0:
        raise ValueError("squeeze must be between 0 and 1")
    half_step = math.cos(math.pi / (2 * balloons))
    return diameter_m * math.sqrt(1.0 - 1.0 / (4.0 * half_step**2)) * (1.0 - squeeze)


def ring_radius_m(balloons: int, diameter_m: float) -> float:
    """Distance of each balloon's centre from the pole in a cluster of touching balloons [m]: d / (2 sin(π/n)).

    >>> round(ring_radius_m(4, 1.0), 6)
    0.707107
    """
    _check(balloons, diameter_m)
    return diameter_m / (2.0 * math.sin(math.pi / balloons))


def ring_width_m(balloons: int, diameter_m: float) -> float:
    """Outer width of a cluster of touching balloons [m].

    >>> round(ring_width_m(4, 1.0), 6)
    2.414214
    """
    return 2.0 * ring_radius_m(balloons, diameter_m) + diameter_m
