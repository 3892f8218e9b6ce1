"""A picture's plain background: one colour round its edge, followed inwards."""

import numpy as np
import numpy.typing as npt

from decor.calc.picture.colour import srgb_to_lab

Pixels = npt.NDArray[np.uint8]
Marks = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]

# All found by trying on drawings, portraits and studio photographs; common practice, no source. They lean towards
# finding nothing: a background that stays can be taken away by hand, a face with a hole cannot be mended.
PROBE_SIDE = 320
"""The picture is looked at this many pixels a side, at most; its edges are then found in full size."""
_EDGE_SHARE = 0.6
"""How much of the picture's edge must be of the one colour."""
_MOST_STRETCHES = 12
"""In more stretches than these along the edge it is a texture and no plain ground."""
_LEAST_SHARE = 0.05
"""Less than this of the picture is no background."""
_NEAR_LEAST, _NEAR_MOST = 5.0, 12.0
"""CIE76 within which a pixel is of the ground's colour: by how even the edge is."""
_FRINGE_NEAR = 2.0
"""At an edge pixels that are part ground and part subject count as ground up to this many times as far."""
_FRINGE_PIXELS = 2
_SOLID = 128
"""A pixel less solid than this shows through, and is ground where the picture's edge shows through."""


def plain_ground(image: npt.ArrayLike) -> Marks | None:
    """Where the picture's plain background is, by flooding from its edges in CIE Lab.

    Args:
        image: (h, w, 3) or (h, w, 4) uint8 sRGB; a fourth channel says how solid a pixel is.

    Returns:
        (h, w) bool, or None where there is no plain background: edges of several colours, or hardly any of it.

    Raises:
        ValueError: ``image`` is not such an array.

    >>> picture = np.full((40, 40, 3), 250, dtype=np.uint8)
    >>> picture[10:30, 10:30] = [200, 30, 40]
    >>> int(plain_ground(picture).sum())
    1200
    """
    pixels = _checked(image)
    if pixels.shape[2] == 4:
        through = pixels[..., 3] < _SOLID
        if _edge_of(through).mean() >= _EDGE_SHARE:
            return through
    step = -(-max(pixels.shape[:2]) // PROBE_SIDE)
    probe = srgb_to_lab(shrunk(pixels[..., :3], step) / 255.0)
    found = _edge_colour(probe)
    if found is None:
        return None
    colour, near = found
    flooded = _flooded(_distance(probe, colour) <= near)
    edge = _edge_of(flooded)
    if flooded.mean() < _LEAST_SHARE or np.count_nonzero(edge != np.roll(edge, 1)) > 2 * _MOST_STRETCHES:
        return None
    return flooded if step == 1 and flooded.all() else _in_full(pixels, flooded, colour, near, step)


def _edge_of(field: npt.NDArray[np.generic]) -> npt.NDArray[np.generic]:
    """The values round the field's edge, one after the other, clockwise."""
    return np.concatenate([field[0], field[:, -1], field[-1, ::-1], field[::-1, 0]])


def _edge_colour(lab: Floats) -> tuple[Floats, float] | None:
    """The one colour of the picture's edge and how far from it still counts, or None."""
    edge = np.asarray(_edge_of(lab), dtype=np.float64)
    colour = np.median(edge, axis=0)
    for _ in range(3):  # the middle of what is near the middle: what sticks out at the foot does not pull it
        away = np.linalg.norm(edge - colour, axis=1)
        close = edge[away <= _NEAR_MOST]
        if len(close) < _EDGE_SHARE * len(edge):
            return None
        colour = np.median(close, axis=0)
    away = np.linalg.norm(close - colour, axis=1)
    return colour, float(np.clip(3.0 * np.median(away) + 3.0, _NEAR_LEAST, _NEAR_MOST))


def _distance(lab: Floats, colour: Floats) -> Floats:
    return np.asarray(np.linalg.norm(lab - colour, axis=-1))


def _flooded(open_to: Marks) -> Marks:
    """The open places that are reached from the edge, over edges of places only."""
    reached = np.zeros_like(open_to)
    reached[[0, -1]], reached[:, [0, -1]] = open_to[[0, -1]], open_to[:, [0, -1]]
    before = -1
    while (count := int(reached.sum())) != before:
        before = count
        for axis in (1, 0):
            reached = _swept(reached, open_to, axis)
            reached = np.flip(_swept(np.flip(reached, axis), np.flip(open_to, axis), axis), axis)
    return reached


def _swept(reached: Marks, open_to: Marks, axis: int) -> Marks:
    """Carries what is reached onwards along the axis, up to the next closed place."""
    at = np.arange(open_to.shape[axis]).reshape((-1, 1) if axis == 0 else (1, -1))
    last_reached = np.maximum.accumulate(np.where(reached, at, -1), axis=axis)
    last_closed = np.maximum.accumulate(np.where(open_to, -1, at), axis=axis)
    return np.asarray(last_reached > last_closed)


def _in_full(pixels: Pixels, flooded: Marks, colour: Floats, near: float, step: int) -> Marks:
    """The flooded places in the picture's own pixels; at their edges each pixel is asked for its own colour."""
    height, width = pixels.shape[:2]
    inner = _enlarged(~_widened(~flooded, 1), step, height, width)
    reach = _enlarged(_widened(flooded, 1), step, height, width)
    mask = inner.copy()
    unsure = np.nonzero(reach & ~inner)
    away = _distance(srgb_to_lab(pixels[unsure][:, :3] / 255.0), colour)
    mask[unsure] = away <= near
    rim = np.zeros_like(mask)
    rim[unsure] = away <= near * _FRINGE_NEAR
    return np.asarray(mask | (rim & _widened(mask, _FRINGE_PIXELS)))


def _enlarged(places: Marks, step: int, height: int, width: int) -> Marks:
    """Each place as step × step pixels; the last ones go on to the picture's end."""
    down = np.minimum(np.arange(height) // step, places.shape[0] - 1)
    across = np.minimum(np.arange(width) // step, places.shape[1] - 1)
    return places[np.ix_(down, across)]


def _widened(places: Marks, by: int) -> Marks:
    """With all places that lie within ``by`` of a marked one, over corners too."""
    wide = places
    for axis in (0, 1):
        grown = wide.copy()
        for shift in range(1, by + 1):
            before, after = [slice(None)] * 2, [slice(None)] * 2
            before[axis], after[axis] = slice(None, -shift), slice(shift, None)
            grown[tuple(before)] |= wide[tuple(after)]
            grown[tuple(after)] |= wide[tuple(before)]
        wide = grown
    return wide


def shrunk(pixels: Pixels, step: int) -> Floats:
    """Means of step × step pixels, of codes; what is left over at the right and the foot is left out."""
    if step == 1:
        return pixels.astype(np.float64)
    high, wide = max(1, pixels.shape[0] // step), max(1, pixels.shape[1] // step)
    down, across = min(step, pixels.shape[0]), min(step, pixels.shape[1])
    blocks = pixels[: high * down, : wide * across].reshape(high, down, wide, across, -1)
    return np.asarray(blocks.mean(axis=(1, 3), dtype=np.float64))


def _checked(image: npt.ArrayLike) -> Pixels:
    pixels = np.asarray(image)
    if pixels.dtype != np.uint8 or pixels.ndim != 3 or pixels.shape[2] not in (3, 4) or not pixels.size:
        raise ValueError(f"image: must be height × width × 3 or 4 bytes (uint8), not {pixels.shape} of {pixels.dtype}")
    return pixels
