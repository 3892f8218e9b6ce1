"""A picture's colour in each cell of a lattice: area means for photographs, the commonest colour
for flat art.

A cell's share of the picture is the box of one pitch by one row pitch round its centre; the
picture is stretched over the lattice's whole box.
"""

import math
from collections.abc import Callable
from typing import Literal

import numpy as np
import numpy.typing as npt

from decor.calc.picture.colour import linear_to_srgb, srgb_to_linear
from decor.calc.picture.lattice import Lattice
from decor.calc.picture.matching import nearest
from decor.calc.picture.strokes import ThinStrokes as ThinStrokes
from decor.calc.picture.strokes import thin_strokes as thin_strokes

Pixels = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float64]

_LINEAR_OF_CODE = srgb_to_linear(np.arange(256) / 255.0).astype(np.float32)
_SHARE_OF_CODE = (np.arange(256) / 255.0).astype(np.float32)

# Flat art is told from photographs by how few colours hold most of it, and by its areas: most neighbours are alike,
# and where they are not they differ plainly. (Few colours alone would take every grey photograph for a drawing.)
# Limits found by trying drawings (also as JPEG) against photographs; common practice, no source.
_FLAT_COLOURS = 24
_FLAT_SHARE = 0.85
_ALIKE_CODES = 2
_PLAIN_CODES = 24
_FLAT_ALIKE = ((0.8, 0.1), (0.6, 0.4))
"""At least so many neighbours are alike, and of the others at least so many differ plainly: one of the two rows."""
_HARDLY_ANY = 0.01
_FLAT_PROBE_PIXELS = 200_000
_COARSE_COLOURS = 1 << 15
_HALF_SOLID = 128
_SUBSAMPLES = 8
"""Looks per cell and direction in flat art (the common 8 × 8)."""


def sample(image_srgb: npt.ArrayLike, lattice: Lattice, *, cover: npt.ArrayLike | None = None) -> Floats:
    """Mean colour of each cell, averaged by exact area in linear light.

    Args:
        image_srgb: (h, w, 3) uint8, any size from 1 × 1; stretched over the lattice's box.
        lattice: where the cells stand.
        cover: (h, w) uint8, how solid each pixel is: a cell's colour is that of its solid part. All by default.

    Returns:
        (rows·columns, 3) sRGB 0…1, row by row; a cell with nothing solid is black.

    Raises:
        ValueError: an argument is not such an array.

    >>> half = np.array([[[0, 0, 0], [255, 255, 255]]], dtype=np.uint8)
    >>> sample(half, Lattice("square", 1, 1, 0.1)).round(4).tolist()
    [[0.7354, 0.7354, 0.7354]]
    """
    pixels = _checked_image(image_srgb)
    if cover is None:
        return linear_to_srgb(
            _means(lambda first, last: _of_codes(_LINEAR_OF_CODE, pixels[first:last]), pixels.shape, lattice)
        )
    solid = _checked_cover("cover", cover, pixels.shape[:2])[..., None]

    def weighed(first: int, last: int) -> npt.NDArray[np.float32]:
        share = _of_codes(_SHARE_OF_CODE, solid[first:last])
        return np.concatenate([_of_codes(_LINEAR_OF_CODE, pixels[first:last]) * share, share], axis=2)

    means = _means(weighed, (*pixels.shape[:2], 4), lattice)
    light = means[:, :3] / np.maximum(means[:, 3:], 1e-9)
    return linear_to_srgb(np.clip(light, 0.0, 1.0))


def sample_cover(alpha: npt.ArrayLike, lattice: Lattice) -> Floats:
    """How much of each cell a mask covers, by exact area.

    Args:
        alpha: (h, w) uint8, 255 for covered in full; stretched over the lattice's box as a picture is.
        lattice: where the cells stand.

    Returns:
        (rows·columns,) 0…1, row by row.

    Raises:
        ValueError: ``alpha`` is not such an array.

    >>> sample_cover(np.array([[255, 0, 0, 0]], dtype=np.uint8), Lattice("square", 1, 2, 0.1)).tolist()
    [0.5, 0.0]
    """
    mask = _checked_cover("alpha", alpha)[..., None]
    return _means(lambda first, last: _of_codes(_SHARE_OF_CODE, mask[first:last]), mask.shape, lattice)[:, 0]


def _of_codes(table: npt.NDArray[np.float32], codes: Pixels) -> npt.NDArray[np.float32]:
    """What a table of 256 says of each code. No code is beyond it, and clipping is what numpy does quickest."""
    return np.take(table, codes, mode="clip")


def _means(values: Callable[[int, int], npt.NDArray[np.float32]], shape: tuple[int, ...], lattice: Lattice) -> Floats:
    """(cells, channels) means over each cell's box of a picture of this shape; ``values`` gives a strip of its rows
    as numbers 0…1, so that no more than a strip of them is ever held."""
    height, width, channels = shape
    top = np.arange(lattice.rows + 1) * (height / lattice.rows)
    means = np.empty((lattice.rows, lattice.columns, channels))
    for row in range(lattice.rows):
        strip = _strip_mean(values, top[row], min(top[row + 1], float(height)), height)
        edges = _column_edges(lattice, row, width)
        means[row] = np.diff(_integral_at(strip, edges), axis=0) / np.diff(edges)[:, None]
    # Differences of sums can leave 0…1 by a rounding.
    return np.clip(means, 0.0, 1.0).reshape(-1, channels)


def _column_edges(lattice: Lattice, row: int, width: int) -> Floats:
    """Left edges of the row's cells and the last right edge, in pixels."""
    shift = lattice.row_shift_pitches(row)
    edges = (np.arange(lattice.columns + 1) + shift) * (width / lattice.width_pitches)
    return np.asarray(np.minimum(edges, float(width)))


def _strip_mean(
    values: Callable[[int, int], npt.NDArray[np.float32]], start: float, stop: float, height: int
) -> Floats:
    """A strip of pixel rows with fractional edges, averaged downwards: (w, channels)."""
    first, last = int(start), min(int(np.ceil(stop)), height)
    weights = np.ones(last - first, dtype=np.float32)
    weights[0] -= start - first
    weights[-1] -= last - stop
    strip = values(first, last)
    mean = (weights @ strip.reshape(last - first, -1)) / (stop - start)
    return np.asarray(mean.reshape(strip.shape[1:]), dtype=np.float64)


def _integral_at(strip: Floats, edges: Floats) -> Floats:
    """The running sum of the strip's pixels up to each fractional edge: (edges, channels)."""
    sums = np.zeros((len(strip) + 1, strip.shape[1]))
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
    step = max(1, math.ceil(math.sqrt(pixels.shape[0] * pixels.shape[1] / _FLAT_PROBE_PIXELS)))
    probe = pixels[::step, ::step]
    counts = np.bincount(_coarse(probe).ravel(), minlength=_COARSE_COLOURS)
    commonest = np.sort(counts)[-_FLAT_COLOURS:]
    return bool(commonest.sum() >= _FLAT_SHARE * counts.sum()) and _has_areas(pixels[:: step * step])


def _has_areas(pixels: Pixels) -> bool:
    """Whether neighbours along some whole rows are alike, and differ plainly where they differ."""
    left, right = pixels[:, :-1], pixels[:, 1:]
    apart = (np.maximum(left, right) - np.minimum(left, right)).max(axis=2)
    if not apart.size:
        return True
    unlike = np.count_nonzero(apart > _ALIKE_CODES) / apart.size
    if unlike < _HARDLY_ANY:
        return True
    plain = np.count_nonzero(apart > _PLAIN_CODES) / apart.size / unlike
    return any(1.0 - unlike >= alike and plain >= plainly for alike, plainly in _FLAT_ALIKE)


def kind_of(image_srgb: npt.ArrayLike) -> Literal["flat", "photograph"]:
    """``flat`` for logos, flags and lettering, ``photograph`` for all else; a guess that people may change.

    Args:
        image_srgb: (h, w, 3) uint8.

    Raises:
        ValueError: ``image_srgb`` is not such an array.

    >>> kind_of(np.zeros((4, 4, 3), dtype=np.uint8))
    'flat'
    """
    return "flat" if is_flat_art(image_srgb) else "photograph"


def sample_flat(
    image_srgb: npt.ArrayLike,
    lattice: Lattice,
    palette_srgb: npt.ArrayLike,
    *,
    cover: npt.ArrayLike | None = None,
) -> Floats:
    """The colour that fills most of each cell, for flat art: no in-between colours at edges.

    Each cell is looked at in 8 × 8 places, each place takes its nearest palette colour, and the
    cell takes the colour that most places took. It is given as the picture's own commonest shade
    of that colour, so that a match limited by stock still knows what was meant.

    Args:
        image_srgb: (h, w, 3) uint8.
        lattice: where the cells stand.
        palette_srgb: (p, 3) sRGB 0…1 that the cells will be matched to.
        cover: (h, w) uint8, how solid each pixel is; places that are less than half solid are not counted. All by
            default.

    Returns:
        (rows·columns, 3) sRGB 0…1, row by row; each is nearest to its cell's palette colour.

    Raises:
        ValueError: an argument is not as described.
    """
    pixels = _checked_image(image_srgb)
    looks = _looks(pixels, lattice)
    codes = _coarse(looks)
    solid = None
    if cover is not None:
        seen = _checked_cover("cover", cover, pixels.shape[:2])[..., None]
        solid = _looks(seen, lattice)[..., 0].reshape(lattice.cells, -1) >= _HALF_SOLID
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
    return own[_commonest(votes, palette_size, solid)]


def _looks(pixels: Pixels, lattice: Lattice) -> Pixels:
    """(rows, columns, 8, 8, channels) pixels spread evenly over each cell."""
    height, width = pixels.shape[:2]
    step = (np.arange(_SUBSAMPLES) + 0.5) / _SUBSAMPLES
    down = (np.arange(lattice.rows)[:, None] + step) * (height / lattice.rows)
    seen = np.empty((lattice.rows, lattice.columns, _SUBSAMPLES, _SUBSAMPLES, pixels.shape[2]), dtype=np.uint8)
    for row in range(lattice.rows):
        columns = np.arange(lattice.columns)[:, None] + step + lattice.row_shift_pitches(row)
        across = (columns * (width / lattice.width_pitches)).astype(np.intp)
        seen[row] = pixels[down[row].astype(np.intp)][:, across].transpose(1, 0, 2, 3)
    return seen


def _commonest(
    votes: npt.NDArray[np.intp], choices: int, counted: npt.NDArray[np.bool_] | None = None
) -> npt.NDArray[np.intp]:
    """The commonest number of each row of votes; the lower one where two are level."""
    won = np.empty(len(votes), dtype=np.intp)
    block = 4096  # keeps the tally small for a palette of any size
    for start in range(0, len(votes), block):
        part = votes[start : start + block]
        slots = (np.arange(len(part))[:, None] * choices + part).ravel()
        weights = None if counted is None else counted[start : start + block].ravel()
        tally = np.bincount(slots, weights=weights, minlength=len(part) * choices)
        won[start : start + block] = tally.reshape(len(part), choices).argmax(axis=1)
    return won


def sample_for(image_srgb: npt.ArrayLike, lattice: Lattice, palette_srgb: npt.ArrayLike) -> Floats:
    """`sample_flat` for flat art, `sample` for everything else; same arguments and answer."""
    if is_flat_art(image_srgb):
        return sample_flat(image_srgb, lattice, palette_srgb)
    return sample(image_srgb, lattice)


def _coarse(pixels: Pixels) -> npt.NDArray[np.uint16]:
    """A number for each pixel's colour at 5 bits a channel; two bytes each, as pictures have many."""
    codes = (pixels[..., 0] >> 3).astype(np.uint16)
    for channel in (1, 2):
        codes <<= 5
        codes |= pixels[..., channel] >> 3
    return codes


def _sums_by_code(pixels: Pixels, codes: npt.NDArray[np.uint16]) -> Floats:
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


def _checked_cover(name: str, cover: npt.ArrayLike, shape: tuple[int, ...] | None = None) -> Pixels:
    mask = np.asarray(cover)
    if mask.dtype != np.uint8 or mask.ndim != 2 or not mask.size:
        raise ValueError(f"{name}: must be height × width bytes (uint8), not {mask.shape} of {mask.dtype}")
    if shape is not None and mask.shape != shape:
        raise ValueError(f"{name}: has {mask.shape} pixels, the picture {shape}")
    return mask
