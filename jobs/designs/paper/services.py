"""Chart paper that was printed, what was read from it, and the chart that comes of it."""

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt
from django.db import transaction

from decor.calc.picture.chart import EMPTY, Chart
from decor.calc.picture.paper import PaperPart
from decor.studio.services import file_store
from decor.studio.versions import save_unchanged
from jobs.designs.catalogue import Catalogue
from jobs.designs.charting import CELLS_AS
from jobs.designs.measured import Charted, Measured
from jobs.designs.models import ChartPaper, PaperPage, Piece
from jobs.designs.paper.reading import PageRead, lattice_of, parts_of
from jobs.designs.pictures.recipe import Recipe
from jobs.designs.services import piece_measure

Cells = npt.NDArray[np.int32]


class NothingRead(ValueError):
    """Why no chart comes of a paper yet, in words."""


def paper_make(*, piece: Piece, recipe: Recipe, palette: Sequence[int], paper: str) -> ChartPaper:
    """A printing of the panel that the recipe describes, with a key box for each of these balloons."""
    return ChartPaper.objects.create(
        piece=piece,
        sheet_id=recipe.sheet,
        rows=recipe.rows,
        columns=recipe.columns,
        loading=recipe.loading,
        palette=list(palette),
        paper=paper,
    )


def page_keep(*, chart_paper: ChartPaper, read: PageRead) -> PaperPage:
    """A page as its newest photograph shows it."""
    crops = file_store(data=read.crops, mime="image/jpeg", original_name=f"page {read.part.number}.jpg")
    page, _ = PaperPage.objects.update_or_create(
        chart_paper=chart_paper,
        number=read.part.number,
        defaults={
            "cells": read.reading.cells.astype(CELLS_AS).tobytes(),
            "second": read.reading.second.astype(CELLS_AS).tobytes(),
            "asked": list(read.unsure),
            "unsure": list(read.unsure),
            "crops": crops,
            "version": 1,
        },
    )
    return page


def page_answer(*, page: PaperPage, answers: Mapping[int, int]) -> None:
    """What somebody said of unsure cells, by their number on the page. Raises Changed where the page was photographed
    anew, or answered by somebody else, meanwhile."""
    cells = numbers(page.cells).copy()
    for cell, colour in answers.items():
        cells[cell] = colour
    page.cells = cells.astype(CELLS_AS).tobytes()
    page.unsure = [cell for cell in page.unsure if cell not in answers]
    save_unchanged(page, version=page.version, fields=("cells", "unsure"))


def numbers(data: bytes | memoryview) -> npt.NDArray[np.int16]:
    return np.frombuffer(bytes(data), dtype=CELLS_AS)


def paper_cells(pages: Sequence[PaperPage], parts: Sequence[PaperPart], rows: int, columns: int) -> Cells:
    """All pages together; what was not read yet is empty."""
    cells = np.full((rows, columns), EMPTY, dtype=np.int32)
    for page in pages:
        part = parts[page.number - 1]
        place = cells[part.row_start : part.row_stop, part.column_start : part.column_stop]
        place[:] = numbers(page.cells).reshape(place.shape)
    return cells


@transaction.atomic
def paper_take_over(
    *, chart_paper: ChartPaper, piece: Piece, panel_version: int, white: int | None, catalogue: Catalogue
) -> None:
    """The chart that was coloured in becomes the panel's. `white` is the balloon of the cells that were left white,
    None for none. Raises NothingRead, Changed."""
    lattice = lattice_of(chart_paper, catalogue)
    parts = parts_of(chart_paper, lattice)
    pages = list(chart_paper.pages.all())
    if len(pages) < len(parts):
        missing = sorted({part.number for part in parts} - {page.number for page in pages})
        raise NothingRead(f"Page {missing[0]} was not photographed yet.")
    cells = paper_cells(pages, parts, chart_paper.rows, chart_paper.columns)
    palette = list(chart_paper.palette)
    if white is not None:
        cells[cells == EMPTY] = palette.index(white)
    if (cells == EMPTY).all():
        raise NothingRead("Every cell is empty. Say which balloons the white cells are.")
    recipe = Recipe(
        source="paper",
        palette=tuple(palette),
        sheet=chart_paper.sheet_id,
        rows=chart_paper.rows,
        columns=chart_paper.columns,
        loading=chart_paper.loading,
    )
    measures = {"width": float(recipe.columns), "height": float(recipe.rows), "unit": "cells"}
    measures |= {"loading": recipe.loading, "sheet": recipe.sheet, "within_stock": False}
    charted = Charted(
        sheet_id=recipe.sheet,
        loading=recipe.loading,
        palette=tuple(palette),
        chart=Chart(cells, lattice),
        recipe=recipe.to_plain(),
    )
    piece_measure(piece=piece, version=piece.version, panel_version=panel_version, measured=Measured(measures, charted))
