"""The best few colours: held against every choice there is, a mixed-integer program, and quantisers."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, milp
from skimage import data

from decor.calc.picture.colour import delta_e_2000, srgb_to_lab
from decor.calc.picture.lattice import Lattice
from decor.calc.picture.matching import NotEnoughStock, match
from decor.calc.picture.sampling import sample


def differences(cells, palette):
    return delta_e_2000(srgb_to_lab(cells)[:, None], srgb_to_lab(palette))


def picture(image, rows=20, columns=17):
    return sample(image, Lattice("offset", rows, columns, 0.1))


@given(st.integers(0, 2**32 - 1), st.integers(1, 4))
@settings(max_examples=40, deadline=None)
def test_as_good_as_every_choice_there_is(seed, count):
    rng = np.random.default_rng(seed)
    cells, palette = rng.random((30, 3)), rng.random((9, 3))
    cost = differences(cells, palette)
    must = rng.permutation(9)[: rng.integers(0, 2)].tolist()
    ways = [way for way in itertools.combinations(range(9), count) if set(must) <= set(way)]
    least = min(cost[:, list(way)].min(axis=1).sum() for way in ways)
    found = match(cells, palette, most_colours=count, must=must)
    assert len(np.unique(found)) <= count and set(must) <= set(found.tolist())
    if not must:  # with one, a cell may have to take it that would not
        assert found.total <= least * 1.03
    assert found.bound <= least + 0.02 and found.total >= least - 0.02


def best_by_milp(cost, count, stock):
    """Which colours are open, and each cell in one of them, within the stock: HiGHS, exactly."""
    n, p = cost.shape
    once = sparse.hstack([sparse.kron(sparse.identity(n), np.ones((1, p))), sparse.csr_matrix((n, p))])
    room = sparse.diags(np.minimum(stock, n).astype(float))
    within = sparse.hstack([sparse.kron(np.ones((1, n)), sparse.identity(p)), -room])
    opened = sparse.csr_matrix(np.concatenate([np.zeros(n * p), np.ones(p)])[None])
    answer = milp(
        np.concatenate([cost.ravel(), np.zeros(p)]),
        constraints=[
            LinearConstraint(once.tocsr(), 1, 1),
            LinearConstraint(within.tocsr(), -np.inf, 0),
            LinearConstraint(opened, 0, count),
        ],
        integrality=np.concatenate([np.zeros(n * p), np.ones(p)]),
        bounds=Bounds(0, 1),
    )
    return answer.fun if answer.status == 0 else None


@pytest.mark.parametrize("seed", range(6))
def test_within_stock_as_good_as_a_mixed_integer_program(seed):
    rng = np.random.default_rng(seed)
    cells, palette = picture(data.astronaut(), 9, 8), rng.random((10, 3))
    stock = rng.integers(10, 40, 10)
    least = best_by_milp(differences(cells, palette), 4, stock)
    found = match(cells, palette, most_colours=4, stock=stock)
    assert len(np.unique(found)) <= 4 and (np.bincount(found, minlength=10) <= stock).all()
    assert least - 0.05 <= found.total <= least * 1.005
    assert found.bound <= least + 0.05


@pytest.mark.parametrize("image", ["astronaut", "coffee", "cat", "rocket"])
@pytest.mark.parametrize("count", [3, 6, 12])
def test_on_photographs_never_worse_than_quantising_first_and_proved_near(image, count):
    cells, palette = picture(getattr(data, image)()), np.random.default_rng(5).random((60, 3))
    cost = differences(cells, palette)
    found = match(cells, palette, most_colours=count)
    codes = Image.fromarray(np.rint(cells * 255).astype(np.uint8)[None])
    for method, kmeans in ((Image.Quantize.MEDIANCUT, 0), (Image.Quantize.MEDIANCUT, 5)):
        few = codes.quantize(count, method, kmeans).getpalette()
        means = np.array(few).reshape(-1, 3)[:count] / 255.0
        snapped = np.unique(differences(means, palette).argmin(axis=1))
        assert found.total <= cost[:, snapped].min(axis=1).sum() + 0.1
    assert found.total <= found.bound * 1.02


def test_proofs_are_near_in_the_mean():
    palette = np.random.default_rng(6).random((60, 3))
    pictures = [picture(getattr(data, name)(), 30, 26) for name in ("astronaut", "coffee", "cat")]
    found = [match(cells, palette, most_colours=count) for cells in pictures for count in (4, 8)]
    assert np.mean([one.total / one.bound - 1 for one in found]) <= 0.005


def test_everything_at_once():
    """Few colours, some asked for, some refused, limited stock, cells that count more and cells that stay."""
    rng = np.random.default_rng(3)
    cells, palette = picture(data.coffee()), rng.random((20, 3))
    locked = np.full(len(cells), -1)
    locked[:5] = [0, 0, 1, 1, 1]
    found = match(
        cells, palette, stock=np.full(20, 90), most_colours=7, must=[2, 3], must_not=[4, 5],
        weights=rng.uniform(1, 4, len(cells)), locked=locked,
    )  # fmt: skip
    used = set(found.tolist())
    assert len(used) <= 7 and {0, 1, 2, 3} <= used and not used & {4, 5}
    assert (np.bincount(found) <= 90).all() and found[:5].tolist() == [0, 0, 1, 1, 1]
    assert found.bound <= found.total


def test_the_fullest_few_colours_do_not_reach():
    with pytest.raises(NotEnoughStock) as short:
        match(np.random.default_rng(1).random((30, 3)), np.eye(3), stock=[10, 10, 10], most_colours=2)
    assert short.value.short_by == 10


@pytest.mark.parametrize(
    ("words", "asked"),
    [
        ("^most_colours: must be 1", {"most_colours": 0}),
        ("^most_colours: must be 1", {"most_colours": True}),
        ("^most_colours: 1 leaves no room for the 2", {"most_colours": 1, "must": [0, 1]}),
        ("^must: 2 is not among", {"must": [2], "must_not": [2]}),
        ("^must: .* as many cells", {"must": [0, 1, 2]}),
        ("^must_not: leaves no colour", {"must_not": [0, 1, 2]}),
        ("^must_not: palette numbers", {"must_not": [3]}),
        ("^weights:", {"weights": [1, 0]}),
        ("^locked:", {"locked": [3, -1]}),
        ("^stock: 1 balloons short", {"locked": [0, 0], "stock": [1, 9, 9]}),
        ("^stock: 1 balloons short", {"must": [1], "stock": [9, 0, 9]}),
    ],
)
def test_what_cannot_be_is_said(words, asked):
    with pytest.raises(ValueError, match=words):
        match([[1, 1, 1], [0, 0, 0]], np.eye(3), **asked)
