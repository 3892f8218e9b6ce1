"""Cells of one colour and weight as one group: what a matching works on, and how its answer comes back to cells."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from decor.calc.picture.colour import delta_e_2000_table, srgb_to_lab

Floats = npt.NDArray[np.float64]
Singles = npt.NDArray[np.float32]
Numbers = npt.NDArray[np.int64]

_KEY_STEPS = (1 << 20) - 1
"""Cells closer than this many steps of 0…1 count as one colour (under 0.0002 in difference)."""


@dataclass(frozen=True)
class Problem:
    """Cells of one colour and weight as groups: `table` (g, p) what one of a group costs in a colour, `sizes` (g,),
    `group` (n,) each cell's; `colours` (g, 3) and `palette` (p, 3) sRGB, `weights` (g,) or None."""

    table: Singles
    sizes: Numbers
    group: Numbers
    colours: Floats
    palette: Floats
    weights: Floats | None


def problem_of(cells: Floats, palette: Floats, weights: Floats | None) -> Problem:
    firsts, group = distinct(cells, weights)
    sizes = np.bincount(group, minlength=len(firsts))
    heavy = None if weights is None else weights[firsts]
    return Problem(costs_of(cells[firsts], palette, heavy), sizes, group, cells[firsts], palette, heavy)


def costs_of(colours: Floats, palette: Floats, weights: Floats | None) -> Singles:
    table = delta_e_2000_table(srgb_to_lab(colours), srgb_to_lab(palette))
    if weights is not None:
        table *= table
        table *= weights.astype(np.float32)[:, None]
    return table


def distinct(cells: Floats, weights: Floats | None) -> tuple[Numbers, Numbers]:
    """The first cell of each distinct colour and weight, and each cell's group among those."""
    step = np.rint(cells * _KEY_STEPS).astype(np.int64)
    key = (step[:, 0] << 40) | (step[:, 1] << 20) | step[:, 2]
    if weights is not None:
        kinds, own = np.unique(weights, return_inverse=True)
        key = np.unique(key, return_inverse=True)[1] * len(kinds) + own
    _, firsts, group = np.unique(key, return_index=True, return_inverse=True)
    return firsts, group.ravel()


def coarse_groups(problem: Problem, bits: int = 5) -> tuple[Floats, Floats, Floats | None]:
    """Groups merged at so many bits a channel: their mean colours, how many cells each stands for, their mean
    weights."""
    colours, sizes = problem.colours, problem.sizes
    steps = 1 << bits
    step = np.minimum(colours * steps, steps - 1).astype(np.int64)
    code = (step[:, 0] << 2 * bits) | (step[:, 1] << bits) | step[:, 2]
    if problem.weights is not None:
        # What counts much must not be taken together with what counts little.
        code = (code << 3) | np.clip(np.rint(2.0 * np.log2(problem.weights)), -1, 6).astype(np.int64) + 1
    cells = np.bincount(code, sizes).astype(np.float64)
    used = np.flatnonzero(cells)
    sums = np.stack([np.bincount(code, sizes * colours[:, channel]) for channel in range(3)], axis=1)
    means = np.asarray(np.minimum(sums[used] / cells[used, None], 1.0))
    if problem.weights is None:
        return means, cells[used], None
    return means, cells[used], np.bincount(code, sizes * problem.weights)[used] / cells[used]


def handed_out(group: Numbers, groups: Numbers, colours: Numbers, amounts: Numbers) -> Numbers:
    """Gives each group's colours to its cells, first come first served."""
    matched = np.empty(len(group), dtype=np.int64)
    by_group = np.argsort(groups, kind="stable")
    matched[np.argsort(group, kind="stable")] = np.repeat(colours[by_group], amounts[by_group])
    return matched
