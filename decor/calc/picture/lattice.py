"""How the cells of a framework sheet stand, and where each one's centre is."""

import math
import operator
from dataclasses import dataclass
from typing import Literal, SupportsIndex, get_args

import numpy as np
import numpy.typing as npt

Kind = Literal["square", "offset", "hex"]
KINDS: tuple[Kind, ...] = get_args(Kind)

MOST_CELLS = 100_000
"""The largest panel that is planned, in cells (the contract's limit, not a physical one)."""

HEX_ROW_SHARE = math.sqrt(3.0) / 2.0
"""Row pitch over pitch where every cell has six neighbours at one distance (geometry)."""


@dataclass(frozen=True, init=False)
class Lattice:
    """Cells in rows and columns; row 0 is the top one, column 0 the left one.

    On ``offset`` and ``hex`` the odd rows, counted from 0, stand half a pitch to the right.

    Args:
        kind: ``square``, ``offset`` or ``hex``.
        rows, columns: whole numbers from 1; their product is at most 100,000.
        pitch_m: distance between neighbouring centres along a row [m], above 0.
        row_pitch_m: distance between neighbouring rows [m]. By default the pitch for ``square``
            and ``offset``, √3/2 (0.8660) of it for ``hex``.

    Raises:
        ValueError: naming the argument that is wrong.

    >>> panel = Lattice("offset", rows=2, columns=3, pitch_m=0.1)
    >>> panel.centres_m().round(3).tolist()
    [[0.0, 0.0], [0.1, 0.0], [0.2, 0.0], [0.05, 0.1], [0.15, 0.1], [0.25, 0.1]]
    >>> round(panel.width_m, 3), round(panel.height_m, 3)
    (0.35, 0.2)
    """

    kind: Kind
    rows: int
    columns: int
    pitch_m: float
    row_pitch_m: float

    def __init__(
        self,
        kind: str,
        rows: SupportsIndex,
        columns: SupportsIndex,
        pitch_m: float,
        row_pitch_m: float | None = None,
    ) -> None:
        if kind not in KINDS:
            raise ValueError(f"kind: a lattice is square, offset or hex, not {kind!r}")
        down, across = size_in_cells(rows, columns)
        pitch = _length_m("pitch_m", pitch_m)
        if row_pitch_m is None:
            row_pitch = pitch * HEX_ROW_SHARE if kind == "hex" else pitch
        else:
            row_pitch = _length_m("row_pitch_m", row_pitch_m)
        values = (kind, down, across, pitch, row_pitch)
        for name, value in zip(self.__dataclass_fields__, values, strict=True):
            object.__setattr__(self, name, value)

    @property
    def cells(self) -> int:
        return self.rows * self.columns

    @property
    def staggered(self) -> bool:
        """Whether odd rows stand half a pitch to the right."""
        return self.kind != "square"

    @property
    def width_pitches(self) -> float:
        """Width in pitches; a staggered panel is half a pitch wider once it has a second row."""
        return self.columns + (0.5 if self.staggered and self.rows > 1 else 0.0)

    @property
    def width_m(self) -> float:
        """Span of the centres across, plus one pitch [m]."""
        return self.width_pitches * self.pitch_m

    @property
    def height_m(self) -> float:
        """Span of the centres down, plus one row pitch [m]."""
        return self.rows * self.row_pitch_m

    def row_shift_pitches(self, row: int) -> float:
        """How far the row stands to the right, in pitches: 0 or 0.5."""
        return 0.5 if self.staggered and row % 2 else 0.0

    def centres_m(self) -> npt.NDArray[np.float64]:
        """Centres of all cells, row by row.

        Returns:
            (rows·columns, 2): x, y [m] from the centre of the top-left cell, y growing downwards.
        """
        row, column = np.divmod(np.arange(self.cells), self.columns)
        shift = 0.5 * (row % 2) if self.staggered else 0.0
        return np.stack([(column + shift) * self.pitch_m, row * self.row_pitch_m], axis=1)

    def neighbours(self) -> npt.NDArray[np.int64]:
        """Pairs of cells that touch: along the row and down on ``square``, else along the row and
        to the two cells below.

        Returns:
            (m, 2) cell numbers, each pair once, the lower number first, in rising order.

        >>> Lattice("hex", 2, 2, 0.1).neighbours().tolist()
        [[0, 1], [0, 2], [1, 2], [1, 3], [2, 3]]
        """
        number = np.arange(self.cells, dtype=np.int64).reshape(self.rows, self.columns)
        found = [_joined(number[:, :-1], number[:, 1:]), _joined(number[:-1], number[1:])]
        if self.staggered:
            # Straight below is one of the two; the other lies left of it under an even row and
            # right of it under an odd one.
            upper, lower = number[:-1], number[1:]
            found.append(_joined(upper[0::2, 1:], lower[0::2, :-1]))
            found.append(_joined(upper[1::2, :-1], lower[1::2, 1:]))
        pairs = np.concatenate(found)
        return pairs[np.lexsort((pairs[:, 1], pairs[:, 0]))]


def size_in_cells(
    rows: SupportsIndex, columns: SupportsIndex, *, names: tuple[str, str] = ("rows", "columns")
) -> tuple[int, int]:
    """Both as whole numbers from 1 whose product is at most 100,000, or ValueError."""
    down = whole_number(names[0], rows)
    across = whole_number(names[1], columns)
    if down * across > MOST_CELLS:
        raise ValueError(
            f"{names[0]}, {names[1]}: {across:,} wide and {down:,} high makes {down * across:,} cells; "
            f"the most is {MOST_CELLS:,}"
        )
    return down, across


def whole_number(name: str, value: SupportsIndex, *, least: int = 1) -> int:
    """The value as an int of at least ``least``, or ValueError naming ``name``."""
    try:
        number = operator.index(value)
    except TypeError:
        raise ValueError(f"{name}: must be a whole number, not {value!r}") from None
    if number < least:
        raise ValueError(f"{name}: must be {least} or more, not {number}")
    return number


def _length_m(name: str, value: float) -> float:
    try:
        length = float(value)
    except (TypeError, ValueError):
        length = math.nan
    if not (math.isfinite(length) and length > 0.0):
        raise ValueError(f"{name}: must be a length above 0 m, not {value!r}")
    return length


def _joined(one: npt.NDArray[np.int64], other: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    return np.stack([one.ravel(), other.ravel()], axis=1)
