"""Which cells of a panel's rectangle are used: round, heart, arch, letters, what a picture's solid parts cover.

A cell is used where its centre lies inside the shape, or, for masks, where at least half of it is covered. Shapes
fill the rectangle. On staggered lattices they stand about the middle of the even rows, and the last cell of the odd
rows stays out: so every row is the mirror image of itself.
"""

import numpy as np
import numpy.typing as npt

from decor.calc.picture.lattice import Lattice
from decor.calc.picture.sampling import sample_cover

Marks = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]

KINDS = ("whole", "round", "heart", "arch", "letters", "see-through")
HALF = 0.5

# The heart is (x² + y² − 1)³ = x² y³ (a plain sextic of school books), between these ends of it.
_HEART_WIDE, _HEART_TOP, _HEART_FOOT = 1.139029, 1.236066, -1.0
_EDGE = 1e-9
"""Centres on the shape's own edge stay out, whatever the rounding."""


def outline(kind: str, lattice: Lattice, *, mask: npt.ArrayLike | None = None) -> Marks:
    """The cells that are used.

    Args:
        kind: ``whole``, ``round`` (a circle, or an oval where the panel is not square), ``heart``, ``arch`` (straight
            below, half round above), ``letters`` or ``see-through``.
        lattice: the panel's cells.
        mask: for ``letters`` (h, w) bool, drawn as large as fits, in its own shape, in the middle; for ``see-through``
            (h, w) uint8 or bool of the picture's solid parts, stretched over the lattice's box as the picture is.

    Returns:
        (rows, columns) bool.

    Raises:
        ValueError: ``kind`` is not known, ``mask`` is missing or empty, or no cell would be used.

    >>> outline("round", Lattice("square", 4, 4, 0.1)).astype(int).tolist()
    [[0, 1, 1, 0], [1, 1, 1, 1], [1, 1, 1, 1], [0, 1, 1, 0]]
    """
    if kind not in KINDS:
        raise ValueError(f"kind: an outline is one of {', '.join(KINDS)}, not {kind!r}")
    if kind == "whole":
        used = np.ones((lattice.rows, lattice.columns), dtype=bool)
    elif kind in ("letters", "see-through"):
        cover = _checked_mask(kind, mask)
        used = _letters(lattice, cover) if kind == "letters" else _covered(lattice, cover)
    else:
        used = {"round": _round, "heart": _heart, "arch": _arch}[kind](lattice)
    if not used.any():
        raise ValueError("This panel has too few cells for this outline; make it larger.")
    return used


def _centres(lattice: Lattice) -> tuple[Floats, Floats]:
    """Each cell's place in the box of the even rows: x −1…1 from left to right, y 1…−1 from top to bottom."""
    shift = 0.5 * (np.arange(lattice.rows) % 2) if lattice.staggered else np.zeros(lattice.rows)
    x = (np.arange(lattice.columns) + 0.5 + shift[:, None]) * 2.0 / lattice.columns - 1.0
    y = 1.0 - (np.arange(lattice.rows) + 0.5) * 2.0 / lattice.rows
    return x, np.broadcast_to(y[:, None], x.shape)


def _round(lattice: Lattice) -> Marks:
    x, y = _centres(lattice)
    return np.asarray(x**2 + y**2 < 1.0 - _EDGE)


def _heart(lattice: Lattice) -> Marks:
    """Its point is a cusp, thinner than any cell: it hangs as far below the panel as lets the last row have a cell."""
    used = _heart_hanging(lattice, 0.0)
    for rows_below in np.arange(0.5, lattice.rows / 2.0, 0.5):
        if used[-1].any():
            break
        used = _heart_hanging(lattice, float(rows_below))
    return used


def _heart_hanging(lattice: Lattice, rows_below: float) -> Marks:
    x, y = _centres(lattice)
    x = x * _HEART_WIDE
    share = rows_below / (lattice.rows + rows_below)  # of the whole shape's height
    y = _HEART_FOOT + (share + (1.0 - share) * (y + 1.0) / 2.0) * (_HEART_TOP - _HEART_FOOT)
    return np.asarray((x**2 + y**2 - 1.0) ** 3 - x**2 * y**3 < -_EDGE)


def _arch(lattice: Lattice) -> Marks:
    """Half round above in true measures, as far as the panel is high enough; else half an oval of its height."""
    x, y = _centres(lattice)
    radius_m = lattice.columns * lattice.pitch_m / 2.0
    share = min(1.0, radius_m / lattice.height_m)  # of the height that the round part takes
    above = ((y + 1.0) / 2.0 - (1.0 - share)) / share
    return np.asarray((np.abs(x) < 1.0 - _EDGE) & (x**2 + np.maximum(above, 0.0) ** 2 < 1.0 - _EDGE))


def _letters(lattice: Lattice, mask: npt.NDArray[np.uint8]) -> Marks:
    """Padded to the box's own shape, so that stretching it over the box leaves the letters' shape alone."""
    high, wide = mask.shape
    box = lattice.width_m / lattice.height_m
    fine = 1 + 512 // max(high, wide)  # padding by whole pixels would pull small letters out of shape
    mask = np.kron(mask, np.ones((fine, fine), dtype=np.uint8))
    high, wide = mask.shape
    full_high, full_wide = max(high, round(wide / box)), max(wide, round(high * box))
    padded = np.zeros((full_high, full_wide), dtype=np.uint8)
    top, left = (full_high - high) // 2, (full_wide - wide) // 2
    padded[top : top + high, left : left + wide] = mask
    return _covered(lattice, padded)


def _covered(lattice: Lattice, mask: npt.NDArray[np.uint8]) -> Marks:
    return np.asarray(sample_cover(mask, lattice) >= HALF).reshape(lattice.rows, lattice.columns)


def _checked_mask(kind: str, mask: npt.ArrayLike | None) -> npt.NDArray[np.uint8]:
    if mask is None:
        raise ValueError(f"mask: {kind} needs one")
    cover = np.asarray(mask)
    if cover.ndim != 2 or not cover.size or cover.dtype not in (np.bool_, np.uint8):
        raise ValueError(f"mask: must be height × width, bool or uint8, not {cover.shape} of {cover.dtype}")
    return cover.astype(np.uint8) * 255 if cover.dtype == np.bool_ else cover
