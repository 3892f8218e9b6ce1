"""Two painters at one chart: whose cell stands where.

A stroke says of every cell what the painter saw there and what it is to be. Where the chart still shows what the
painter saw, the stroke is done; where somebody else painted meanwhile, nothing is done and the cell is told."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Numbers = npt.NDArray[np.int64]
Marks = npt.NDArray[np.bool_]

UNKNOWN = -2
"""A colour that the chart does not have: never what it shows."""


@dataclass(frozen=True)
class Stroke:
    """Cells by number, row by row, each once, with the colour that each is to have and the one that was seen."""

    at: Numbers
    now: Numbers
    was: Numbers

    def __len__(self) -> int:
        return len(self.at)


@dataclass(frozen=True)
class Merged:
    """`done` marks the stroke's cells that are as it wants them now, the others somebody else painted."""

    cells: Numbers
    done: Marks


def merged(cells: npt.NDArray[np.integer], stroke: Stroke) -> Merged:
    """(n,) colours with the stroke in them, wherever nobody else has painted since it was drawn."""
    after = cells.astype(np.int64)
    seen = after[stroke.at]
    done = (seen == stroke.was) | (seen == stroke.now)
    after[stroke.at[done]] = stroke.now[done]
    return Merged(after, done)


def stroke_of_runs(runs: Sequence[int], cells: int) -> Stroke:
    """Of a flat list: start, length, colour, colour before, and again; runs in rising order, none over another.

    Raises ValueError where it is no such list.

    >>> stroke_of_runs([2, 3, 1, 0], 9).at.tolist()
    [2, 3, 4]
    """
    if not isinstance(runs, list) or any(type(part) is not int for part in runs):
        raise ValueError("runs: must be a list of whole numbers")
    if not runs or len(runs) % 4 or len(runs) > 4 * cells or max(runs) > cells or min(runs) < -1:
        raise ValueError("runs: must be start, length, colour and colour before, within the chart")
    starts, lengths, now, was = np.array(runs, dtype=np.int64).reshape(-1, 4).T
    stops = starts + lengths
    if lengths.min() < 1 or starts.min() < 0 or stops[-1] > cells or bool((starts[1:] < stops[:-1]).any()):
        raise ValueError("runs: must rise and lie within the chart")
    before = np.cumsum(lengths) - lengths
    at = np.arange(int(lengths.sum())) + np.repeat(starts - before, lengths)
    return Stroke(at, np.repeat(now, lengths), np.repeat(was, lengths))


def runs_of(at: Numbers, *values: Numbers) -> list[int]:
    """A flat list of start, length and the values, as `stroke_of_runs` reads them; `at` rises."""
    if not len(at):
        return []
    table = np.stack(values, axis=1)
    breaks = np.flatnonzero((np.diff(at) != 1) | (np.diff(table, axis=0) != 0).any(axis=1)) + 1
    starts = np.concatenate([[0], breaks])
    lengths = np.diff(np.concatenate([starts, [len(at)]]))
    flat: list[int] = np.column_stack([at[starts], lengths, table[starts]]).ravel().tolist()
    return flat
