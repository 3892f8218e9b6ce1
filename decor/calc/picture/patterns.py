"""Patterns of two or more colours over a panel: stripes, checks, gradients, rings.

Each gives (rows, columns) whole numbers into the given colours, for any lattice. What only depends on one number
along a line, how colours follow one another and how they pass into one another, stands in `turns` and `blended`, so
that other pieces can use it.

On ``offset`` and ``hex`` a pattern that is the same on both sides is so about the middle of the even rows, as the
outlines are: the last cell of an odd row stands beyond it.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Literal, get_args

import numpy as np
import numpy.typing as npt

from decor.calc.picture.lattice import Lattice, whole_number

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

Way = Literal["rows", "columns", "falling", "rising"]
WAYS: tuple[Way, ...] = get_args(Way)
Course = Literal["down", "up", "right", "left", "round"]
COURSES: tuple[Course, ...] = get_args(Course)
Blend = Literal["mixed", "bands"]
BLENDS: tuple[Blend, ...] = get_args(Blend)

Widths = int | str | Sequence[int]
"""One number of cells for all colours, or one for each; as text, ``2, 1``."""

MOST_COLOURS = 24
TILE = 32
"""Cells of the thresholds' square along one side; even, so that it joins itself on staggered rows."""
REACH = 1.5
"""How far a cell crowds its neighbours, in pitches (Ulichney's figure)."""


def turns(places: npt.ArrayLike, widths: Sequence[int]) -> Ints:
    """Colours that follow one another and begin again: for each whole place the colour's number.

    Args:
        places: whole numbers, below 0 too.
        widths: how many places each colour takes, from 1.

    >>> turns(range(7), [2, 1]).tolist()
    [0, 0, 1, 0, 0, 1, 0]
    """
    checked = [whole_number("widths", one) for one in widths]
    if not checked:
        raise ValueError("widths: must name at least one")
    once = np.repeat(np.arange(len(checked)), checked)
    taken: Ints = once[np.asarray(places, dtype=np.int64) % len(once)]
    return taken


def blended(values: npt.ArrayLike, colours: int, thresholds: npt.ArrayLike | None = None) -> Ints:
    """Colours that pass into one another from 0 to 1.

    Args:
        values: 0…1.
        colours: how many.
        thresholds: 0…1 of the same shape: two neighbouring colours are mixed, each cell taking the later one where
            the way into it is above its threshold. None: clean bands of equal width.

    >>> blended([0.0, 0.3, 0.6, 1.0], 3).tolist()
    [0, 0, 1, 2]
    """
    along = np.asarray(values, dtype=np.float64)
    if along.size and not (along.min() >= 0.0 and along.max() <= 1.0):
        raise ValueError("values: must lie in 0…1")
    if thresholds is None:
        return np.minimum((along * colours).astype(np.int64), colours - 1)
    way = along * (colours - 1)
    lower = np.minimum(way.astype(np.int64), max(colours - 2, 0))
    return lower + (way - lower > np.asarray(thresholds))


def thresholds_of(lattice: Lattice) -> Floats:
    """(rows, columns) 0…1, evenly spread in every part of the panel: ranks by the largest void, after the
    void-and-cluster method (Ulichney, 1993). The recursive squares of Bayer (1973) would run into streaks, as a row
    of them has but few thresholds."""
    tile = _voids(lattice.row_pitch_m / lattice.pitch_m, 0.5 if lattice.staggered else 0.0)
    tiles = (-(-lattice.rows // len(tile)), -(-lattice.columns // len(tile)))
    return np.tile(tile, tiles)[: lattice.rows, : lattice.columns]


@cache
def _voids(row_step: float, shift: float) -> Floats:
    """(TILE, TILE) for rows `row_step` pitches below one another, every second one moved by `shift`: each rank goes to
    the cell that is farthest from all before it, the tile being joined to itself at its edges."""
    row, column = np.indices((TILE, TILE))
    x, y = column + row % 2 * shift, row * row_step

    def near(at: tuple[int, int]) -> Floats:
        across, down = np.abs(x - x[at]), np.abs(y - y[at])
        across, down = np.minimum(across, TILE - across), np.minimum(down, TILE * row_step - down)
        found: Floats = np.exp(-(across**2 + down**2) / (2.0 * REACH**2))
        return found

    crowded, rank = np.zeros((TILE, TILE)), np.zeros((TILE, TILE))
    # A grain that is the same for all tells equally empty places apart; without it they fall into a grid.
    crowded += 1e-3 * np.random.default_rng(1).random((TILE, TILE))
    for number in range(TILE * TILE):
        row_at, column_at = divmod(int(crowded.argmin()), TILE)
        rank[row_at, column_at] = number
        crowded += near((row_at, column_at))
        crowded[row_at, column_at] += TILE * TILE
    rank.setflags(write=False)
    return (rank + 0.5) / rank.size


def stripes(
    lattice: Lattice,
    *,
    colours: int,
    way: str = "columns",
    widths: Widths = 1,
    start: int = 0,
    mirrored: bool = False,
) -> Ints:
    """Stripes that follow one another and begin again.

    Args:
        colours: how many, from 1.
        way: ``rows`` (lying), ``columns`` (standing), ``falling`` or ``rising`` (slanted down, or up, to the right).
        widths: cells across each colour's stripe, one number for all or one for each colour. Slanted stripes are
            counted along a row; on ``offset`` and ``hex`` they run along the lattice's own slant.
        start: cells of the first stripe that are left out, so that the pattern can be moved.
        mirrored: both halves alike: counted from the middle outwards. Slanted stripes become chevrons.

    Raises:
        ValueError: naming the argument that is wrong.

    >>> stripes(Lattice("square", 2, 4, 0.1), colours=2, widths=[2, 1]).tolist()
    [[0, 0, 1, 0], [0, 0, 1, 0]]
    """
    count = _colours(colours)
    each = _widths(widths, count)
    row, column = _grid(lattice)
    if mirrored:
        row = np.abs(2 * row - (lattice.rows - 1)) // 2 if way == "rows" else row
        stands = row_stands(lattice)
        column = np.maximum(column, lattice.columns - 1 - column - stands) - lattice.columns // 2
    return turns(_place(lattice, _one_of("way", way, WAYS), row, column) + start, each)


def row_stands(lattice: Lattice) -> Ints:
    """(rows, 1): 1 for a row that stands half a pitch to the right, else 0."""
    return (np.arange(lattice.rows, dtype=np.int64) % 2 * int(lattice.staggered))[:, None]


def _place(lattice: Lattice, way: str, row: Ints, column: Ints) -> Ints:
    """How many stripes' cells lie before a cell."""
    if way == "rows":
        return row
    if way == "columns":
        return column
    if not lattice.staggered:
        return column - row if way == "falling" else column + row
    # Half a pitch a row: the slant along which cells touch.
    return column - row // 2 if way == "falling" else column + (row + 1) // 2


def checks(lattice: Lattice, *, colours: int = 2, width: int = 1, height: int | None = None) -> Ints:
    """Fields of so many cells that take turns along and down; with three colours or more each row of fields starts
    one colour later. `height` is `width` by default.

    >>> checks(Lattice("square", 2, 4, 0.1), width=2, height=1).tolist()
    [[0, 0, 1, 1], [1, 1, 0, 0]]
    """
    count = _colours(colours)
    wide = whole_number("width", width)
    high = wide if height is None else whole_number("height", height)
    row, column = _grid(lattice)
    return (column // wide + row // high) % count


def gradient(lattice: Lattice, *, colours: int, course: str = "down", blend: str = "mixed") -> Ints:
    """From the first colour through the others to the last.

    Args:
        course: ``down``, ``up``, ``right``, ``left``, or ``round``: from the middle outwards.
        blend: ``mixed``: cell by cell, evenly strewn and as many of each colour as the passage asks for; ``bands``:
            clean edges, each colour an equal part of the way (``round``: of the radius).

    Straight across, a mixed gradient gives its first and last colour half of what each of the others gets; bands give
    all the same.
    """
    count = _colours(colours)
    along = _along(lattice, _one_of("course", course, COURSES))
    if _one_of("blend", blend, BLENDS) == "bands" or count == 1:
        return blended(along, count)
    row, column = _grid(lattice)
    lines = {"down": row, "up": -row, "right": column, "left": -column}.get(course)
    if lines is None:
        lines = np.floor(_from_middle(lattice)).astype(np.int64)
    return _strewn(along, lines, count, thresholds_of(lattice))


def _strewn(along: Floats, lines: Ints, colours: int, thresholds: Floats) -> Ints:
    """Mixed line by line (a row, a column, a ring), in the lines' order: what rounding a line to whole cells takes
    from a colour the next lines give back, so that no colour is ever a whole cell off; where the cells stand is by
    the thresholds."""
    way = along * (colours - 1)
    lower = np.minimum(way.astype(np.int64), colours - 2)
    found, order = lower.ravel().copy(), np.lexsort((thresholds.ravel(), lines.ravel()))
    later, owed = (way - lower).ravel(), np.zeros(colours)
    for cells in np.split(order, np.flatnonzero(np.diff(lines.ravel()[order])) + 1):
        for colour in np.unique(found[cells]):
            mine = cells[found[cells] == colour]
            asked = float(later[mine].sum())
            taken = min(max(round(asked + (owed[colour + 1] - owed[colour]) / 2.0), 0), len(mine))
            owed[colour + 1] += asked - taken
            owed[colour] -= asked - taken
            found[mine[:taken]] += 1
    return found.reshape(along.shape)


def _along(lattice: Lattice, course: str) -> Floats:
    """0…1 of each cell's centre; the half cell before the first and after the last counts."""
    row, column = _grid(lattice)
    if course == "round":
        far = _from_middle(lattice)
        return np.asarray(far / max(float(far.max()), 1e-12))
    at, size = (row, lattice.rows) if course in ("down", "up") else (column, lattice.columns)
    forwards = at if course in ("down", "right") else size - 1 - at
    along: Floats = (forwards + 0.5) / size
    return along


def rings(lattice: Lattice, *, colours: int, widths: Widths = 2, square: bool = False) -> Ints:
    """Rings round the middle, the first colour innermost, that follow one another and begin again.

    Args:
        widths: cells across each colour's ring, one number for all or one for each.
        square: rings as frames instead: each as far from the nearest edge all along, the first colour outermost.
    """
    count = _colours(colours)
    each = _widths(widths, count)
    if square:
        row, column = _grid(lattice)
        edge = np.minimum(np.minimum(row, lattice.rows - 1 - row), np.minimum(column, lattice.columns - 1 - column))
        return turns(edge, each)
    return turns(np.floor(_from_middle(lattice)), each)


def _from_middle(lattice: Lattice) -> Floats:
    """(rows, columns) distance from the middle of the even rows, in pitches; rounded, so that cells as far off on
    both sides are so to the last digit."""
    step = lattice.row_pitch_m / lattice.pitch_m
    row, column = _grid(lattice)
    across = column + row_stands(lattice) / 2.0 - (lattice.columns - 1) / 2.0
    far: Floats = np.hypot(across, (row - (lattice.rows - 1) / 2.0) * step).round(9)
    return far


def _grid(lattice: Lattice) -> tuple[Ints, Ints]:
    row, column = np.indices((lattice.rows, lattice.columns), dtype=np.int64)
    return row, column


def _widths(widths: Widths, count: int) -> list[int]:
    try:
        given = [int(one) for one in widths.split(",")] if isinstance(widths, str) else widths
    except ValueError:
        raise ValueError(f"widths: are whole numbers with commas between them, not {widths!r}") from None
    each = [given] * count if isinstance(given, int) else list(given)
    each = each * count if len(each) == 1 else each
    if len(each) != count:
        raise ValueError(f"widths: has {len(each)} numbers for {count} colours")
    return each


def _colours(colours: int) -> int:
    count = whole_number("colours", colours)
    if count > MOST_COLOURS:
        raise ValueError(f"colours: must be at most {MOST_COLOURS}, not {count}")
    return count


def _one_of(name: str, value: str, choices: Sequence[str]) -> str:
    if value not in choices:
        raise ValueError(f"{name}: is {', '.join(choices[:-1])} or {choices[-1]}, not {value!r}")
    return value
