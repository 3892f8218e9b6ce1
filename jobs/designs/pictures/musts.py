"""Colours that must be used: whether they can be, and one cell at least for each."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from decor.calc.picture.colour import delta_e_2000, srgb_to_lab
from jobs.designs.pictures.aiming import MakingRefused, Plot

Floats = npt.NDArray[np.float64]
Marks = npt.NDArray[np.bool_]
Numbers = npt.NDArray[np.int64]


def musts_of(plot: Plot, fixed: Numbers, used: Marks, stock: Numbers | None, day: str) -> list[int]:
    """Palette numbers of the colours that must be used; one without balloons for this sheet falls out, and is told
    with the plot. `fixed` (n,) are the settled cells' numbers, -1 elsewhere; `stock` (p,) cells of each colour.

    Raises MakingRefused where one of them can have no cell.
    """
    must = [number for number in map(plot.number_of, plot.recipe.must) if number >= 0]
    lacking = [number for number in must if not (fixed == number).any()]
    none = [plot.items[number].words for number in lacking if stock is not None and not stock[number]]
    if none:
        some = " and ".join(none)
        raise MakingRefused("must", f"No {some} balloons are free on {day}: untick {some} here, or the limit by stock.")
    room = int(np.count_nonzero(used & (fixed < 0)))
    if len(lacking) > room:
        named = ", ".join(plot.items[number].words for number in lacking)
        left = "no cell is" if not room else "only one cell is" if room == 1 else f"only {room:,} cells are"
        raise MakingRefused("must", f"For {named} {left} left: all others are painted by hand, locked or settled.")
    return must


def with_musts(
    numbers: Numbers,
    must: Sequence[int],
    *,
    cells_srgb: Floats,
    palette_srgb: Floats,
    may: Marks,
    weights: Floats | None,
) -> Numbers:
    """The chart with a cell for each colour of `must` that mixing or gathering left without one: the cell that loses
    least by it (CIEDE2000 times its weight), one colour after the other.

    Args:
        numbers: (n,) palette numbers, -1 without a balloon.
        cells_srgb: (n, 3) what the cells ought to be, sRGB 0…1.
        palette_srgb: (p, 3) sRGB 0…1.
        may: (n,) cells that may be changed.
        weights: (n,) how much a cell counts, None for all alike.

    Raises:
        MakingRefused: no cell can be spared.
    """
    numbers = numbers.copy()
    counts = np.bincount(numbers[numbers >= 0], minlength=len(palette_srgb))
    lab, seen = srgb_to_lab(cells_srgb), srgb_to_lab(palette_srgb)
    for number in (one for one in must if not counts[one]):
        # The only cell of another colour that must be used is not to spare.
        last = (counts == 1) & np.isin(np.arange(len(counts)), must)
        spare = np.flatnonzero(may & (numbers >= 0) & ~last[np.maximum(numbers, 0)])
        if not len(spare):
            raise MakingRefused("must", "There are not enough cells for all the colours that must be used.")
        loss = delta_e_2000(lab[spare], seen[number]) - delta_e_2000(lab[spare], seen[numbers[spare]])
        at = spare[int(np.argmin(loss if weights is None else loss * weights[spare]))]
        counts[numbers[at]] -= 1
        counts[number] += 1
        numbers[at] = number
    return numbers
