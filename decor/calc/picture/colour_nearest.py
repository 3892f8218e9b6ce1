"""Each colour's nearest of a list by CIEDE2000, without working out the differences from all of them.

A bound that takes a handful of operations rules most of the list out; what is left is worked out in full, so that
the answer is that of the whole table. No difference squared is less than ΔL² / (1 + 0.015 |L̄ - 50|)² plus
k (Δa² + Δb²) / S², because, in the terms of Sharma, Wu & Dalal 2005:

- x² / √(20 + x²) ≤ |x| in S_L;
- ΔC'² + ΔH'² = Δa'² + Δb'², and a' is never shorter than a;
- S_H ≤ S_C, as T ≤ 1.93; S bounds S_C from above with the longest chroma that a colour can come to in any pair;
- 2 |ΔC' ΔH'| ≤ ΔC'² + ΔH'², so that R_T takes away at most half its own size of both: k = 1 - |R_T| / 2, with the
  largest R_T that colours of such hue and chroma can have.
"""

import numpy as np
import numpy.typing as npt

from decor.calc.picture.colour import delta_e_2000_pairs, delta_e_2000_table

Floats = npt.NDArray[np.float64]
Singles = npt.NDArray[np.float32]
Numbers = npt.NDArray[np.int64]

_FEW_COLUMNS = 12
"""Up to so many the whole table is no dearer."""
_MOST_ENTRIES, _BLOCK_ENTRIES = 640_000, 40_000
"""Bounds that are kept at once, and of them those that are worked out at once, in the processor's cache."""
_SECTOR, _RING = 15.0, 20.0
"""Degrees of hue and units of chroma in a class for which R_T is bounded."""
_SECTORS, _RINGS = 24, 8
_OPEN_RING = 1_000.0
_LONGEST = 1.5
"""What a is stretched by at most."""
_HUE_SHIFT = float(np.rad2deg(np.arcsin((_LONGEST**0.5 - 1.0) / (_LONGEST**0.5 + 1.0)))) + 0.01
"""How far the hue is at most, at any stretch, from the one at the root of the longest."""
_SLACK = np.float32(0.001)
_SLACK_SQUARED = np.float32(0.02)
"""What single precision can be off: in a difference, and in the bound of its square."""


def nearest_2000(lab_a: Floats, lab_b: Floats) -> tuple[Numbers, Singles]:
    """The least of each row of `delta_e_2000_table`.

    Args:
        lab_a: (n, 3) L, a, b.
        lab_b: (p, 3) L, a, b, p from 1.

    Returns:
        (n,) numbers 0…p-1, the lower one where two are level, and (n,) differences; both as the table has them.

    >>> nearest_2000(np.array([[50.0, 0, 0], [90.0, 5, 0]]), np.array([[100.0, 0, 0], [40.0, 0, 0]]))[0].tolist()
    [1, 0]
    """
    if len(lab_b) <= _FEW_COLUMNS:
        table = delta_e_2000_table(lab_a, lab_b)
        best = table.argmin(axis=1)
        return best, table[np.arange(len(table)), best]
    numbers, differences = np.empty(len(lab_a), dtype=np.int64), np.empty(len(lab_a), dtype=np.float32)
    across, rows = _Bounds(lab_b), max(1, _MOST_ENTRIES // len(lab_b))
    for start in range(0, len(lab_a), rows):
        part = slice(start, start + rows)
        row, column = _left(lab_a[part], lab_b, across)
        numbers[part], differences[part] = _least(row, column, delta_e_2000_pairs(lab_a[part], lab_b, row, column))
    return numbers, differences


def _left(lab_a: Floats, lab_b: Floats, across: "_Bounds") -> tuple[Numbers, Numbers]:
    """The places, row by row, whose bound is no more than what one likely colour comes to."""
    count, columns = len(lab_a), len(lab_b)
    down, rows = _Bounds(lab_a), max(1, _BLOCK_ENTRIES // columns)
    kinds, losses = down.classes(), across.losses()
    likely, bounds = np.empty(count, dtype=np.int64), np.empty((count, columns), dtype=np.float32)
    for start in range(0, count, rows):
        block = slice(start, start + rows)
        bounds[block] = found = down.of_squares(block, across, losses[kinds[block]])
        likely[block] = found.argmin(axis=1)
    most = (delta_e_2000_pairs(lab_a, lab_b, np.arange(count), likely) + _SLACK) ** 2 + _SLACK_SQUARED
    places = np.flatnonzero(bounds <= most[:, None])
    row = places // columns
    return row, places - row * columns


class _Bounds:
    """A list of colours, with what the bound needs of each."""

    def __init__(self, lab: Floats) -> None:
        lightness, a, b = lab.T.astype(np.float32)
        self.lightness = lightness
        self.from_50 = np.float32(0.0075) * (lightness - np.float32(50.0))
        # a is stretched less the more chroma a pair has on average, and that is at least half of its own.
        self.chroma = np.hypot(a * (1.5 - 0.5 * _share(np.hypot(a, b) * np.float32(0.5))), b)
        self.hue = np.rad2deg(np.arctan2(b, a * np.float32(_LONGEST**0.5))) % 360.0
        self.scale = np.float32(0.5) + np.float32(0.0225) * self.chroma
        one, square = np.ones_like(a), a * a + b * b
        # (a1 - a2)² + (b1 - b2)² as one product of matrices
        self.first = np.stack([a, b, square, one], axis=1)
        self.second = np.stack([-2.0 * a, -2.0 * b, one, square])

    def classes(self) -> Numbers:
        """(n,) each colour's class of hue and chroma, a row of `losses`."""
        sector = np.minimum(self.hue / _SECTOR, _SECTORS - 1).astype(np.int64)
        return np.asarray(sector * _RINGS + np.minimum(self.chroma / _RING, _RINGS - 1).astype(np.int64))

    def losses(self) -> Singles:
        """(classes, p) the most that |R_T| / 2 can be between a colour of a class and one of these."""
        middle = (np.arange(_SECTORS)[:, None] + 0.5) * _SECTOR
        step, spread = _turned(self.hue - middle), _SECTOR / 2.0 + 2.0 * _HUE_SHIFT
        off = np.maximum(np.abs(_turned(middle + step / 2.0 - 275.0)) - spread / 2.0, 0.0)
        # Hues that may be opposite each other have their mean on either side.
        off[np.abs(step) + spread >= 180.0] = 0.0
        blue = np.sin(np.deg2rad(60.0) * np.exp(-((off / 25.0) ** 2)))
        most = np.append(np.arange(1, _RINGS) * _RING, _OPEN_RING)[:, None]
        both = blue[:, None] * _share((most + self.chroma) / 2.0)
        return np.asarray(both.reshape(_SECTORS * _RINGS, -1), dtype=np.float32)

    def of_squares(self, block: slice, other: "_Bounds", losses: Singles) -> Singles:
        """(rows, p) what no squared difference is less than; ``losses`` (rows, p) as `losses` has them."""
        scale = self.scale[block, None] + other.scale
        scale *= scale
        around = self.first[block] @ other.second
        around /= scale
        around -= around * losses
        scale = self.from_50[block, None] + other.from_50
        np.abs(scale, out=scale)
        scale += np.float32(1.0)
        bounds: Singles = self.lightness[block, None] - other.lightness
        bounds /= scale
        bounds *= bounds
        bounds += around
        return bounds


def _turned(degrees: Floats) -> Floats:
    """The same angles between -180° and 180°."""
    return np.asarray((degrees + 180.0) % 360.0 - 180.0)


def _share(chroma: npt.NDArray[np.floating]) -> npt.NDArray[np.floating]:
    seventh = chroma**7
    return np.asarray(np.sqrt(seventh / (seventh + 25.0**7)))


def _least(row: Numbers, column: Numbers, differences: Singles) -> tuple[Numbers, Singles]:
    """The first least of each row's differences; every row has some."""
    starts = np.flatnonzero(np.diff(row, prepend=-1))
    least = np.minimum.reduceat(differences, starts)
    hits = np.flatnonzero(differences == np.repeat(least, np.diff(starts, append=len(row))))
    firsts = hits[np.flatnonzero(np.diff(row[hits], prepend=-1))]
    return column[firsts], least
