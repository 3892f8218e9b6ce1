"""Cells of a standing chart that a chart made anew leaves alone."""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from decor.calc.pieces.panel import LOADINGS
from jobs.designs.catalogue import Catalogue
from jobs.designs.charting import cells_array
from jobs.designs.models import Panel
from jobs.designs.pictures.aiming import Plot
from jobs.designs.pictures.plots import fitted
from jobs.designs.pictures.recipe import bytes_bits

Marks = npt.NDArray[np.bool_]
Numbers = npt.NDArray[np.int64]

FREE, STAYS_EMPTY = -1, -2


@dataclass(frozen=True)
class Kept:
    """Cells that a chart made anew leaves alone: (n,) palette numbers, -2 for one that is to stay without a balloon,
    -1 for a free cell; and which of them were painted by hand, which locked."""

    numbers: Numbers
    painted: Marks
    locked: Marks

    @property
    def any(self) -> bool:
        return bool((self.numbers != FREE).any())

    @property
    def count(self) -> int:
        return int(np.count_nonzero(self.numbers != FREE))


def by_hand(panel: Panel | None) -> int:
    """How many cells of the chart that stands were painted by hand or locked."""
    if panel is None:
        return 0
    size = panel.rows * panel.columns
    painted, locked = (bytes_bits(bytes(data), size) for data in (panel.painted, panel.locked))
    return int(np.count_nonzero(painted | locked))


def gone_words(number: int) -> str:
    """After a chart was taken over: what went with the one before it."""
    if not number:
        return ""
    cells = _cells_words(number).capitalize()
    return f"{cells} painted by hand or locked went with the earlier chart; it can be put back."


def kept_of(plot: Plot, panel: Panel | None, catalogue: Catalogue) -> tuple[Plot, Kept, tuple[str, ...]]:
    """What stays of the standing chart; a colour that only such a cell has joins the palette."""
    cells = plot.lattice.cells
    nothing = Kept(np.full(cells, FREE), np.zeros(cells, dtype=bool), np.zeros(cells, dtype=bool))
    if panel is None:
        return plot, nothing, ()
    size = panel.rows * panel.columns
    painted, locked = (bytes_bits(bytes(data), size) for data in (panel.painted, panel.locked))
    stays = locked | (painted & plot.recipe.keep_painted)
    if not stays.any():
        return plot, nothing, ()
    if (panel.rows, panel.columns) != (plot.lattice.rows, plot.lattice.columns):
        n = int(np.count_nonzero(stays))
        return plot, nothing, (f"The size is another one: {_cells_words(n)} painted by hand or locked cannot be kept.",)
    fitting = catalogue.fitting(plot.sheet.sized_diameter_m, LOADINGS[plot.recipe.loading].shape)
    stands = cells_array(panel).astype(np.int64).ravel()
    items, numbers = list(plot.items), np.full(cells, FREE)
    for at in np.unique(stands[stays]):
        item = fitted(catalogue.balloon(panel.palette[at]), fitting) if at >= 0 else None
        if item and item not in items:
            items.append(item)
        number = STAYS_EMPTY if at < 0 else items.index(item) if item else FREE
        numbers[stays & (stands == at)] = number
    lasting = numbers != FREE
    kept = Kept(numbers, painted & lasting, locked & lasting)
    return replace(plot, items=tuple(items)), kept, ()


def _cells_words(number: int) -> str:
    return "one cell" if number == 1 else f"{number:,} cells"
