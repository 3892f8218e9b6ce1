"""The cheapest cover of an outline with framework sheets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from decor.calc.picture.sheets_bands import bands
from decor.calc.picture.sheets_better import better
from decor.calc.picture.sheets_bound import lower_bound
from decor.calc.picture.sheets_costs import (
    CannotTile,
    Floats,
    Ground,
    Place,
    SheetSize,
    checked_outline,
    checked_price,
    checked_sizes,
)
from decor.calc.picture.sheets_grids import grids


@dataclass(frozen=True)
class Tiling:
    """Where sheets lie, and what it comes to.

    ``placements``: for each sheet (row, column, size number, rows used, columns used): the box round the cells that
    it carries. ``places``: its first row and column as a whole sheet, which may lie outside the panel. Both in the
    order of whole sheets row by row. ``joins`` are joined cell edges, ``cuts`` cell edges cut or folded back,
    ``spare`` cells that hold nothing. ``cost`` is sheets + join_cost · joins + trim_cost · cuts; ``bound`` is a
    figure that no plan undercuts (0 where none was asked for).
    """

    placements: tuple[tuple[int, int, int, int, int], ...]
    places: tuple[Place, ...]
    joins: int
    cuts: int
    spare: int
    cost: float
    bound: float

    @property
    def gap(self) -> float | None:
        """How far the cost lies above what is proved, as a share; None where nothing is proved."""
        return self.cost / self.bound - 1.0 if self.bound else None


def tile(
    outline: npt.ArrayLike,
    sheet_sizes: Sequence[Sequence[float]],
    *,
    join_cost: float = 0.0,
    trim_cost: float = 0.0,
    prove: bool = True,
    seconds: float = 1.6,
) -> Tiling:
    """Covers every cell of an outline with exactly one sheet, for as little as is found.

    Sheets are never turned. A sheet carries all filled cells below it, so two sheets meet only at their own edges,
    and what is cut or folded back lies outside the outline; see `sheets_costs`. Bands in both directions are exact
    among such plans; small outlines are then solved exactly, larger ones improved and bounded while time lasts.

    Args:
        outline: (rows, columns) bool, at most 100,000 cells.
        sheet_sizes: [(rows, columns, cost)] or `SheetSize`.
        join_cost: of one joined cell edge, trim_cost: of one cut or folded cell edge; 0 or more.
        prove: also look for a bound and a better plan; without it only bands are compared.
        seconds: about how long bounding and improving may take.

    Raises:
        ValueError: naming the argument that is wrong.
        CannotTile: no plan keeps the rules (a ValueError with the reason for people).

    >>> found = tile(np.ones((4, 7), bool), [(4, 4, 1.0)])
    >>> found.placements, found.joins, found.spare, found.cost, round(found.bound, 6)
    (((0, 0, 0, 4, 4), (0, 4, 0, 4, 3)), 4, 4, 2.0, 2.0)
    """
    filled, sizes = checked_outline(outline), checked_sizes(sheet_sizes)
    join, trim = checked_price("join_cost", join_cost), checked_price("trim_cost", trim_cost)
    if not filled.any():
        return Tiling((), (), 0, 0, 0, 0.0, 0.0)
    ground = Ground.of(filled, sizes)
    costs = [ground.costs(size, join, trim) for size in sizes]
    places = _quick(ground, sizes, costs)
    if places is None:
        raise CannotTile(_why_not(sizes))
    bound = 0.0
    if prove:
        places, bound = _proved(ground, sizes, costs, places, seconds)
    return _tiling(ground, sizes, places, join, trim, bound)


def _price(ground: Ground, costs: Sequence[Floats], places: Sequence[Place]) -> float:
    return float(sum(costs[size][row + ground.above, column + ground.left] for row, column, size in places))


def _quick(ground: Ground, sizes: Sequence[SheetSize], costs: list[Floats]) -> list[Place] | None:
    """The best of bands and plain grids."""
    free = [size.parts for size in sizes]
    # A plain grid of a size that meets in parts is one of its bands.
    found = [
        grids(ground, size, cost, number)
        for number, (size, cost) in enumerate(zip(sizes, costs, strict=True))
        if not size.parts
    ]
    if any(free):
        # A size whose corners must meet corners may only lie in a grid of its own.
        may = [cost if part else _nowhere(cost) for cost, part in zip(costs, free, strict=True)]
        found += [bands(ground, sizes, may, upright=upright) for upright in (False, True)]
    plans = [places for places in found if places]
    return min(plans, key=lambda places: round(_price(ground, costs, places), 9)) if plans else None


def _nowhere(cost: Floats) -> Floats:
    return np.where(cost > 0.0, np.inf, cost)


def _proved(
    ground: Ground, sizes: Sequence[SheetSize], costs: list[Floats], places: list[Place], seconds: float
) -> tuple[list[Place], float]:
    cost = _price(ground, costs, places)
    bound = lower_bound(ground, sizes, costs, reach=cost, seconds=seconds * 0.6)
    if cost <= bound.cost * (1.0 + 1e-6) or not all(size.parts for size in sizes):
        return places, min(bound.cost, cost)
    found = better(ground, sizes, costs, bound.over, places, seconds=seconds * 0.35)
    if found.places is not None:
        places, cost = found.places, _price(ground, costs, found.places)
    return places, min(max(bound.cost, found.bound), cost)


def _tiling(
    ground: Ground, sizes: Sequence[SheetSize], places: Sequence[Place], join: float, trim: float, bound: float
) -> Tiling:
    ordered = tuple(sorted(places))
    used = [_used(ground, sizes[place.size], place) for place in ordered]
    sides = [_at(np.add(*ground.joined(size)), ground, ordered, number) for number, size in enumerate(sizes)]
    cuts = [_at(ground.cut(size), ground, ordered, number) for number, size in enumerate(sizes)]
    joins = round(sum(sides) / 2)
    area = sum(sizes[place.size].rows * sizes[place.size].columns for place in ordered)
    return Tiling(
        placements=tuple(
            (row, column, place.size, down, across)
            for (row, column, down, across), place in zip(used, ordered, strict=True)
        ),
        places=ordered,
        joins=joins,
        cuts=round(sum(cuts)),
        spare=area - int(ground.filled.sum()),
        cost=sum(sizes[place.size].cost for place in ordered) + join * joins + trim * round(sum(cuts)),
        bound=bound,
    )


def _at(values: Floats, ground: Ground, places: Sequence[Place], number: int) -> float:
    return float(
        sum(values[row + ground.above, column + ground.left] for row, column, size in places if size == number)
    )


def _used(ground: Ground, size: SheetSize, place: Place) -> tuple[int, int, int, int]:
    """Row, column, rows and columns of the box round the cells that a sheet carries."""
    top, left = place.row + ground.above, place.column + ground.left
    part = ground.filled[top : top + size.rows, left : left + size.columns]
    rows, columns = np.flatnonzero(part.any(axis=1)), np.flatnonzero(part.any(axis=0))
    first, side = int(rows[0]), int(columns[0])
    return place.row + first, place.column + side, int(rows[-1]) - first + 1, int(columns[-1]) - side + 1


def _why_not(sizes: Sequence[SheetSize]) -> str:
    """The rule that most likely stands in the way, for people."""
    if any(size.even_rows and size.rows % 2 for size in sizes):
        return (
            "These sheets can't follow each other downwards: every sheet starts with its rows alike, and an odd number "
            "of rows moves the next one by half a cell. Make the panel as high as one sheet, or allow another type."
        )
    if not all(size.sides and size.ends for size in sizes):
        return (
            "These sheets do not join on all the edges that this panel needs. Make it smaller, or allow another sheet "
            "type."
        )
    return "No plan of these sheets keeps to how their edges meet. Allow another sheet type."
