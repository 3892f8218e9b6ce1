"""A picture's colour in each cell of a lattice: area means for photographs, the commonest colour
for flat art.

A cell's share of the picture is the box of one pitch by one row pitch round its centre; the
picture is stretched over the lattice's whole box.
"""

import numpy as np
import numpy.typing as npt

from decor.calc.picture.colour import linear_to_srgb, srgb_to_linear
from decor.calc.picture.lattice import Lattice
from decor.calc.picture.matching import nearest

Pixels = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float64]

_LINEAR_OF_CODE = srgb_to_linear(np.arange(256) / 255.0).astype(np.float32)

# Flat art is told from photographs by how few colours hold most of it. Limits found by trying
# drawings (also as JPEG) against photographs; common practice, no source.
_FLAT_COLOURS = 24
_FLAT_SHARE = 0.85
_FLAT_PROBE_PIXELS = 200_000
_COARSE_COLOURS = 1 << 15
_SUBSAMPLES = 8
"""Looks per cell and direction in flat art (the common 8 × 8)."""


def sample(image_srgb: npt.ArrayLike, lattice: Lattice) -> Floats:
    """Mean colour of each cell, averaged by exact area in linear light.

    Args:
        image_srgb: (h, w, 3) uint8, any size from 1 × 1; stretched over the lattice's box.
        lattice: where the cells stand.

    Returns:
        (rows·columns, 3) sRGB 0…1, row by row.

    Raises:
        ValueError: ``image_srgb`` is not such an array.

    >>> half = np.array([[[0, 0, 0], [255, 255, 255]]], dtype=np.uint8)
    >>> sample(half, Lattice("square", 1, 1, 0.1)).round(4).tolist()
    [[0.7354, 0.7354, 0.7354]]
    """
    pixels = _checked_image(image_srgb)
    height, width = pixels.shape[:2]
    top = np.arange(lattice.rows + 1) * (height / lattice.rows)
    light = np.empty((lattice.rows, lattice.columns, 3))
    for row in range(lattice.rows):
        strip = _strip_mean(pixels, top[row], min(top[row + 1], float(height)))
        edges = _column_edges(lattice, row, width)
        light[row] = np.diff(_integral_at(strip, edges), axis=0) / np.diff(edges)[:, None]
    # Differences of sums can leave 0…1 by a rounding.
    return linear_to_srgb(np.clip(light, 0.0, 1.0).reshape(-1, 3))


def _column_edges(lattice: Lattice, row: int, width: int) -> Floats:
    """Left edges of the row's cells and the last right edge, in pixels."""
    shift = lattice.row_shift_pitches(row)
    edges = (np.arange(lattice.columns + 1) + shift) * (width / lattice.width_pitches)
    return np.asarray(np.minimum(edges, float(width)))


def _strip_mean(pixels: Pixels, start: float, stop: float) -> Floats:
    """Linear light of a strip of pixel rows with fractional edges, averaged downwards: (w, 3)."""
    first, last = int(start), min(int(np.ceil(stop)), pixels.shape[0])
    weights = np.ones(last - first, dtype=np.float32)
    weights[0] -= start - first
    weights[-1] -= last - stop
    light = _LINEAR_OF_CODE[pixels[first:last]].reshape(last - first, -1)
    return np.asarray((weights @ light).reshape(-1, 3) / (stop - start), dtype=np.float64)


def _integral_at(strip: Floats, edges: Floats) -> Floats:
    """The running sum of the strip's pixels up to each fractional edge: (edges, 3)."""
    sums = np.zeros((len(strip) + 1, 3))
    np.cumsum(strip, axis=0, out=sums[1:])
    whole = np.minimum(edges.astype(np.int64), len(strip) - 1)
    return np.asarray(sums[whole] + (edges - whole)[:, None] * strip[whole])


def is_flat_art(image_srgb: npt.ArrayLike) -> bool:
    """Whether a few colours hold nearly all of the picture, as in logos, flags and lettering.

    Args:
        image_srgb: (h, w, 3) uint8.

    Raises:
        ValueError: ``image_srgb`` is not such an array.
    """
    pixels = _checked_image(image_srgb)
    step = max(1, int(np.sqrt(pixels.shape[0] * pixels.shape[1] / _FLAT_PROBE_PIXELS)))
    counts = np.bincount(_coarse(pixels[::step, ::step]).ravel(), minlength=_COARSE_COLOURS)
    commonest = np.sort(counts)[-_FLAT_COLOURS:]
    return bool(commonest.sum() >= _FLAT_SHARE * counts.sum())


def sample_flat(image_srgb: npt.ArrayLike, lattice: Lattice, palette_srgb: npt.ArrayLike) -> Floats:
    """The colour that fills most of each cell, for flat art: no in-between colours at edges.

    Each cell is looked at in 8 × 8 places, each place takes its nearest palette colour, and the
    cell takes the colour that most places took. It is given as the picture's own commonest shade
    of that colour, so that a match limited by stock still knows what was meant.

    Args:
        image_srgb: (h, w, 3) uint8.
        lattice: where the cells stand.
        palette_srgb: (p, 3) sRGB 0…1 that the cells will be matched to.

    Returns:
        (rows·columns, 3) sRGB 0…1, row by row; each is nearest to its cell's palette colour.

    Raises:
        ValueError: an argument is not as described.
    """
    looks = _looks(_checked_image(image_srgb), lattice)
    codes = _coarse(looks)
    counts = np.bincount(codes.ravel(), minlength=_COARSE_COLOURS)
    used = np.flatnonzero(counts)
    shades = _sums_by_code(looks, codes)[used] / counts[used, None] / 255.0
    numbers = np.zeros(_COARSE_COLOURS, dtype=np.intp)
    numbers[used] = nearest(shades, palette_srgb)
    palette_size = int(numbers.max()) + 1
    own = np.zeros((palette_size, 3))
    rising = np.argsort(counts[used], kind="stable")
    own[numbers[used[rising]]] = shades[rising]  # the last one written is the commonest
    votes = numbers[codes].reshape(lattice.cells, -1)
    return own[_commonest(votes, palette_size)]


def _looks(pixels: Pixels, lattice: Lattice) -> Pixels:
    """(rows, columns, 8, 8, 3) pixels spread evenly over each cell."""
    height, width = pixels.shape[:2]
    step = (np.arange(_SUBSAMPLES) + 0.5) / _SUBSAMPLES
    down = (np.arange(lattice.rows)[:, None] + step) * (height / lattice.rows)
    seen = np.empty((lattice.rows, lattice.columns, _SUBSAMPLES, _SUBSAMPLES, 3), dtype=np.uint8)
    for row in range(lattice.rows):
        columns = np.arange(lattice.columns)[:, None] + step + lattice.row_shift_pitches(row)
        across = (columns * (width / lattice.width_pitches)).astype(np.intp)
        seen[row] = pixels[down[row].astype(np.intp)][:, across].transpose(1, 0, 2, 3)
    return seen


def _commonest(votes: npt.NDArray[np.intp], choices: int) -> npt.NDArray[np.intp]:
    """The commonest number of each row of votes; the lower one where two are level."""
    won = np.empty(len(votes), dtype=np.intp)
    block = 4096  # keeps the tally small for a palette of any size
    for start in range(0, len(votes), block):
        part = votes[start : start + block]
        slots = (np.arange(len(part))[:, None] * choices + part).ravel()
        tally = np.bincount(slots, minlength=len(part) * choices)
        won[start : start + block] = tally.reshape(len(part), choices).argmax(axis=1)
    return won


def sample_for(image_srgb: npt.ArrayLike, lattice: Lattice, palette_srgb: npt.ArrayLike) -> Floats:
    """`sample_flat` for flat art, `sample` for everything else; same arguments and answer."""
    if is_flat_art(image_srgb):
        return sample_flat(image_srgb, lattice, palette_srgb)
    return sample(image_srgb, lattice)


def _coarse(pixels: Pixels) -> npt.NDArray[np.int64]:
    """A number for each pixel's colour at 5 bits a channel."""
    red, green, blue = (pixels[..., channel].astype(np.int64) >> 3 for channel in range(3))
    return (red << 10) | (green << 5) | blue


def _sums_by_code(pixels: Pixels, codes: npt.NDArray[np.int64]) -> Floats:
    flat = codes.ravel()
    sums = [np.bincount(flat, weights=pixels[..., channel].ravel(), minlength=_COARSE_COLOURS) for channel in range(3)]
    return np.stack(sums, axis=1)


def _checked_image(image_srgb: npt.ArrayLike) -> Pixels:
    pixels = np.asarray(image_srgb)
    if pixels.dtype != np.uint8 or pixels.ndim != 3 or pixels.shape[2] != 3:
        raise ValueError(f"image_srgb: must be height × width × 3 bytes (uint8), not {pixels.shape} of {pixels.dtype}")
    if not pixels.size:
        raise ValueError("image_srgb: has no pixels")
    return pixels
