"""What the page of a photographed paper shows: the chart as it was read, and its open questions."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from django.utils.safestring import SafeString, mark_safe

from decor.calc.picture.chart import EMPTY, Chart
from decor.calc.picture.colour import srgb_to_lab
from decor.calc.picture.lattice import Lattice
from decor.calc.picture.paper import PaperPart
from jobs.designs.catalogue import LatexItem
from jobs.designs.charting import NO_COLOUR, flat_svg
from jobs.designs.drawing import balloons_svg
from jobs.designs.models import ChartPaper, PaperPage
from jobs.designs.paper import services
from jobs.designs.paper.reading import CROP_PX

MOST_DRAWN = 12_000
"""Cells that are drawn one by one."""
_WHITE_LIGHTNESS = 85.0
"""CIE L* above which a balloon is what somebody means who leaves paper white."""


def questions(page: PaperPage, part: PaperPart, palette: Sequence[LatexItem | None]) -> list[dict[str, Any]]:
    """One for each cell that nobody has looked at yet: where it is, its picture, the likely answers."""
    cells, second = services.numbers(page.cells), services.numbers(page.second)
    found = []
    for cell in page.unsure:
        likely = dict.fromkeys([int(cells[cell]), int(second[cell]), EMPTY])
        row, column = divmod(cell, part.columns)
        found.append(
            {
                "name": f"cell-{page.number}-{cell}",
                "row": part.row_start + row + 1,
                "column": part.column_start + column + 1,
                "page": page,
                "crop_x": page.asked.index(cell) * CROP_PX,
                "crops_width": len(page.asked) * CROP_PX,
                "answers": [(number, palette[number] if number >= 0 else None) for number in likely],
                "chosen": int(cells[cell]),
            }
        )
    return found


def first_white(paper: ChartPaper, pages: Sequence[PaperPage], palette: Sequence[LatexItem | None]) -> dict[str, Any]:
    """The lightest colour that no pen was used for, as white cells are mostly meant as white balloons."""
    used = {int(number) for page in pages for number in np.unique(services.numbers(page.cells))}
    light = {
        at: float(srgb_to_lab(np.array(item.srgb))[0]) for at, item in enumerate(palette) if item and at not in used
    }
    best = max(light, key=lambda at: light[at], default=None)
    panel = getattr(paper.piece, "panel", None)
    white = paper.palette[best] if best is not None and light[best] > _WHITE_LIGHTNESS else ""
    return {"panel_version": panel.version if panel else 0, "white": white}


def drawn(
    paper: ChartPaper,
    lattice: Lattice,
    pages: Sequence[PaperPage],
    parts: Sequence[PaperPart],
    palette: Sequence[LatexItem | None],
) -> SafeString:
    chart = Chart(services.paper_cells(pages, parts, paper.rows, paper.columns), lattice)
    colours = [item.rgb if item else NO_COLOUR for item in palette]
    title = f"{paper.piece.title} as it was read"
    if lattice.cells > MOST_DRAWN:
        return mark_safe(flat_svg(chart, colours, title=title))
    return mark_safe(balloons_svg(chart, colours, title=title, prefix="paper-"))
