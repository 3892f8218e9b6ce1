"""Shades mixed from neighbouring balloons, also where stock is short of what the mix would take."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from decor.calc.picture import dithering
from decor.calc.picture.colour import delta_e_2000, linear_to_srgb, srgb_to_lab, srgb_to_linear
from decor.calc.picture.lattice import Lattice
from decor.calc.picture.matching import match

Floats = npt.NDArray[np.float64]
Marks = npt.NDArray[np.bool_]
Numbers = npt.NDArray[np.int64]

NOTHING = -1
LEAN = 0.2
"""Of cells that were laid alike those give way first whose own colour lies farthest off: by this share of it."""
MOST_TRIED = 12_000
"""Cells up to which both ways of staying within stock are tried: a page must not wait for seconds."""
EYE = np.array([1.0, 4.0, 6.0, 4.0, 1.0]) / 16.0
"""What an eye far off makes of a row of cells: a bell of about one cell (by eye, no source)."""


@dataclass(frozen=True)
class Mix:
    """What is to be mixed: `cells_srgb` (n, 3) what cells ought to be, `palette_srgb` (p, 3), both sRGB 0…1; `used`
    (n,) cells with a balloon; `settled` (n,) palette numbers of cells that stay, -1 of the others; `busy` (n,) cells
    whose error is handed on; `may` (p,) colours that may be chosen; `stock` (p,) cells of each, None without a limit;
    `weights` (n,) how much a cell counts, None for all alike."""

    lattice: Lattice
    cells_srgb: Floats
    palette_srgb: Floats
    used: Marks
    settled: Numbers
    busy: Marks
    may: Marks
    stock: Numbers | None
    weights: Floats | None
    strength: float


def mixed(mix: Mix) -> Numbers:
    """(n,) palette numbers, -1 without a balloon: the diffused chart, within the stock.

    Where the mix would take more than there is, it is either laid freely and the surplus given to the colours that
    come nearest to what was laid, or laid with scarce colours priced, so that the error makes up for substitutes too.
    Neither is better for all pictures: the one is taken that looks nearer from afar.

    Raises NotEnoughStock."""
    laid = _laid(mix, None)
    if mix.stock is None or _fits(laid, mix.stock):
        return laid
    given = _given(mix, laid)
    if len(laid) > MOST_TRIED:
        return given
    priced = _laid(mix, mix.stock)
    return min((given, priced), key=lambda one: from_afar(one, mix))


def _fits(numbers: Numbers, stock: Numbers) -> bool:
    return bool((np.bincount(numbers[numbers >= 0], minlength=len(stock)) <= stock).all())


def _laid(mix: Mix, stock: Numbers | None) -> Numbers:
    """Cells without a balloon stand in a colour of their own that nothing else can take, and need no stock."""
    nothing = len(mix.palette_srgb)
    palette = np.vstack([mix.palette_srgb, [[0.5, 0.5, 0.5]]])
    cells = np.where(mix.used[:, None], mix.cells_srgb, palette[nothing])
    locked = np.where(mix.used, mix.settled, nothing)
    where, allowed = mix.busy & mix.used, np.append(mix.may, False)
    if stock is None:
        laid = dithering.diffuse(
            cells, palette, mix.lattice, strength=mix.strength, where=where, allowed=allowed, locked=locked
        )
    else:
        laid = dithering.diffuse_within(
            cells,
            palette,
            mix.lattice,
            strength=mix.strength,
            stock=np.append(stock, np.count_nonzero(~mix.used)),
            where=where,
            allowed=allowed,
            locked=locked,
        )
    return np.where(laid == nothing, NOTHING, laid)


def _given(mix: Mix, laid: Numbers) -> Numbers:
    """The diffused chart with what is beyond the stock given to the colours that come nearest to what was laid."""
    at = np.flatnonzero(mix.used)
    wanted = (1 - LEAN) * mix.palette_srgb[laid[at]] + LEAN * mix.cells_srgb[at]
    numbers = laid.copy()
    numbers[at] = match(
        wanted,
        mix.palette_srgb,
        stock=mix.stock,
        must_not=np.flatnonzero(~mix.may).tolist(),
        weights=None if mix.weights is None else mix.weights[at],
        locked=mix.settled[at],
    )
    return numbers


def from_afar(numbers: Numbers, mix: Mix) -> float:
    """Mean CIEDE2000 of the chart from what it ought to be, both as an eye sees them that cannot part the cells."""
    shown = np.where((numbers >= 0)[:, None], mix.palette_srgb[np.maximum(numbers, 0)], mix.cells_srgb)
    one, other = (linear_to_srgb(_blurred(srgb_to_linear(colours), mix.lattice)) for colours in (shown, mix.cells_srgb))
    de = delta_e_2000(srgb_to_lab(one), srgb_to_lab(other))
    return float(np.average(de[mix.used], weights=None if mix.weights is None else mix.weights[mix.used]))


def _blurred(light: Floats, lattice: Lattice) -> Floats:
    """(n, 3); the half cell by which some rows stand over does not matter to a bell this wide."""
    grid = light.reshape(lattice.rows, lattice.columns, 3)
    reach = len(EYE) // 2
    for axis in (0, 1):
        margin = [(reach, reach) if one == axis else (0, 0) for one in range(3)]
        wide = np.pad(grid, margin, mode="edge")
        size = grid.shape[axis]
        grid = sum(share * wide.take(range(step, step + size), axis=axis) for step, share in enumerate(EYE))
    return np.asarray(grid.reshape(-1, 3))
