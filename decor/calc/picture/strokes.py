"""Strokes of flat art that are too thin for the cells they fall on."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from decor.calc.picture.hairlines import hairlines
from decor.calc.picture.lattice import Lattice

Pixels = npt.NDArray[np.uint8]
Marks = npt.NDArray[np.bool_]
Numbers = npt.NDArray[np.int64]

THIN_CELLS = 1.5
"""Strokes thinner than this lose cells (tried out; no published source)."""
_STEPS_CELLS = (0.5, 0.75, 1.0, 1.25, THIN_CELLS)
_LOOKS_PER_CELL = 8
_LOOKS_PER_CELL_OF_MANY = 4
_MANY_CELLS = 15_000
_SEEN = 0.002
"""Less of the picture than this is smoothed edges and specks."""
_MOST_COLOURS = 12
_COLOUR_SHARE = 0.0025
"""A line under a logo, half as long as it is wide and a quarter of a cell thick on forty rows, is no more of it."""
_HAIR_COUNTS = 0.4
"""Cells as which a hairline is thick, as little of the picture as it is: it is missed like the line under a logo."""
_MOST_TRIES = 64
_APART = 40.0
"""Codes between two colours of a drawing; what lies farther from all of them is the smooth edge between two."""
_HAIR_LOOKS = 3
_CORNER = 0.35
"""How far a corner stands off from what was laid into it, in widths; a right angle's 0.21 and some room."""
_OCTAGON = 2.0**0.5 - 1.0
"""Side over width of a regular octagon."""


@dataclass(frozen=True)
class ThinStrokes:
    """``share`` of the picture lies in strokes thinner than a cell and a half, hairlines counted as 0.4 of a cell; the
    thinnest of them are thinner than ``narrowest_cells``, in steps of a quarter and not below a half; 1.5 where there
    are none."""

    share: float
    narrowest_cells: float


def thin_strokes(image_srgb: npt.ArrayLike, lattice: Lattice, *, of_cells: bool = False) -> ThinStrokes:
    """How much of flat art is too thin for its cells: what is left over when octagons of rising size are laid into
    its areas of one colour.

    Args:
        image_srgb: (h, w, 3) uint8, stretched over the lattice's box.
        of_cells: it is a chart that was drawn cell by cell; as long as its edges are the lattice's own, no stroke is
            thinner than was meant.
        lattice: where the cells stand.

    Raises:
        ValueError: ``image_srgb`` is not such an array.

    >>> picture = np.full((80, 80, 3), 255, dtype=np.uint8)
    >>> picture[:, 40:49] = 0
    >>> thin_strokes(picture, Lattice("square", 10, 10, 0.1)).narrowest_cells
    1.25
    """
    per_cell = _LOOKS_PER_CELL if lattice.cells <= _MANY_CELLS else _LOOKS_PER_CELL_OF_MANY
    areas, edges = _areas(_looked_at(image_srgb, lattice, per_cell))
    edges |= _fringes(areas, edges)
    share, narrowest = 0.0, THIN_CELLS
    for cells in () if of_cells and _made_for(lattice, areas, per_cell) else reversed(_STEPS_CELLS):
        wide = _opened(areas, cells * per_cell)
        wide = _with_corners(wide, areas.numbers, cells * per_cell)
        thin = np.count_nonzero(~wide & ~edges) / areas.numbers.size
        share = max(share, float(thin))
        if thin < _SEEN:
            break
        narrowest = cells
    rows, columns = areas.numbers.shape
    hair = float(hairlines(np.asarray(image_srgb), rows, columns, per_cell).mean()) * _HAIR_COUNTS * per_cell
    return ThinStrokes(max(share, hair), _STEPS_CELLS[0] if hair >= _SEEN else narrowest)


@dataclass(frozen=True)
class _Areas:
    """``numbers`` (h, w) into ``colours`` (k, 3) codes."""

    numbers: Numbers
    colours: npt.NDArray[np.float64]


def _made_for(lattice: Lattice, areas: _Areas, per_cell: int) -> bool:
    """Whether the drawing is the chart that would be made of it, each cell of its commonest colour: nowhere is it
    otherwise than a look away. A hair line, which no cell would show, is."""
    chart = areas.numbers.copy()
    for row in range(lattice.rows):
        left = round(lattice.row_shift_pitches(row) * per_cell)
        box = np.s_[row * per_cell : (row + 1) * per_cell, left : left + lattice.columns * per_cell]
        cells = areas.numbers[box].reshape(per_cell, lattice.columns, per_cell)
        counts = [(cells == number).sum(axis=(0, 2)) for number in range(len(areas.colours))]
        chart[box] = np.argmax(counts, axis=0).repeat(per_cell)
    around = np.pad(chart, 1, mode="edge")
    height, width = chart.shape
    found = np.zeros(chart.shape, dtype=bool)
    for down, across in np.ndindex(3, 3):
        found |= around[down : down + height, across : across + width] == areas.numbers
    return bool(found.all())


def _looked_at(image_srgb: npt.ArrayLike, lattice: Lattice, per_cell: int) -> Pixels:
    """The picture as so many looks a cell both ways; a smaller one is looked at several times in the same place."""
    pixels = np.asarray(image_srgb)
    if pixels.dtype != np.uint8 or pixels.ndim != 3 or pixels.shape[2] != 3 or not pixels.size:
        raise ValueError(f"image_srgb: must be height × width × 3 bytes (uint8), not {pixels.shape} of {pixels.dtype}")
    size = (lattice.rows * per_cell, round(lattice.width_pitches * per_cell))
    down, across = (
        ((np.arange(n) + 0.5) * have / n).astype(np.intp) for n, have in zip(size, pixels.shape, strict=False)
    )
    return pixels[np.ix_(down, across)]


def _areas(looks: Pixels) -> tuple[_Areas, Marks]:
    """Each look as one of the drawing's few colours, and the looks that are none of them."""
    codes = (looks >> 3).astype(np.int64) @ np.array([1024, 32, 1])
    used, places, counts = np.unique(codes, return_inverse=True, return_counts=True)
    shades = np.stack([used >> 10, used >> 5 & 31, used & 31], axis=1) * 8.0 + 4.0
    chosen = _chosen(shades, counts)
    if not chosen:
        chosen = [int(np.argmax(counts))]
    away = np.abs(shades[:, None] - shades[None, chosen]).max(axis=2)
    number, far = away.argmin(axis=1), away.min(axis=1) > _APART
    places = places.reshape(codes.shape)
    return _Areas(number[places], shades[chosen]), far[places]


def _chosen(shades: npt.NDArray[np.float64], counts: Numbers) -> list[int]:
    """The drawing's colours, the commonest shade of each. A JPEG's line is of many shades, none of them common: what
    counts is how much of the picture is near enough to one of them and to no colour before it."""
    chosen: list[int] = []
    left, least = counts.astype(np.int64), _COLOUR_SHARE * counts.sum()
    for _ in range(_MOST_TRIES):
        at = int(np.argmax(left))
        if left[at] <= 0 or len(chosen) == _MOST_COLOURS:
            break
        near = np.abs(shades - shades[at]).max(axis=1) <= _APART
        if left[near].sum() >= least:
            chosen.append(at)
            left[near] = 0
        left[at] = 0
    return chosen


def _fringes(areas: _Areas, edges: Marks) -> Marks:
    """Looks of colours that are nothing but the smooth edge between two others: hair-thin throughout, and between
    those two in colour."""
    thick = _opened(areas, _HAIR_LOOKS) & ~edges
    fringe = np.zeros(areas.numbers.shape, dtype=bool)
    for number in range(len(areas.colours)):
        mine = areas.numbers == number
        if np.count_nonzero(mine & thick) < 0.3 * np.count_nonzero(mine & ~edges) and _between(areas.colours, number):
            fringe |= mine
    return fringe


def _between(colours: npt.NDArray[np.float64], number: int) -> bool:
    others = np.delete(colours, number, axis=0)
    start, stop = np.repeat(others, len(others), axis=0), np.tile(others, (len(others), 1))
    along = stop - start
    length = np.maximum((along**2).sum(axis=1), 1.0)
    share = np.clip(((colours[number] - start) * along).sum(axis=1) / length, 0.0, 1.0)
    away = np.abs(start + share[:, None] * along - colours[number]).max(axis=1)
    return bool(((away < _APART) & (share > 0.1) & (share < 0.9)).any())


def _opened(areas: _Areas, width: float) -> Marks:
    """Looks over which an octagon this wide can lie without leaving their area. All areas are done at once: it is
    shrunk and grown along its four directions, one line after the other; beyond the picture every area goes on."""
    straight = max(1, round(width * _OCTAGON))
    slanted = max(0, round((width - straight) / 2.0))
    lines = [((0, 1), straight), ((1, 0), straight), ((1, 1), slanted + 1), ((1, -1), slanted + 1)]
    pad = sum(length for _, length in lines)
    numbers = np.pad(areas.numbers, pad, mode="edge")
    inside = np.ones(numbers.shape, dtype=bool)
    for direction, length in lines:
        inside = _shrunk(inside, numbers, direction, length)
    for direction, length in lines:
        inside = _grown(inside, direction, length)
    return inside[pad:-pad, pad:-pad]


def _shrunk(inside: Marks, numbers: Numbers, direction: tuple[int, int], length: int) -> Marks:
    """Where the line of ``length`` looks that starts here is inside and of one area."""
    left = inside.copy()
    for step in range(1, length):
        here, there = _shifted(inside.shape, direction, step)
        whole = np.zeros(inside.shape, dtype=bool)
        whole[here] = inside[there] & (numbers[here] == numbers[there])
        left &= whole
    return left


def _grown(inside: Marks, direction: tuple[int, int], length: int) -> Marks:
    """Every look on a line that starts at a marked one."""
    grown = inside.copy()
    for step in range(1, length):
        here, there = _shifted(inside.shape, direction, step)
        grown[there] |= inside[here]
    return grown


def _with_corners(wide: Marks, numbers: Numbers, width: float) -> Marks:
    """With the looks close by of the same area: an octagon does not reach into corners, and they are no strokes."""
    near = wide.copy()
    for _ in range(int(np.ceil(_CORNER * width))):
        grown = near.copy()
        for direction in ((0, 1), (1, 0)):
            here, there = _shifted(near.shape, direction, 1)
            alike = numbers[here] == numbers[there]
            grown[there] |= near[here] & alike
            grown[here] |= near[there] & alike
        near = grown
    return near


def _shifted(shape: tuple[int, ...], direction: tuple[int, int], step: int) -> tuple[tuple[slice, slice], ...]:
    """The looks that have one so many steps on, and those."""
    down, across = direction[0] * step, direction[1] * step
    rows = slice(0, shape[0] - down), slice(down, shape[0])
    columns = (slice(max(0, -across), shape[1] - max(0, across)), slice(max(0, across), shape[1] - max(0, -across)))
    return (rows[0], columns[0]), (rows[1], columns[1])
