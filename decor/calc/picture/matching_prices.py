"""A guess at what each colour's scarcity is worth, from which the search for the least begins."""

import numpy as np
import numpy.typing as npt

from decor.calc.picture.flows import place
from decor.calc.picture.matching_groups import Problem, coarse_groups, costs_of

Floats = npt.NDArray[np.float64]
Singles = npt.NDArray[np.float32]
Numbers = npt.NDArray[np.int64]

_PRICE_ROUNDS = 20
_PRICE_SOFTNESS = (0.8, 0.4, 0.2, 0.1, 0.05)
"""Of a cell's mean cost."""
_LEVELS = ((4, np.inf), (5, 0.25), (6, 0.1))
"""Bits a channel at which colours are merged, one level after the other, and how far the prices of the level before
are off, as a share of a cell's mean cost."""
_LEVEL_SHARE = 2.5
"""A level is worth its while where it has this many times fewer groups than there are."""
_COARSE_ENOUGH = 3e-4


def first_prices(problem: Problem, room: Numbers) -> Floats:
    """What each colour's scarcity is worth, from merged groups shared out to the least; a guess there by matrix
    scaling, and where the groups are very many by a second merging, less coarse. Decides which arcs are tried first: a
    bad guess costs time, never the answer."""
    stocked = np.flatnonzero(room)
    found: Floats | None = None
    for bits, within in _LEVELS:
        means, cells, weights = coarse_groups(problem, bits)
        if found is not None and len(cells) * _LEVEL_SHARE > len(problem.sizes):
            break
        table = costs_of(means, problem.palette[stocked], weights)
        if found is None:
            found = _scarcity_prices(table, cells, np.minimum(room[stocked] / cells.sum(), 1.0))
        found = place(
            table, cells.astype(np.int64), room[stocked], prices=found, tolerance=_COARSE_ENOUGH, within=within
        ).prices
    prices = np.zeros(len(room))
    prices[stocked] = found
    return prices


def _scarcity_prices(table: Singles, weights: Floats, shares: Floats) -> Floats:
    """A guess at what each colour's scarcity is worth, by matrix scaling with ever finer steps.

    Only decides which arcs are tried first; a bad guess costs time, never the answer.
    """
    prices = np.zeros(table.shape[1])
    weights = weights / weights.sum()
    unit = max(float(weights @ table.min(axis=1)), 1e-6)
    for softness in (part * unit for part in _PRICE_SOFTNESS):
        priced = table + prices.astype(np.float32)
        kernel = np.exp((priced.min(axis=1, keepdims=True) - priced) / np.float32(softness))
        ceiling = np.exp(np.minimum(prices / softness, 80.0))
        factor = np.ones(table.shape[1])
        for _ in range(_PRICE_ROUNDS):
            row = (weights / (kernel @ factor.astype(np.float32))).astype(np.float32)
            factor = np.minimum(ceiling, shares / np.maximum(row @ kernel, 1e-30))
        prices = np.maximum(prices - softness * np.log(np.maximum(factor, 1e-30)), 0.0)
    return prices
