import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter
from skimage import data

from decor.calc.picture.colour import delta_e_2000, linear_to_srgb, srgb_to_lab, srgb_to_linear
from decor.calc.picture.dithering import diffuse, diffuse_within, strength_for
from decor.calc.picture.lattice import KINDS, Lattice
from decor.calc.picture.matching import NotEnoughStock
from decor.calc.picture.sampling import sample
from tests.calc.picture.strategies import lattices


def palette_of_a_store(colours=60):
    """Greys and hues as light and dark, pale and strong: what a store has, and no more."""
    rng = np.random.default_rng(5)
    greys = np.linspace(0.03, 0.97, 6)[:, None].repeat(3, axis=1)
    return np.concatenate([greys, rng.random((colours - 6, 3))])


def from_afar(numbers, cells, palette, lattice, blur_cells=1.5):
    """Mean CIEDE2000 once both are blurred in linear light, as distance does (SciPy's Gaussian)."""
    blurred = []
    for colours in (cells, palette[numbers]):
        light = srgb_to_linear(colours).reshape(lattice.rows, lattice.columns, 3)
        soft = gaussian_filter(light, (blur_cells, blur_cells, 0))
        blurred.append(srgb_to_lab(np.clip(linear_to_srgb(soft), 0, 1).reshape(-1, 3)))
    return delta_e_2000(*blurred).mean()


@pytest.mark.parametrize("kind", KINDS)
def test_from_afar_a_diffused_photograph_is_far_nearer(kind):
    lattice = Lattice(kind, 60, 50, 0.1)
    cells, palette = sample(data.astronaut(), lattice), palette_of_a_store()
    seen = [from_afar(diffuse(cells, palette, lattice, strength=s), cells, palette, lattice) for s in (0.0, 0.5, 1.0)]
    assert seen[1] < 0.75 * seen[0] and seen[2] < 0.5 * seen[0]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("grey", [0.2, 0.5, 0.735])
def test_black_and_white_give_a_greys_own_light(kind, grey):
    """The share of white is the linear light of the grey (IEC 61966-2-1), not its code."""
    lattice = Lattice(kind, 40, 50, 0.1)
    numbers = diffuse(np.full((2000, 3), grey), [[0, 0, 0], [1, 1, 1]], lattice, strength=1.0)
    assert numbers.mean() == pytest.approx(((grey + 0.055) / 1.055) ** 2.4, abs=0.02)


@given(lattices(), st.integers(0, 2**32 - 1), st.floats(0.0, 1.0))
@settings(max_examples=40, deadline=None)
def test_only_allowed_colours_and_calm_cells_by_themselves(lattice, seed, strength):
    rng = np.random.default_rng(seed)
    cells, palette = rng.random((lattice.cells, 3)), rng.random((5, 3))
    allowed = np.array([True, False, True, True, False])
    calm = rng.random(lattice.cells) < 0.5
    got = diffuse(cells, palette, lattice, strength=strength, where=~calm, allowed=allowed)
    assert got.shape == (lattice.cells,) and set(got.tolist()) <= {0, 2, 3}
    plain = diffuse(cells, palette, lattice, strength=0.0, allowed=allowed)
    np.testing.assert_array_equal(got[calm], plain[calm])


@given(lattices(), st.integers(0, 2**32 - 1), st.integers(0, 9), st.floats(0.0, 1.0))
@settings(max_examples=40, deadline=None)
def test_never_above_stock(lattice, seed, spare, strength):
    rng = np.random.default_rng(seed)
    cells, palette = rng.random((lattice.cells, 3)), rng.random((5, 3))
    stock = rng.multinomial(lattice.cells + spare, rng.dirichlet(np.ones(5)))
    got = diffuse_within(cells, palette, lattice, strength=strength, stock=stock)
    assert (np.bincount(got, minlength=5) <= stock).all()
    with pytest.raises(NotEnoughStock) as short:
        diffuse_within(cells, palette, lattice, strength=strength, stock=rng.multinomial(lattice.cells - 1, [0.2] * 5))
    assert short.value.short_by == 1


def test_plenty_of_stock_changes_little():
    lattice = Lattice("offset", 40, 34, 0.1)
    cells, palette = sample(data.coffee(), lattice), palette_of_a_store()
    free = diffuse(cells, palette, lattice, strength=0.75)
    within = diffuse_within(cells, palette, lattice, strength=0.75, stock=np.full(60, 9000))
    seen = [from_afar(numbers, cells, palette, lattice) for numbers in (free, within)]
    assert seen[1] <= 1.1 * seen[0]


def test_scarce_stock_is_spread_so_that_the_picture_stays():
    """Diffusing within the stock must look nearer from afar than what is best cell by cell within it."""
    lattice = Lattice("offset", 60, 50, 0.1)
    cells, palette = sample(data.astronaut(), lattice), palette_of_a_store()
    liked = np.bincount(diffuse(cells, palette, lattice, strength=0.75), minlength=60)
    stock = np.ceil(0.8 * liked + 0.3 * lattice.cells / 60).astype(int)
    calm, lively = (diffuse_within(cells, palette, lattice, strength=strength, stock=stock) for strength in (0.0, 0.75))
    assert from_afar(lively, cells, palette, lattice) < 0.7 * from_afar(calm, cells, palette, lattice)


@pytest.mark.parametrize("kind", ["flat", "photograph"])
def test_the_strength_grows_with_the_panel_and_is_none_for_flat_art(kind):
    strengths = [strength_for(kind, cells) for cells in (1, 900, 3000, 7000, 100_000)]
    assert strengths == sorted(strengths) and strengths[:2] == [0.0, 0.0]
    assert strengths[-1] == (0.0 if kind == "flat" else 0.75)


@pytest.mark.parametrize(
    ("named", "changed"),
    [
        ("cells_srgb", {"cells_srgb": [[0.5] * 3] * 2}),
        ("palette_srgb", {"palette_srgb": [[0, 0, 2]]}),
        ("strength", {"strength": 1.1}),
        ("strength", {"strength": float("nan")}),
        ("allowed", {"allowed": [False, False]}),
    ],
)
def test_a_bad_argument_is_named(named, changed):
    good = {
        "cells_srgb": [[0.5] * 3] * 3,
        "palette_srgb": [[0, 0, 0], [1, 1, 1]],
        "lattice": Lattice("square", 1, 3, 0.1),
        "strength": 0.5,
    }
    with pytest.raises(ValueError, match=named):
        diffuse(**(good | changed))
