"""From a picture to a chart, and from a stored panel to a chart."""

from collections.abc import Sequence
from html import escape

import numpy as np

from decor.calc.picture.chart import Chart
from decor.calc.picture.matching import match
from decor.calc.picture.sampling import sample_for
from decor.calc.picture.sheets import Join, plan_grid
from jobs.designs.catalogue import Catalogue, LatexItem, SheetType
from jobs.designs.fits import Fit
from jobs.designs.images import picture_array
from jobs.designs.models import Panel

NO_COLOUR = "#d8d2c4"
CELLS_AS = np.dtype("<i2")


def cells_bytes(chart: Chart) -> bytes:
    return chart.cells.astype(CELLS_AS).tobytes()


def cells_array(panel: Panel) -> np.ndarray:
    return np.frombuffer(bytes(panel.cells), dtype=CELLS_AS).reshape(panel.rows, panel.columns)


def chart_of(panel: Panel, sheet: SheetType) -> Chart:
    return Chart(cells_array(panel), sheet.lattice_of(panel.rows, panel.columns))


def joins_of(sheet: SheetType, rows: int, columns: int) -> tuple[Join, ...]:
    return plan_grid(rows, columns, sheet.rows, sheet.columns).joins


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


def flat_svg(chart: Chart, palette_hex: Sequence[str], *, title: str) -> str:
    """A chart too large to be drawn balloon by balloon: one line a run, one path a colour."""
    lattice = chart.lattice
    step = lattice.row_pitch_m / lattice.pitch_m
    paths: dict[int, list[str]] = {}
    for row in range(lattice.rows):
        at = lattice.row_shift_pitches(row)
        for colour, length in chart.runs(row):
            if colour >= 0:
                paths.setdefault(colour, []).append(f"M{at:g} {(row + 0.5) * step:.2f}h{length}")
            at += length
    drawn = "".join(
        f'<path d="{"".join(parts)}" stroke="{palette_hex[colour]}"/>' for colour, parts in sorted(paths.items())
    )
    return (
        f'<svg class="net" viewBox="0 0 {lattice.width_pitches:g} {lattice.rows * step:.2f}" role="img" '
        f'aria-label="{escape(title)}"><g fill="none" stroke-width="{step * 1.02:.3f}">{drawn}</g></svg>'
    )


def chart_from_picture(
    data: bytes, fit: Fit, items: Sequence[LatexItem], *, stock: Sequence[int] | None = None
) -> Chart:
    """The picture in these colours, numbers as in `items`; `stock` is how many cells each may fill.

    Raises NotEnoughStock where they cannot fill all cells, PictureRefused where the picture does not open.
    """
    lattice = fit.sheet.lattice_of(fit.rows, fit.columns)
    palette = np.array([item.srgb for item in items])
    cells = sample_for(picture_array(data, lattice.cells), lattice, palette)
    return Chart(match(cells, palette, stock=stock).reshape(fit.rows, fit.columns), lattice)
