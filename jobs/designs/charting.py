"""From a stored panel to its chart."""

from collections.abc import Sequence
from html import escape

import numpy as np

from decor.calc.picture.chart import Chart
from jobs.designs.catalogue import Catalogue, LatexItem, SheetType
from jobs.designs.models import Panel

NO_COLOUR = "#d8d2c4"
GAP = "#a79e8c"
_DOTS = 'stroke-linecap="round" stroke-dasharray="0 1" stroke-dashoffset="-0.5"'
CELLS_AS = np.dtype("<i2")


def cells_bytes(chart: Chart) -> bytes:
    return chart.cells.astype(CELLS_AS).tobytes()


def cells_array(panel: Panel) -> np.ndarray:
    return np.frombuffer(bytes(panel.cells), dtype=CELLS_AS).reshape(panel.rows, panel.columns)


def chart_of(panel: Panel, sheet: SheetType) -> Chart:
    return Chart(cells_array(panel), sheet.lattice_of(panel.rows, panel.columns))


def palette_of(panel: Panel, catalogue: Catalogue) -> list[LatexItem | None]:
    """The palette's balloons; None for one that was since deleted from stock."""
    return [catalogue.balloon(number) for number in panel.palette]


def hexes(palette: Sequence[LatexItem | None]) -> list[str]:
    return [item.rgb if item else NO_COLOUR for item in palette]


def counts_of(panel: Panel, catalogue: Catalogue) -> list[tuple[LatexItem | None, int]]:
    """Cells of each colour, in the palette's order; colours without a cell too."""
    cells = cells_array(panel)
    numbers = np.bincount(cells[cells >= 0], minlength=len(panel.palette))
    return [(item, int(n)) for item, n in zip(palette_of(panel, catalogue), numbers, strict=True)]


def flat_svg(chart: Chart, palette_hex: Sequence[str], *, title: str, dotted: bool = True) -> str:
    """A chart too large to be drawn balloon by balloon: one line a run, one path a colour. ``dotted``: an empty cell
    has a dot, or it would look like a white balloon."""
    lattice = chart.lattice
    step = lattice.row_pitch_m / lattice.pitch_m
    paths: dict[int, list[str]] = {}
    for row in range(lattice.rows):
        at = lattice.row_shift_pitches(row)
        for colour, length in chart.runs(row):
            paths.setdefault(colour, []).append(f"M{at:g} {(row + 0.5) * step:.2f}h{length}")
            at += length
    gaps = "".join(paths.pop(-1, [])) if dotted else ""
    drawn = "".join(
        f'<path d="{"".join(parts)}" stroke="{palette_hex[colour]}"/>'
        for colour, parts in sorted(paths.items())
        if colour >= 0
    )
    if gaps:
        drawn += f'<path class="gaps" d="{gaps}" stroke="{GAP}" stroke-width="0.3" {_DOTS}/>'
    return (
        f'<svg class="net" viewBox="0 0 {lattice.width_pitches:g} {lattice.rows * step:.2f}" role="img" '
        f'aria-label="{escape(title)}"><g fill="none" stroke-width="{step * 1.02:.3f}">{drawn}</g></svg>'
    )
