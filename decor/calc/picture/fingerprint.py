"""A panel found again by its picture: a few dozen mean colours, compared as the eye would."""

import numpy as np
import numpy.typing as npt

from decor.calc.picture.chart import EMPTY, Chart
from decor.calc.picture.colour import checked_srgb, delta_e_2000, linear_to_srgb, srgb_to_lab, srgb_to_linear
from decor.calc.picture.lattice import Lattice
from decor.calc.picture.sampling import sample

Floats = npt.NDArray[np.float64]

SIDE = 8
"""Mean colours across and down: enough to tell panels apart, too few for another crop's edges to matter."""
_GROUND = np.array([0.92, 0.91, 0.88])
"""What shows where a cell is empty: a light wall."""


def of_picture(image_srgb: npt.ArrayLike) -> list[list[float]]:
    """The fingerprint of a picture, stretched to a square.

    Args:
        image_srgb: (h, w, 3) uint8.

    Returns:
        64 times L, a, b, rounded to 0.1, row by row.

    Raises:
        ValueError: ``image_srgb`` is not such an array.
    """
    return _plain(srgb_to_lab(sample(image_srgb, Lattice("square", SIDE, SIDE, 0.1))))


def of_chart(chart: Chart, palette_srgb: npt.ArrayLike) -> list[list[float]]:
    """The fingerprint of a chart in these colours, (p, 3) sRGB 0…1; empty cells count as a light wall.

    Raises:
        ValueError: ``palette_srgb`` has fewer colours than the chart uses.
    """
    palette = checked_srgb("palette_srgb", np.asarray(palette_srgb, dtype=np.float64).reshape(-1, 3))
    if int(chart.cells.max()) >= len(palette):
        raise ValueError(f"palette_srgb: has {len(palette)} colours, the chart uses number {chart.cells.max()}")
    shown = np.where((chart.cells == EMPTY)[..., None], _GROUND, palette[np.maximum(chart.cells, 0)])
    light = srgb_to_linear(shown)
    down, across = _shares(chart.lattice.rows), _shares(chart.lattice.columns)
    means = np.einsum("ir,jc,rck->ijk", down, across, light)
    return _plain(srgb_to_lab(linear_to_srgb(np.clip(means, 0.0, 1.0))).reshape(-1, 3))


def unlikeness(one: npt.ArrayLike, other: npt.ArrayLike) -> float:
    """Mean CIEDE2000 of two fingerprints: below about 6 the same picture, above 20 another one (tried on open
    pictures, no source).

    Raises:
        ValueError: an argument is no fingerprint.
    """
    pair = []
    for name, given in (("one", one), ("other", other)):
        lab = np.asarray(given, dtype=np.float64)
        if lab.shape != (SIDE * SIDE, 3):
            raise ValueError(f"{name}: is no fingerprint, its shape is {lab.shape}")
        pair.append(lab)
    return float(delta_e_2000(*pair).mean())


def _shares(cells: int) -> Floats:
    """(8, cells) how much of each cell lies in each of the eight parts, rows adding up to 1."""
    edges = np.arange(SIDE + 1) * (cells / SIDE)
    at = np.arange(cells)
    covered = np.minimum(edges[1:, None], at + 1) - np.maximum(edges[:-1, None], at)
    covered = np.maximum(covered, 0.0)
    return np.asarray(covered / covered.sum(axis=1, keepdims=True))


def _plain(lab: Floats) -> list[list[float]]:
    return [[round(float(part), 1) for part in colour] for colour in lab]
