import itertools
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import sparse
from scipy.optimize import linprog
from skimage import data

from decor.calc.picture import matching
from decor.calc.picture.colour import delta_e_2000, srgb_to_lab
from decor.calc.picture.lattice import Lattice
from decor.calc.picture.matching import NotEnoughStock, match
from decor.calc.picture.sampling import sample


def differences(cells, palette):
    return delta_e_2000(srgb_to_lab(cells)[:, None], srgb_to_lab(palette))


def total(cells, palette, numbers):
    return differences(cells, palette)[np.arange(len(cells)), numbers].sum()


def least_by_linear_programming(cells, palette, stock):
    """The transport problem as a linear program, solved by HiGHS: an independent road to the least."""
    return least_by_linear_programming_of(differences(cells, palette), stock)


def least_by_linear_programming_of(cost, stock):
    n, p = cost.shape
    each_cell = sparse.kron(sparse.identity(n), np.ones((1, p)), format="csr")
    each_colour = sparse.kron(np.ones((1, n)), sparse.identity(p), format="csr")
    answer = linprog(cost.ravel(), A_eq=each_cell, b_eq=np.ones(n), A_ub=each_colour, b_ub=stock, method="highs")
    assert answer.status == 0
    return answer.fun


def photograph(rows, columns):
    return sample(data.astronaut(), Lattice("offset", rows, columns, 0.1))


def test_each_cell_takes_its_nearest_colour():
    cells, palette = photograph(20, 25), np.random.default_rng(4).random((30, 3))
    least = differences(cells, palette).min(axis=1).sum()
    assert total(cells, palette, match(cells, palette)) == pytest.approx(least, rel=1e-6)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("spare", [0, 1, 40, 150])
def test_limited_stock_is_never_overdrawn_and_least_by_highs(seed, spare):
    rng = np.random.default_rng(seed)
    cells, palette = photograph(17, 19), rng.random((23, 3))
    stock = rng.multinomial(len(cells) + spare, rng.dirichlet(np.ones(23)))
    numbers = match(cells, palette, stock=stock)
    assert (np.bincount(numbers, minlength=23) <= stock).all()
    least = least_by_linear_programming(cells, palette, stock)
    assert total(cells, palette, numbers) == pytest.approx(least, rel=1e-5)


def test_least_on_many_equal_cells():
    """Flat art: few distinct colours, each in many cells that must be shared out."""
    rng = np.random.default_rng(9)
    cells = rng.random((5, 3))[rng.integers(0, 5, 400)]
    palette = rng.random((12, 3))
    stock = np.full(12, 35)
    numbers = match(cells, palette, stock=stock)
    assert (np.bincount(numbers, minlength=12) <= stock).all()
    least = least_by_linear_programming(cells, palette, stock)
    assert total(cells, palette, numbers) == pytest.approx(least, rel=1e-5)


def test_a_poor_first_guess_still_ends_at_the_least(monkeypatch):
    """No prices to begin with: the proof must notice and let in what is missing."""
    monkeypatch.setattr(matching, "first_prices", lambda problem, room: np.zeros(len(room)))
    rng = np.random.default_rng(1)
    cells, palette = photograph(15, 15), rng.random((20, 3))
    stock = np.full(20, 13)
    numbers = match(cells, palette, stock=stock)
    assert (np.bincount(numbers, minlength=20) <= stock).all()
    least = least_by_linear_programming(cells, palette, stock)
    assert total(cells, palette, numbers) == pytest.approx(least, rel=1e-5)


@given(st.data())
@settings(max_examples=80)
def test_least_of_all_ways_there_are(draws):
    """Small enough to try every way of giving out the balloons."""
    p = draws.draw(st.integers(1, 4))
    n = draws.draw(st.integers(1, 6))
    part = st.sampled_from([0.0, 0.15, 0.3, 0.5, 0.8, 1.0])
    colour = st.tuples(part, part, part)
    cells = np.array(draws.draw(st.lists(colour, min_size=n, max_size=n)))
    palette = np.array(draws.draw(st.lists(colour, min_size=p, max_size=p)))
    stock = np.array(draws.draw(st.lists(st.integers(0, n), min_size=p, max_size=p)))
    if stock.sum() < n:
        with pytest.raises(NotEnoughStock) as short:
            match(cells, palette, stock=stock)
        assert short.value.short_by == n - stock.sum()
        return
    cost = differences(cells, palette)
    least = min(
        cost[np.arange(n), list(way)].sum()
        for way in itertools.product(range(p), repeat=n)
        if (np.bincount(way, minlength=p) <= stock).all()
    )
    numbers = match(cells, palette, stock=stock)
    assert (np.bincount(numbers, minlength=p) <= stock).all()
    assert cost[np.arange(n), numbers].sum() == pytest.approx(least, abs=1e-3 * n)


def test_plenty_of_stock_changes_nothing():
    cells, palette = photograph(12, 12), np.random.default_rng(3).random((9, 3))
    free = match(cells, palette)
    np.testing.assert_array_equal(match(cells, palette, stock=np.full(9, 10_000_000_000)), free)
    np.testing.assert_array_equal(match(cells, palette, stock=np.bincount(free, minlength=9)), free)


def test_a_colour_with_no_balloons_is_left_out():
    palette = [[1, 1, 1], [0.9, 0.9, 0.9], [0, 0, 0]]
    assert match([[1, 1, 1]] * 3, palette, stock=[0, 3, 3]).tolist() == [1, 1, 1]


def test_the_same_input_gives_the_same_answer():
    cells, palette = photograph(14, 14), np.random.default_rng(8).random((10, 3))
    stock = np.full(10, 20)
    np.testing.assert_array_equal(match(cells, palette, stock=stock), match(cells, palette, stock=stock))


def test_no_cells_need_no_balloons():
    assert match(np.empty((0, 3)), [[0, 0, 0]], stock=[0]).shape == (0,)


def test_short_by_counts_the_missing_balloons():
    with pytest.raises(NotEnoughStock, match="3 balloons short") as short:
        match([[0, 0, 0]] * 10, [[0, 0, 0], [1, 1, 1]], stock=[4, 3])
    assert short.value.short_by == 3


@pytest.mark.parametrize(
    ("argument", "cells", "palette", "stock"),
    [
        ("cells_srgb", [[255, 0, 0]], [[0, 0, 0]], None),
        ("cells_srgb", [0.5, 0.5, 0.5], [[0, 0, 0]], None),
        ("palette_srgb", [[0, 0, 0]], [], None),
        ("palette_srgb", [[0, 0, 0]], [[0, 0]], None),
        ("palette_srgb", [[0, 0, 0]], [[0, 0, np.nan]], None),
        ("stock", [[0, 0, 0]], [[0, 0, 0]], [1, 1]),
        ("stock", [[0, 0, 0]], [[0, 0, 0]], [-1]),
        ("stock", [[0, 0, 0]], [[0, 0, 0]], [1.5]),
        ("stock", [[0, 0, 0]], [[0, 0, 0]], [np.nan]),
        ("stock", [[0, 0, 0]], [[0, 0, 0]], ["1"]),
    ],
)
def test_bad_input_names_the_argument(argument, cells, palette, stock):
    with pytest.raises(ValueError, match=f"^{argument}:"):
        match(cells, palette, stock=stock)


def test_the_solver_is_not_loaded_before_it_is_needed():
    code = "import sys, decor.calc.picture.matching; sys.exit('ortools' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=80, deadline=None)
def test_whatever_is_asked_for_together_is_kept(seed):
    """Stock, locked cells, colours that must and must not be used, weights: beside every way there is."""
    rng = np.random.default_rng(seed)
    n, p = rng.integers(2, 6), rng.integers(2, 5)
    cells, palette = rng.random((n, 3)), rng.random((p, 3))
    order = rng.permutation(p).tolist()
    must, must_not = order[: rng.integers(0, 2)], order[1 : 1 + rng.integers(0, 2)]
    stock, weights = rng.integers(0, n + 1, p), rng.uniform(1, 4, n)
    locked = np.where(rng.random(n) < 0.3, rng.integers(0, p, n), -1)
    ways = [
        way
        for way in map(np.array, itertools.product(range(p), repeat=int(n)))
        if (np.bincount(way, minlength=p) <= stock).all()
        and ((locked < 0) | (way == locked)).all()
        and not set(must_not) & set(way[locked < 0].tolist())
        and set(must) <= set(way.tolist())
    ]
    asked = {"stock": stock, "must": must, "must_not": must_not, "weights": weights, "locked": locked}
    if not ways:
        with pytest.raises(ValueError, match=r"^(stock|must|must_not):"):
            match(cells, palette, **asked)
        return
    cost = differences(cells, palette) ** 2 * weights[:, None]
    totals = [cost[np.arange(n), way].sum() for way in ways]
    found = match(cells, palette, **asked)
    assert any((found == way).all() for way in ways)
    assert cost[np.arange(n), found].sum() == pytest.approx(found.total, rel=1e-4, abs=0.1)
    assert found.bound <= min(totals) * (1 + 1e-4) + 0.1
    if not must:
        assert found.total == pytest.approx(min(totals), rel=1e-4, abs=0.1)


@pytest.mark.parametrize("image", ["coffee", "cat", "rocket"])
def test_weighted_squares_within_stock_are_least_by_highs(image):
    cells = sample(getattr(data, image)(), Lattice("hex", 24, 20, 0.1))
    palette, weights = np.random.default_rng(2).random((50, 3)), np.where(np.arange(480) % 5 == 0, 4.0, 1.0)
    stock = np.full(50, 14)
    cost = differences(cells, palette) ** 2 * weights[:, None]
    found = match(cells, palette, stock=stock, weights=weights)
    least = least_by_linear_programming_of(cost, stock)
    assert (np.bincount(found) <= 14).all()
    assert cost[np.arange(480), found].sum() <= least * 1.0001
    assert least * 0.9999 <= found.bound * 1.0001 and found.bound <= least * 1.00001


def test_a_part_of_the_answer_is_plain_numbers():
    found = match(np.random.default_rng(0).random((12, 3)), np.eye(3), stock=[4, 4, 4])
    assert found.reshape(3, 4).shape == (3, 4) and (found + 1).min() == 1 and int(found[:5].max()) <= 2
    assert found.bound <= found.total
