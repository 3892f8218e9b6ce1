"""Lines of flat art so thin that a look every eighth of a cell may fall beside them."""

import numpy as np
import numpy.typing as npt

Pixels = npt.NDArray[np.uint8]
Codes = npt.NDArray[np.int16]
Marks = npt.NDArray[np.bool_]

_LIGHT = np.array([77, 150, 29], dtype=np.int32)
"""Parts of red, green and blue in how light a pixel is, of 256 (ITU-R BT.601, as JPEG has it)."""
_APART = 40
"""Codes by which a line is lighter or darker than all that is beside it. Colour alone would not do: JPEG keeps it at
half the size, so that it runs over at every edge (tried out down to quality 30)."""
_FAR = 16
"""Pixels: what a JPEG leaves beside an edge stays within its block of so many."""
_LENGTH = 0.75
"""Cells of a line that lie together at least; tips of thick shapes are shorter."""


def hairlines(pixels: Pixels, rows: int, columns: int, per_cell: int) -> Marks:
    """(rows, columns) looks through which a hairline goes, ``per_cell`` of them a cell.

    Across a line the picture is the same colour, or two, on both sides of it, and the line is darker or lighter than
    both. The smooth edge between two areas is neither: it lies between them.

    Args:
        pixels: (h, w, 3) sRGB codes.

    >>> picture = np.full((400, 400, 3), 255, dtype=np.uint8)
    >>> picture[201, 40:360] = 0  # a tenth of a look
    >>> int(hairlines(picture, 40, 40, 4).sum())
    32
    """
    high, wide = pixels.shape[:2]
    down = ((np.arange(rows) + 0.5) * high / rows).astype(np.intp)
    across = ((np.arange(columns) + 0.5) * wide / columns).astype(np.intp)
    marked = _crossed(_light(pixels[down]), columns) | _crossed(_light(pixels[:, across]).T, rows).T
    return marked & (_near(marked, per_cell + 1) >= _LENGTH * per_cell)


def _light(pixels: Pixels) -> Codes:
    return (pixels.astype(np.int32) @ _LIGHT >> 8).astype(np.int16)


def _crossed(lines: Codes, looks: int) -> Marks:
    """(n, looks) where lines of pixels (n, length) cross something thin."""
    length = lines.shape[1]
    near = -(-length // looks) + 1
    far = max(2 * near, _FAR)
    middle = length - 2 * far
    crossed = np.zeros((len(lines), looks), dtype=bool)
    if middle <= 0:
        return crossed
    here = lines[:, far : far + middle]
    beside = [lines[:, far + step : far + step + middle] for step in (-far, -near, near, far)]
    apart = (here - np.maximum.reduce(beside) > _APART) | (np.minimum.reduce(beside) - here > _APART)
    line, place = np.nonzero(apart)
    crossed[line, (place + far) * looks // length] = True
    return crossed


def _near(marked: Marks, side: int) -> npt.NDArray[np.int32]:
    """How many are marked in the square of this side round each."""
    half = side // 2
    sums = np.pad(marked.astype(np.int32), ((half + 1, half), (half + 1, half)))
    sums = sums.cumsum(axis=0, dtype=np.int32).cumsum(axis=1, dtype=np.int32)
    near: npt.NDArray[np.int32] = sums[side:, side:] - sums[:-side, side:] - sums[side:, :-side] + sums[:-side, :-side]
    return near
