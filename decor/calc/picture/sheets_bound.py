"""A figure that no plan for an outline can undercut.

Give each filled cell a price so that no sheet, wherever it lies, costs less than the prices of the cells below it:
then any plan costs at least the sum of the prices (weak duality of linear programs). The prices are raised step by
step by a primal-dual method with extrapolation (Chambolle and Pock, 2011, Journal of Mathematical Imaging and Vision
40, 120-145) and at last scaled until the condition holds everywhere, which is what proves the bound.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from decor.calc.picture.sheets_costs import Floats, Ground, SheetSize

CHECK_EVERY = 25
PACE = 30.0
"""How much faster prices move than shares of sheets; found by trying circles, hearts, arches and rectangles."""


class Bound(NamedTuple):
    """``cost`` that no plan undercuts; by size, (tall, wide), what a sheet costs above its cells' prices there."""

    cost: float
    over: list[Floats]


class _Prices:
    """Prices of cells against the cost of sheets; arrays lie on the ground's positions."""

    def __init__(self, ground: Ground, sizes: Sequence[SheetSize], costs: Sequence[Floats]) -> None:
        self.ground, self.sizes = ground, sizes
        self.inside = ground.filled[: ground.tall, : ground.wide]
        self.holds = [ground.cells(size.rows, size.columns) for size in sizes]
        self.may = [(held > 0) & np.isfinite(cost) for held, cost in zip(self.holds, costs, strict=True)]
        self.costs = [np.where(may, cost, 0.0) for may, cost in zip(self.may, costs, strict=True)]

    def below(self, prices: Floats) -> list[Floats]:
        """By size: the sum of prices under a sheet at each position."""
        room = np.zeros((prices.shape[0] + self.ground.above, prices.shape[1] + self.ground.left))
        room[: prices.shape[0], : prices.shape[1]] = prices
        sums = _summed(room)
        return [self._windows(sums, size) for size in self.sizes]

    def _windows(self, sums: Floats, size: SheetSize) -> Floats:
        high, wide = self.ground.tall, self.ground.wide
        down, across = size.rows, size.columns
        return (
            sums[down : down + high, across : across + wide]
            - sums[:high, across : across + wide]
            - sums[down : down + high, :wide]
            + sums[:high, :wide]
        )

    def above(self, shares: Sequence[Floats]) -> Floats:
        """At each cell: the sum of all shares of sheets that lie over it."""
        high, wide = self.ground.tall, self.ground.wide
        edges = np.zeros((high + self.ground.above, wide + self.ground.left))
        for size, share in zip(self.sizes, shares, strict=True):
            down, across = size.rows, size.columns
            edges[:high, :wide] += share
            edges[down : down + high, :wide] -= share
            edges[:high, across : across + wide] -= share
            edges[down : down + high, across : across + wide] += share
        summed: Floats = edges.cumsum(axis=0).cumsum(axis=1)[:high, :wide]
        return summed

    def proved(self, prices: Floats) -> tuple[float, Floats]:
        """The sum of the prices and they, scaled so that no sheet costs less than what lies below it."""
        least = np.inf
        for sums, cost, may in zip(self.below(prices), self.costs, self.may, strict=True):
            there = may & (sums > 1e-12)
            if there.any():
                least = min(least, float((cost[there] / sums[there]).min()))
        scaled = prices * least if np.isfinite(least) else np.zeros_like(prices)
        return float(scaled.sum()), scaled

    def over(self, prices: Floats) -> list[Floats]:
        return [
            np.where(may, cost - sums, np.inf)
            for sums, cost, may in zip(self.below(prices), self.costs, self.may, strict=True)
        ]

    def start(self) -> Floats:
        """Each cell at the least price a cell that any sheet over it offers: a plain bound, and where to begin."""
        cheapest = min(
            float((cost[may] / held[may]).min())
            for cost, held, may in zip(self.costs, self.holds, self.may, strict=True)
            if may.any()
        )
        even: Floats = np.where(self.inside, cheapest, 0.0)
        return even


def lower_bound(
    ground: Ground,
    sizes: Sequence[SheetSize],
    costs: Sequence[Floats],
    *,
    reach: float = float("inf"),
    steps: int = 1500,
    seconds: float = 1.0,
) -> Bound:
    """The highest bound found in so many steps or seconds; a plan's cost ends the search when it is reached."""
    ends = time.monotonic() + seconds
    problem = _Prices(ground, sizes, costs)
    prices = problem.start()
    scale = max(float(prices.max()), 1e-12)
    best = problem.proved(prices)
    over = sum(size.rows * size.columns for size in sizes)
    shares = [np.zeros_like(cost) for cost in problem.costs]
    mean, weight = np.zeros_like(prices), 0
    # Preconditioned steps: a cell lies under `over` sheets, a sheet over `held` cells; prices are of size `scale`.
    pace = [may / (np.maximum(held, 1.0) * scale * PACE) for held, may in zip(problem.holds, problem.may, strict=True)]
    for step in range(1, steps + 1):
        sums = problem.below(prices)
        moved = [
            np.maximum(0.0, share - at * (cost - under))
            for share, at, cost, under in zip(shares, pace, problem.costs, sums, strict=True)
        ]
        lead = problem.above([2.0 * new - old for new, old in zip(moved, shares, strict=True)])
        prices = np.maximum(0.0, prices + scale * PACE / over * (1.0 - lead)) * problem.inside
        shares = moved
        mean, weight = mean + prices, weight + 1
        if step % CHECK_EVERY == 0:
            best = max(best, problem.proved(prices), problem.proved(mean / weight), key=_cost)
            if time.monotonic() > ends or best[0] >= reach * (1.0 - 1e-9):
                break
            if step % (4 * CHECK_EVERY) == 0:
                mean, weight = np.zeros_like(prices), 0
    return Bound(best[0], problem.over(best[1]))


def _cost(found: tuple[float, Floats]) -> float:
    return found[0]


def _summed(values: Floats) -> Floats:
    sums = np.zeros((values.shape[0] + 1, values.shape[1] + 1))
    np.cumsum(np.cumsum(values, axis=0), axis=1, out=sums[1:, 1:])
    return sums
