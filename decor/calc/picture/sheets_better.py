"""Looks for a cheaper plan among the sheets that the prices of `sheets_bound` leave in question."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from decor.calc.picture.sheets_costs import Floats, Ground, Place, SheetSize

MOST_CHOICES = 500
"""Positions that the solver may choose from: the ones that cost least above the prices below them."""


class Better(NamedTuple):
    places: list[Place] | None
    bound: float


def better(
    ground: Ground,
    sizes: Sequence[SheetSize],
    costs: Sequence[Floats],
    over: Sequence[Floats],
    known: Sequence[Place],
    *,
    seconds: float,
) -> Better:
    """An exact cover of the filled cells by sheets of the smallest cost, by HiGHS, within so many seconds.

    Args:
        over: by size, (tall, wide): what a sheet costs above the prices of its cells, infinite where it may not lie.
        known: a plan; its sheets are always among the choices.

    Returns:
        `places` None where no plan cheaper than the known one was found; `bound` above 0 only where all positions
        were among the choices.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csc_matrix

    choices = _choices(ground, over, known)
    worth = np.array([costs[size][row, column] for row, column, size in choices])
    cells = _cells(ground, sizes, choices)
    entries, starts = np.concatenate(cells), np.cumsum([0, *(len(cell) for cell in cells)])
    rows = _alike(entries, starts, int(ground.filled.size))
    matrix = csc_matrix((np.ones(len(entries)), rows[entries], starts), shape=(int(rows.max()) + 1, len(choices)))
    matrix.sum_duplicates()
    matrix.data[:] = 1.0
    ones = np.ones(matrix.shape[0])
    answer = milp(
        worth,
        constraints=LinearConstraint(matrix, ones, ones),
        bounds=Bounds(0, 1),
        integrality=np.ones(len(choices)),
        options={"time_limit": seconds, "mip_rel_gap": 1e-6},
    )
    everywhere = sum(int(np.isfinite(array).sum()) for array in over) <= MOST_CHOICES
    proved = getattr(answer, "mip_dual_bound", None) if everywhere else None
    bound = float(proved) if proved is not None and np.isfinite(proved) else 0.0
    if answer.x is None:
        return Better(None, bound)
    taken = np.flatnonzero(answer.x > 0.5)
    have = sum(costs[size][row + ground.above, column + ground.left] for row, column, size in known)
    if worth[taken].sum() > have - 1e-9:
        return Better(None, bound)
    chosen = [choices[n] for n in taken]
    return Better([Place(row - ground.above, column - ground.left, size) for row, column, size in chosen], bound)


def _choices(ground: Ground, over: Sequence[Floats], known: Sequence[Place]) -> list[tuple[int, int, int]]:
    all_over = np.concatenate([array.ravel() for array in over])
    most = min(MOST_CHOICES, int(np.isfinite(all_over).sum()))
    near = np.argpartition(all_over, most - 1)[:most] if most else np.empty(0, dtype=np.int64)
    per = over[0].size
    found = {(int(n % per // ground.wide), int(n % per % ground.wide), int(n // per)) for n in near}
    found |= {(row + ground.above, column + ground.left, size) for row, column, size in known}
    return sorted((row, column, size) for row, column, size in found)


def _cells(
    ground: Ground, sizes: Sequence[SheetSize], choices: Sequence[tuple[int, int, int]]
) -> list[npt.NDArray[np.int64]]:
    across = ground.filled.shape[1]
    found = []
    for row, column, size in choices:
        part = ground.filled[row : row + sizes[size].rows, column : column + sizes[size].columns]
        down, right = np.nonzero(part)
        found.append((row + down) * across + column + right)
    return found


def _alike(entries: npt.NDArray[np.int64], starts: npt.NDArray[np.int64], cells: int) -> npt.NDArray[np.int64]:
    """(cells,) the number of a cell's row in the program: cells under the same choices share one."""
    keys = np.random.default_rng(7).integers(1, 2**62, len(starts) - 1)
    mark = np.zeros(cells, dtype=np.int64)
    np.add.at(mark, entries, np.repeat(keys, np.diff(starts)))
    there = np.unique(entries)
    _, numbers = np.unique(mark[there], return_inverse=True)
    rows = np.zeros(cells, dtype=np.int64)
    rows[there] = numbers
    return rows
