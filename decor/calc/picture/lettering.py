"""Words in our own letters, drawn for cells: several lines, set with even gaps, with an outline or a shadow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeVar, get_args

import numpy as np
import numpy.typing as npt

from decor.calc.picture.glyphs import HEIGHTS, Height, face
from decor.calc.picture.lattice import KINDS, MOST_CELLS, Lattice
from decor.calc.picture.lettering_big import NoBigLetter, TooNarrow, letter_mask
from decor.calc.picture.lettering_letters import characters, letter_of, speakable
from decor.calc.picture.lettering_setting import leaning, line_step, set_line

Align = Literal["left", "centre", "right"]
ALIGNS: tuple[Align, ...] = get_args(Align)

NONE, LETTER, OUTLINE, SHADOW = range(4)
MOST_CHARACTERS = 1_000
"""Longer texts are refused before they are set; nobody builds a novel of balloons."""

Cells = npt.NDArray[np.int8]
Marks = npt.NDArray[np.bool_]
Choice = TypeVar("Choice", bound=str)

__all__ = [
    "ALIGNS", "HEIGHTS", "LETTER", "NONE", "OUTLINE", "SHADOW",
    "Lettered", "NoBigLetter", "NoLetter", "TooLong", "TooNarrow", "laid", "letter_mask", "lettered",
]  # fmt: skip


class NoLetter(ValueError):
    """Some characters are not drawn; `characters` has each once, in the order of the text."""

    def __init__(self, characters: Sequence[str], height: Height) -> None:
        self.characters = tuple(characters)
        words = f"There is no {height} letter for {_listed(self.characters)}; the middle height has one."
        if any(letter_of(one, "middle") is None for one in self.characters):
            words = f"There is no letter for {_listed(self.characters)}."
        super().__init__(words)


class TooLong(ValueError):
    """The words need more cells than there are; `columns`, `rows` are what they need."""

    def __init__(self, message: str, *, columns: int, rows: int) -> None:
        self.columns, self.rows = columns, rows
        super().__init__(message)


@dataclass(frozen=True)
class Lettered:
    """`cells` (rows, columns) int8: 0 none, 1 letter, 2 outline, 3 shadow; no empty row or column at its edges."""

    cells: Cells

    @property
    def rows(self) -> int:
        return int(self.cells.shape[0])

    @property
    def columns(self) -> int:
        return int(self.cells.shape[1])

    def counts(self) -> tuple[int, int, int]:
        """Cells of letters, outline, shadow."""
        counted = np.bincount(self.cells.ravel(), minlength=4)
        return int(counted[LETTER]), int(counted[OUTLINE]), int(counted[SHADOW])


def lettered(
    text: str,
    *,
    height: str,
    align: str = "centre",
    outline: bool = False,
    shadow: bool = False,
    slanted: bool = False,
    kind: str = "square",
    most_columns: int | None = None,
    most_rows: int | None = None,
) -> Lettered:
    """The text in cells.

    Args:
        text: lines are parted by line ends; spaces at a line's ends and empty lines at the text's ends count for
            nothing. Accented letters are put together from the letter and its marks (Unicode's own decomposition).
        height: ``small``, ``middle``, ``large``: capitals of 5, 7 or 12 cells.
        align: how lines of unequal length stand: ``left``, ``centre``, ``right``.
        outline: one cell around every letter; neighbouring letters share it.
        shadow: down and to the right of letter and outline, one cell deep, two for the large letters.
        slanted: upright strokes lean to the right along the lattice's own slant, half a cell a row, so that they run
            straight on ``offset`` and ``hex``; not on ``square``.
        kind: how the cells stand, which says which cells are neighbours. On ``offset`` and ``hex`` the first row
            is one that does not stand to the right, as on a panel.
        most_columns, most_rows: what there is room for.

    Raises:
        NoLetter: a character is not drawn in this height.
        TooLong: it needs more room than there is, or more than 100,000 cells.
        ValueError: no letters are in it, or another argument is wrong.
    """
    size = _one_of("height", height, HEIGHTS)
    side = _one_of("align", align, ALIGNS)
    _one_of("kind", kind, KINDS)
    if slanted and kind == "square":
        raise ValueError("slanted: letters lean on offset and hex cells only")
    lines = _lines(text, size)
    deep = face(size).shadow if shadow else 0
    # An outline's row above comes first, and moves the letters' first row to one that stands to the right.
    letters = _stood(lines, size, side, deep, lean=(1 if outline else 0) if slanted else None)
    cells = _dressed(letters, deep, outline=outline, staggered=kind != "square")
    _check_room(cells, most_columns, most_rows)
    return Lettered(cells)


def laid(
    text: str,
    lattice: Lattice,
    *,
    height: str,
    align: str = "centre",
    outline: bool = False,
    shadow: bool = False,
    slanted: bool = False,
) -> Cells:
    """The text in the middle of a panel: (rows, columns) as in `Lettered`.

    Raises: as `lettered`.
    """
    written = lettered(
        text,
        height=height,
        align=align,
        outline=outline,
        shadow=shadow,
        slanted=slanted,
        kind=lattice.kind,
        most_columns=lattice.columns,
        most_rows=lattice.rows,
    )
    top = (lattice.rows - written.rows) // 2
    if lattice.staggered:
        top -= top % 2  # its first row was drawn as one that does not stand to the right
    left = (lattice.columns - written.columns) // 2
    cells = np.zeros((lattice.rows, lattice.columns), dtype=np.int8)
    cells[top : top + written.rows, left : left + written.columns] = written.cells
    return cells


# --- the text


def _lines(text: str, height: Height) -> list[list[str]]:
    """Letters with their marks, line by line."""
    if len(text) > MOST_CHARACTERS:
        raise TooLong(f"This has {len(text):,} characters; the most is {MOST_CHARACTERS:,}.", columns=0, rows=0)
    lines = [characters(" ".join(line.split())) for line in speakable(text).splitlines()]
    while lines and not lines[0]:
        lines.pop(0)
    while lines and not lines[-1]:
        lines.pop()
    if not lines:
        raise ValueError("There are no words yet.")
    missing = [one for line in lines for one in line if one != " " and letter_of(one, height) is None]
    if missing:
        raise NoLetter(list(dict.fromkeys(missing)), height)
    return lines


def _listed(characters: Sequence[str]) -> str:
    shown = [_shown(one) for one in characters[:6]]
    if len(characters) > 6:
        return ", ".join(shown) + f" and {len(characters) - 6} more"
    return " and ".join([", ".join(shown[:-1]), shown[-1]]) if len(shown) > 1 else shown[0]


def _shown(character: str) -> str:
    """A character that cannot be seen is called by its number."""
    return character if character.isprintable() else f"U+{ord(character):04X}"


def _one_of(name: str, value: str, choices: Sequence[Choice]) -> Choice:
    for choice in choices:
        if value == choice:
            return choice
    raise ValueError(f"{name}: is {', '.join(choices[:-1])} or {choices[-1]}, not {value!r}")


# --- the cells


def _stood(lines: list[list[str]], height: Height, align: Align, extra: int, *, lean: int | None) -> Marks:
    """All lines in one array, trimmed. `lean`: None upright, else how far the first row stands to the right, in
    half cells."""
    rows = [set_line(line, height, extra=extra) for line in lines]
    if lean is not None:
        rows = [leaning(row, lean - rows[0].top) for row in rows]
    wide = max(row.columns for row in rows)
    lefts = [_left(wide - row.columns, align) for row in rows]
    step = line_step(rows, lefts, face(height), extra=extra)
    if lean is not None:
        step += step % 2  # all lines lean alike
    tops = [number * step + row.top for number, row in enumerate(rows)]
    first = min(tops)
    last = max(top + len(row.cells) for top, row in zip(tops, rows, strict=True))
    if (last - first) * wide > MOST_CELLS:
        raise _too_long(wide, last - first, None, None)
    cells = np.zeros((last - first, wide), dtype=bool)
    for row, top, left in zip(rows, tops, lefts, strict=True):
        cells[top - first : top - first + len(row.cells), left : left + row.columns] |= row.cells
    return cells


def _left(spare: int, align: Align) -> int:
    return {"left": 0, "centre": spare // 2, "right": spare}[align]


def _dressed(letters: Marks, deep: int, *, outline: bool, staggered: bool) -> Cells:
    edge = 1 if outline else 0
    padded = np.pad(letters, ((edge, edge + deep), (edge, edge + deep)))
    body = grown(padded, staggered=staggered) if outline else padded
    cells = np.where(padded, LETTER, np.where(body, OUTLINE, NONE)).astype(np.int8)
    for _ in range(deep):
        body = _fallen(body, staggered=staggered)
        cells[body & (cells == NONE)] = SHADOW
    return cells


def _fallen(body: Marks, *, staggered: bool) -> Marks:
    """A row down and to the right, by a cell, or by half of one where rows stand half a cell apart."""
    fallen = np.zeros_like(body)
    if not staggered:
        fallen[1:, 1:] = body[:-1, :-1]
        return fallen
    upper = body[:-1]
    fallen[1:] |= upper & (np.arange(len(upper)) % 2 == 0)[:, None]
    fallen[1:, 1:] |= (upper & (np.arange(len(upper)) % 2 == 1)[:, None])[:, :-1]
    return fallen


def grown(cells: Marks, *, staggered: bool) -> Marks:
    """The cells and all that touch them: eight round a square one, else six. Row 0 does not stand to the right."""
    rows, columns = cells.shape
    padded = np.pad(cells, 1)
    found = cells.copy()
    for down in (-1, 0, 1):
        for across in (-1, 0, 1):
            moved = padded[1 + down : 1 + down + rows, 1 + across : 1 + across + columns]
            if not (staggered and down):
                found |= moved
                continue
            # From an even row the neighbours above and below stand at the same column and the one left of it.
            mine = np.arange(rows) % 2 == (1 if across > 0 else 0)
            found |= moved & (mine[:, None] if across else np.True_)
    return found


def _check_room(cells: Cells, most_columns: int | None, most_rows: int | None) -> None:
    rows, columns = cells.shape
    if (
        rows * columns > MOST_CELLS
        or (most_columns is not None and columns > most_columns)
        or (most_rows is not None and rows > most_rows)
    ):
        raise _too_long(columns, rows, most_columns, most_rows)


def _too_long(columns: int, rows: int, most_columns: int | None, most_rows: int | None) -> TooLong:
    if most_columns is not None and columns > most_columns:
        words = f"This needs {columns:,} cells across; the most is {most_columns:,}."
    elif most_rows is not None and rows > most_rows:
        words = f"This needs {rows:,} cells from top to bottom; the most is {most_rows:,}."
    else:
        words = f"This needs {columns:,} × {rows:,} cells; the most is {MOST_CELLS:,} in all."
    return TooLong(words, columns=columns, rows=rows)
