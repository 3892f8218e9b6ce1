"""What would have to be bought, so that a picture suffers least; and how it would look with all colours at hand."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from decor.calc.picture import shopping
from decor.calc.picture.chart import EMPTY, Chart
from decor.calc.pieces.panel import LOADINGS
from jobs.designs.catalogue import Catalogue, LatexItem
from jobs.designs.models import Piece
from jobs.designs.pictures.making import Task, free_left, task_of
from jobs.designs.pictures.plots import stock_of
from jobs.designs.pictures.recipe import Recipe
from jobs.designs.pictures.spares import Spares

Numbers = npt.NDArray[np.int64]

WORTH_DE = 8.0
"""A balloon is bought where it brings its cell nearer to the picture by more than this (CIEDE2000; about what
separates two neighbouring colours of a usual store; common practice, no source)."""


@dataclass(frozen=True)
class Bought:
    """Two charts over one palette: with the least that is bought, and as if everything were at hand. `buy` and
    `shortfall` are balloons of each colour, alike pieces together, with the spares that are wanting too."""

    items: tuple[LatexItem, ...]
    chart: Chart
    free_chart: Chart
    mean_de: float
    free_mean_de: float
    buy: Numbers
    shortfall: Numbers


def bought(
    recipe: Recipe,
    picture: bytes | None,
    *,
    catalogue: Catalogue,
    piece: Piece,
    free: Mapping[int, int] | None = None,
) -> Bought:
    """Raises as `making.made`."""
    task = task_of(replace(recipe, within_stock=False), picture, catalogue=catalogue, piece=piece, free=free)
    known = free if free is not None else free_left(task.plot, piece, catalogue)
    spares = Spares.now(catalogue.making.spares_share)
    stock = stock_of(task.plot, piece, spares.left(known))
    settled = task.fixed[task.fixed >= 0]
    taken = np.bincount(settled, minlength=len(stock))
    at, may = np.flatnonzero(task.open), np.flatnonzero(task.allowed)
    weights = task.aim.weights
    list_ = shopping.buy_list(
        task.aim.cells_srgb[at],
        task.plot.srgb[may],
        np.maximum(stock - taken, 0)[may],
        price_de=WORTH_DE,
        weights=None if weights is None else weights[at],
    )
    each = LOADINGS[recipe.loading].balloons * piece.count
    least, best = (_chart(task, at, may[numbers]) for numbers in (list_.numbers, list_.free_numbers))
    return Bought(
        items=task.plot.items,
        chart=least,
        free_chart=best,
        mean_de=float(list_.mean_de),
        free_mean_de=float(list_.free_mean_de),
        buy=_lacking(least, task.plot.items, each, spares, known),
        shortfall=_lacking(best, task.plot.items, each, spares, known),
    )


def _lacking(chart: Chart, items: tuple[LatexItem, ...], each: int, spares: Spares, free: Mapping[int, int]) -> Numbers:
    """What a chart takes of each colour beyond what is free, said as the colours page says what is short."""
    counts = chart.counts()
    return np.array(
        [
            max(0, spares.with_them(item.id, n) - max(0, free.get(item.id, 0)))
            if (n := counts.get(at, 0) * each)
            else 0
            for at, item in enumerate(items)
        ],
        dtype=np.int64,
    )


def _chart(task: Task, at: Numbers, numbers: Numbers) -> Chart:
    cells = np.where(task.used, task.fixed, EMPTY)
    cells[at] = numbers
    return Chart(cells.reshape(task.plot.lattice.rows, task.plot.lattice.columns), task.plot.lattice)
