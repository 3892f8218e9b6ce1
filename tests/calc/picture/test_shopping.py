import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import sparse
from scipy.optimize import linprog
from skimage import data

from decor.calc.picture.colour import delta_e_2000, srgb_to_lab
from decor.calc.picture.lattice import Lattice
from decor.calc.picture.sampling import sample
from decor.calc.picture.shopping import buy_list


def differences(cells, palette):
    return delta_e_2000(srgb_to_lab(cells)[:, None], srgb_to_lab(palette))


def least_by_highs(harm, stock, price):
    """Each cell from stock or from the shop, as a linear program: an independent road to the least."""
    n, p = harm.shape
    once = sparse.hstack([sparse.kron(sparse.identity(n), np.ones((1, p)))] * 2, format="csr")
    within = sparse.hstack([sparse.kron(np.ones((1, n)), sparse.identity(p)), sparse.csr_matrix((p, n * p))])
    cost = np.concatenate([harm.ravel(), harm.ravel() + price])
    answer = linprog(cost, A_eq=once, b_eq=np.ones(n), A_ub=within.tocsr(), b_ub=stock, method="highs")
    assert answer.status == 0
    return answer.fun


@given(st.integers(0, 2**32 - 1), st.sampled_from([0.5, 4.0, 15.0, 1000.0]), st.booleans())
@settings(max_examples=30, deadline=None)
def test_least_harm_by_highs(seed, price, weighted):
    rng = np.random.default_rng(seed)
    n, p = rng.integers(1, 40), rng.integers(1, 7)
    cells, palette = rng.random((n, 3)), rng.random((p, 3))
    stock = rng.integers(0, 2 * n // p + 2, p)
    weights = rng.uniform(1, 4, n) if weighted else np.ones(n)
    found = buy_list(cells, palette, stock, price_de=price, weights=weights if weighted else None)
    cost, every = differences(cells, palette), np.arange(n)
    used = np.bincount(found.numbers, minlength=p)
    assert (used - found.buy <= stock).all() and (found.buy >= 0).all() and (found.buy <= used).all()
    harm = cost * weights[:, None]
    spent = harm[every, found.numbers].sum() + price * found.buy.sum()
    assert spent == pytest.approx(least_by_highs(harm, stock, price), rel=1e-5, abs=2e-3 * n)
    assert found.mean_de == pytest.approx(cost[every, found.numbers].mean(), abs=1e-3)
    assert found.free_mean_de == pytest.approx(cost.min(axis=1).mean(), abs=1e-3)
    liked = np.bincount(found.free_numbers, minlength=p)
    np.testing.assert_array_equal(found.plain_shortfall, np.maximum(liked - stock, 0))


def test_the_dearer_the_fewer_are_bought_and_the_worse_it_looks():
    cells = sample(data.coffee(), Lattice("offset", 30, 26, 0.1))
    palette = np.random.default_rng(3).random((24, 3))
    stock = np.full(24, 30)  # 720 for 780 cells
    lists = [buy_list(cells, palette, stock, price_de=price) for price in (0.5, 3.0, 8.0, 1000.0)]
    bought = [int(one.buy.sum()) for one in lists]
    means = [one.mean_de for one in lists]
    assert bought == sorted(bought, reverse=True) and means == sorted(means)
    assert bought[-1] == 60  # at such a price only what is lacking altogether
    assert bought[0] <= lists[0].plain_shortfall.sum()
    assert all(one.free_mean_de <= one.mean_de for one in lists)


def test_plenty_asks_for_nothing():
    found = buy_list([[1, 0, 0], [0, 0, 1]], [[1, 0, 0], [0, 0, 1]], [9, 10_000_000_000], price_de=0.0)
    assert found.buy.tolist() == found.plain_shortfall.tolist() == [0, 0]
    assert found.numbers.tolist() == [0, 1]


@pytest.mark.parametrize(
    ("named", "changed"),
    [
        ("cells_srgb", {"cells_srgb": []}),
        ("palette_srgb", {"palette_srgb": [[0, 0, 3]]}),
        ("stock", {"stock": [1]}),
        ("stock", {"stock": [1, -1]}),
        ("price_de", {"price_de": -0.1}),
        ("price_de", {"price_de": float("nan")}),
    ],
)
def test_a_bad_argument_is_named(named, changed):
    good = {"cells_srgb": [[0, 0, 0]], "palette_srgb": [[0, 0, 0], [1, 1, 1]], "stock": [1, 1], "price_de": 8.0}
    with pytest.raises(ValueError, match=named):
        buy_list(**(good | changed))
