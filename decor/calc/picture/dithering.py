"""Error diffusion: what a cell's balloon misses of its colour is made up for by its neighbours.

From far off a panel shows colours that no balloon has. What is missed is counted in linear light, as that is what the
eye mixes; the nearest balloon is looked for in OKLab with doubled chroma, in which distances come near to CIEDE2000 at
little cost (B. Ottosson, "A perceptual color space for image processing", 2020; the doubling by trial). Weights on a
square lattice: R. W. Floyd, L. Steinberg, "An adaptive algorithm for spatial grey scale", Proc. SID 17(2), 1976; on
staggered ones half goes forward and a quarter to each of the two cells below (tried, no source).
Cells that wait for nothing from each other are done at once, row after row slanting over the panel.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from decor.calc.picture.colour import checked_srgb, srgb_to_linear
from decor.calc.picture.flows import place
from decor.calc.picture.lattice import Lattice
from decor.calc.picture.matching import NotEnoughStock

Floats = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.int64]
Marks = npt.NDArray[np.bool_]

_CHROMA = 2.0
_BEYOND = 0.4
"""How far beyond black and full light a debt may lead: less makes dark parts too light, more gains nothing (tried on
three photographs)."""
_SIZES = (1_200, 3_000, 7_000)
_STRENGTHS = (0.0, 0.6, 0.75)
"""Of photographs, by their cells; between these in proportion (common practice, no source; judged by eye)."""

_PRICE_ROUNDS = 3
_PRICED_CELLS = 3_000
"""Cells, evenly over the panel, that prices are worked out from: they need not be exact."""
_COST_SCALE = 1_000.0
"""Squared OKLab as a cost of about CIEDE2000's size, which the flow counts in whole ten-thousandths."""
_NEAR_ENOUGH = 1e-3

_LINEAR_TO_CONES = np.array(
    [
        [0.4122214708, 0.5363325363, 0.0514459929],
        [0.2119034982, 0.6806995451, 0.1073969566],
        [0.0883024619, 0.2817188376, 0.6299787005],
    ]
)
_CONES_TO_LAB = np.array(
    [
        [0.2104542553, 0.7936177850, -0.0040720468],
        [1.9779984951, -2.4285922050, 0.4505937099],
        [0.0259040371, 0.7827717662, -0.8086757660],
    ]
)


@dataclass(frozen=True)
class _Way:
    """The order of a lattice's cells: `waves` of cells done at once; `next_to` (n, 4) the cells that get a share of
    the error, n where there is none; `shares` (4,)."""

    waves: tuple[Numbers, ...]
    next_to: Numbers
    shares: Floats


def strength_for(kind: str, cells: int) -> float:
    """How strongly to diffuse, 0…1: flat art never, photographs the more the larger they are.

    Args:
        kind: ``flat`` or ``photograph``.
        cells: of the panel, from 1.

    >>> strength_for("flat", 7000), strength_for("photograph", 900), strength_for("photograph", 7000)
    (0.0, 0.0, 0.75)
    """
    if kind not in ("flat", "photograph"):
        raise ValueError(f"kind: is flat or photograph, not {kind!r}")
    if cells < 1:
        raise ValueError(f"cells: must be 1 or more, not {cells}")
    return 0.0 if kind == "flat" else float(np.interp(cells, _SIZES, _STRENGTHS))


def diffuse(
    cells_srgb: npt.ArrayLike,
    palette_srgb: npt.ArrayLike,
    lattice: Lattice,
    *,
    strength: float,
    where: npt.ArrayLike | None = None,
    allowed: npt.ArrayLike | None = None,
    locked: npt.ArrayLike | None = None,
) -> Numbers:
    """A palette number for each cell, with the error handed on.

    Args:
        cells_srgb: (n, 3) sRGB 0…1, row by row, n the lattice's cells.
        palette_srgb: (p, 3) sRGB 0…1, p from 1.
        strength: 0…1, the share of the error that is handed on; 0 gives each cell its nearest colour (in OKLab with
            doubled chroma).
        where: (n,) cells that take part; the others take their nearest colour and neither give nor get. All of them
            by default.
        allowed: (p,) colours that may be chosen; all by default.
        locked: (n,) palette number of a settled cell, which still hands its error on; -1 for the others.

    Returns:
        (n,) numbers 0…p-1.

    Raises:
        ValueError: an argument is not as described; ``allowed`` when it leaves no colour.

    >>> from decor.calc.picture.lattice import Lattice
    >>> diffuse([[0.6] * 3] * 6, [[0, 0, 0], [1, 1, 1]], Lattice("square", 2, 3, 0.1), strength=1.0).tolist()
    [1, 0, 1, 0, 1, 0]
    """
    task = _task(cells_srgb, palette_srgb, lattice, strength, where, allowed, locked)
    return _laid(task, np.zeros(len(task.palette)))[0]


def diffuse_within(
    cells_srgb: npt.ArrayLike,
    palette_srgb: npt.ArrayLike,
    lattice: Lattice,
    *,
    strength: float,
    stock: npt.ArrayLike,
    where: npt.ArrayLike | None = None,
    allowed: npt.ArrayLike | None = None,
    locked: npt.ArrayLike | None = None,
) -> Numbers:
    """`diffuse` with no colour used oftener than its ``stock``.

    Colours are priced by their scarcity while the error is handed on, so that it makes up for the substitutes too;
    what is still too much of a colour at the end goes where it is missed least.

    Args:
        stock: (p,) whole balloons of each colour, from 0; locked cells take theirs from it.

    Raises:
        NotEnoughStock: the stock does not reach for all cells.
        ValueError: as `diffuse`.
    """
    task = _task(cells_srgb, palette_srgb, lattice, strength, where, allowed, locked)
    room = _room(stock, task)
    free = np.flatnonzero(task.locked < 0)
    numbers, aims = _laid(task, np.zeros(len(room)))
    prices = np.zeros(len(room))
    for _ in range(_PRICE_ROUNDS):
        if bool(np.all(np.bincount(numbers[free], minlength=len(room)) <= room)):
            return numbers
        prices = _prices(aims[free], task.palette, room, prices)
        numbers, aims = _laid(task, prices)
    placed = place(
        _distances(aims[free], task.palette),
        np.ones(len(free), dtype=np.int64),
        room,
        prices=prices * _COST_SCALE,
        tolerance=_NEAR_ENOUGH,
    )
    numbers[free[placed.groups]] = placed.colours
    return numbers


def _room(stock: npt.ArrayLike, task: "_Task") -> Numbers:
    """(p,) what the locked cells leave of the stock for the others."""
    given = np.asarray(stock)
    if given.shape != (len(task.palette),):
        raise ValueError(f"stock: needs one number for each of {len(task.palette)} colours, has {given.shape}")
    if given.dtype.kind not in "iuf" or not bool(np.all((given >= 0) & (given == np.floor(given)))):
        raise ValueError("stock: must be whole numbers of balloons from 0")
    cells = len(task.locked)
    settled = task.locked[task.locked >= 0]
    left = np.minimum(given, cells).astype(np.int64) - np.bincount(settled, minlength=len(given))
    room = np.where(task.allowed, np.maximum(left, 0), 0)
    short_by = max(0, cells - len(settled) - int(room.sum())) - int(np.minimum(left, 0).sum())
    if short_by > 0:
        raise NotEnoughStock(short_by)
    return room


def _prices(aims: Floats, palette: Floats, room: Numbers, guess: Floats) -> Floats:
    """(p,) what one more balloon of each colour would save, in squared OKLab."""
    some = aims[:: -(-len(aims) // _PRICED_CELLS)]
    part = np.ceil(room * (len(some) / len(aims))).astype(np.int64)
    placed = place(
        _distances(some, palette),
        np.ones(len(some), dtype=np.int64),
        part,
        prices=guess * _COST_SCALE,
        tolerance=_NEAR_ENOUGH,
    )
    return placed.prices / _COST_SCALE


def _distances(aims: Floats, palette: Floats) -> Floats:
    """(m, p) squared OKLab, as costs."""
    goals = _oklab(palette)
    squared = (aims**2).sum(axis=1)[:, None] - 2.0 * aims @ goals.T + (goals**2).sum(axis=1)
    return np.asarray(np.maximum(squared, 0.0) * _COST_SCALE)


@dataclass(frozen=True)
class _Task:
    light: Floats
    palette: Floats
    way: _Way
    strength: float
    busy: Marks
    allowed: Marks
    locked: Numbers


def _task(
    cells_srgb: npt.ArrayLike,
    palette_srgb: npt.ArrayLike,
    lattice: Lattice,
    strength: float,
    where: npt.ArrayLike | None,
    allowed: npt.ArrayLike | None,
    locked: npt.ArrayLike | None,
) -> _Task:
    cells = checked_srgb("cells_srgb", cells_srgb)
    palette = checked_srgb("palette_srgb", palette_srgb)
    if cells.shape != (lattice.cells, 3):
        raise ValueError(f"cells_srgb: the lattice has {lattice.cells:,} cells, given is {cells.shape}")
    if palette.ndim != 2 or not len(palette):
        raise ValueError("palette_srgb: needs at least one colour")
    if not 0.0 <= strength <= 1.0:
        raise ValueError(f"strength: must be between 0 and 1, not {strength}")
    may = _marks("allowed", allowed, len(palette))
    if not may.any():
        raise ValueError("allowed: leaves no colour to choose from")
    return _Task(
        light=srgb_to_linear(cells),
        palette=srgb_to_linear(palette),
        way=_way(lattice),
        strength=strength,
        busy=_marks("where", where, len(cells)),
        allowed=may,
        locked=_locked(locked, len(cells), len(palette)),
    )


def _marks(name: str, given: npt.ArrayLike | None, count: int) -> Marks:
    if given is None:
        return np.ones(count, dtype=np.bool_)
    marks = np.asarray(given)
    if marks.shape != (count,) or marks.dtype != np.bool_:
        raise ValueError(f"{name}: needs {count:,} times yes or no, is {marks.dtype} {marks.shape}")
    return marks


def _locked(given: npt.ArrayLike | None, cells: int, colours: int) -> Numbers:
    if given is None:
        return np.full(cells, -1)
    numbers = np.asarray(given)
    if numbers.shape != (cells,) or numbers.dtype.kind not in "iu":
        raise ValueError(f"locked: needs a whole number for each of {cells:,} cells")
    if cells and (numbers.min() < -1 or numbers.max() >= colours):
        raise ValueError(f"locked: numbers are -1 or below {colours}")
    return numbers.astype(np.int64)


def _oklab(light: Floats) -> Floats:
    lab = np.cbrt(light @ _LINEAR_TO_CONES.T) @ _CONES_TO_LAB.T
    return np.asarray(lab * (1.0, _CHROMA, _CHROMA))


def _way(lattice: Lattice) -> _Way:
    rows, columns = lattice.rows, lattice.columns
    row, column = np.divmod(np.arange(lattice.cells), columns)
    if lattice.staggered:
        # Under an even row the two below stand at column-1 and column, under an odd one at column and column+1.
        left = column - 1 + row % 2
        steps = [(row, column + 1), (row + 1, left), (row + 1, left + 1)]
        shares, wave = np.array([0.5, 0.25, 0.25]), column + (3 * row + 1) // 2
    else:
        steps = [(row, column + 1), (row + 1, column - 1), (row + 1, column), (row + 1, column + 1)]
        shares, wave = np.array([7.0, 3.0, 5.0, 1.0]) / 16.0, column + 2 * row
    next_to = np.stack(
        [
            np.where((down < rows) & (across >= 0) & (across < columns), down * columns + across, lattice.cells)
            for down, across in steps
        ],
        axis=1,
    )
    order = np.argsort(wave, kind="stable")
    waves = np.split(order, np.flatnonzero(np.diff(wave[order])) + 1)
    return _Way(tuple(waves), next_to, shares)


def _laid(task: _Task, prices: Floats) -> tuple[Numbers, Floats]:
    """The numbers, and what each cell aimed at in OKLab: its colour and what its neighbours had missed. ``prices``
    (p,) make a colour seem further off, in squared OKLab."""
    count = len(task.light)
    # The last one catches what runs over the edge.
    owed = np.zeros((count + 1, 3))
    busy = np.append(task.busy, False)
    numbers, aims = np.empty(count, dtype=np.int64), np.empty((count, 3))
    seen = _oklab(task.palette)
    heights = np.where(task.allowed, (seen**2).sum(axis=1) + prices, np.inf)
    across = -2.0 * seen.T
    for wave in task.way.waves:
        # What no light can make up for is let go, or it would smear over the picture.
        wanted = np.clip(task.light[wave] + owed[wave], -_BEYOND, 1.0 + _BEYOND)
        aims[wave] = aim = _oklab(np.clip(wanted, 0.0, 1.0))
        settled = task.locked[wave]
        chosen = np.where(settled >= 0, settled, (aim @ across + heights).argmin(axis=1))
        numbers[wave] = chosen
        if task.strength:
            missed = np.where(task.busy[wave, None], (wanted - task.palette[chosen]) * task.strength, 0.0)
            for step, share in enumerate(task.way.shares):
                onto = task.way.next_to[wave, step]
                # Of one wave no two hand to the same cell by the same step.
                owed[onto] += np.where(busy[onto, None], missed * share, 0.0)
    return numbers, aims
