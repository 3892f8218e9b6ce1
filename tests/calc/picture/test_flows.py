"""Transport problems of the textbooks, and linear programming's answer on random ones."""

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import sparse
from scipy.optimize import linprog

from decor.calc.picture import flows
from decor.calc.picture.flows import NoFlow, place

PROBLEMS = json.loads((Path(__file__).parents[2] / "references" / "transport.json").read_text())["problems"]


def least_by_highs(cost, sizes, room):
    groups, colours = cost.shape
    all_of = sparse.kron(sparse.identity(groups), np.ones((1, colours)), format="csr")
    into = sparse.kron(np.ones((1, groups)), sparse.identity(colours), format="csr")
    answer = linprog(cost.ravel(), A_eq=all_of, b_eq=sizes, A_ub=into, b_ub=room, method="highs")
    assert answer.status == 0
    return answer.fun


def checked(placed, cost, sizes, room):
    """The total, counted anew; nothing is forgotten and nothing overfull."""
    np.testing.assert_array_equal(np.bincount(placed.groups, placed.amounts, len(sizes)), sizes)
    assert (np.bincount(placed.colours, placed.amounts, len(room)) <= room).all()
    return float((cost[placed.groups, placed.colours] * placed.amounts).sum())


@pytest.mark.parametrize("problem", PROBLEMS, ids=lambda problem: problem["name"])
def test_published_problems(problem):
    cost, supply, demand = (np.array(problem[key]) for key in ("cost", "supply", "demand"))
    placed = place(cost, supply, demand)
    assert checked(placed, cost, supply, demand) == problem["least"] == pytest.approx(placed.total)
    assert placed.bound == pytest.approx(problem["least"], rel=1e-6)
    turned = place(cost.T, demand, supply)
    assert checked(turned, cost.T, demand, supply) == problem["least"]


def test_more_room_than_is_needed_is_left_where_it_is_dear():
    problem = PROBLEMS[0]
    cost, supply, demand = (np.array(problem[key]) for key in ("cost", "supply", "demand"))
    placed = place(cost, supply, demand + 40)
    assert checked(placed, cost, supply, demand + 40) == pytest.approx(least_by_highs(cost, supply, demand + 40))


@given(st.integers(0, 2**32 - 1), st.integers(0, 60), st.sampled_from([0.0, 1e-4]), st.booleans())
@settings(max_examples=40, deadline=None)
def test_least_by_highs_and_proved_with_any_guess(seed, spare, tolerance, guessed):
    rng = np.random.default_rng(seed)
    groups, colours = rng.integers(1, 40), rng.integers(1, 9)
    cost = rng.random((groups, colours)) * rng.choice([0.5, 30.0, 400.0])
    sizes = rng.integers(1, 20, groups)
    room = rng.multinomial(sizes.sum() + spare, rng.dirichlet(np.ones(colours)))
    prices = rng.random(colours) * 20 if guessed else None
    placed = place(cost, sizes, room, prices=prices, tolerance=tolerance)
    least = least_by_highs(cost, sizes, room)
    rounding = 2e-4 * sizes.sum()
    assert checked(placed, cost, sizes, room) == pytest.approx(placed.total, rel=1e-5, abs=rounding)
    assert placed.total <= least * (1 + tolerance) + rounding
    assert placed.bound <= least + rounding


@pytest.mark.parametrize("tolerance", [0.0, 1e-4])
@pytest.mark.parametrize("guess", ["none", "wild", "far too high"])
@pytest.mark.parametrize("seed", range(3))
def test_a_poor_guess_still_ends_at_the_least(monkeypatch, seed, guess, tolerance):
    """No table is small enough to go into the flow whole: the proof must notice what is missing and let it in."""
    monkeypatch.setattr(flows, "_FEW_ARCS", 0)
    rng = np.random.default_rng(seed)
    cost, sizes = rng.random((150, 12)) * 30, rng.integers(1, 4, 150)
    room = rng.multinomial(sizes.sum() + 5 * seed, rng.dirichlet(np.ones(12)))
    prices = {"none": None, "wild": rng.random(12) * 40, "far too high": np.full(12, 900.0)}[guess]
    placed = place(cost, sizes, room, prices=prices, tolerance=tolerance, within=1e-3)
    least = least_by_highs(cost, sizes, room)
    assert checked(placed, cost, sizes, room) <= least * (1 + tolerance) + 2e-4 * sizes.sum()
    assert placed.bound <= least * (1 + 1e-6) and placed.total <= placed.bound * (1 + tolerance) + 2e-4 * sizes.sum()


def test_a_place_short_is_refused():
    with pytest.raises(NoFlow, match=r"^room"):
        place([[1.0, 2.0]], [5], [2, 2])
