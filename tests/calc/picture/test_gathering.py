import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from skimage import data

from decor.calc.picture.colour import delta_e_2000, srgb_to_lab
from decor.calc.picture.gathering import gather
from decor.calc.picture.lattice import Lattice
from decor.calc.picture.matching import match
from decor.calc.picture.sampling import sample
from tests.calc.picture.strategies import lattices


def lone(numbers, lattice):
    """Filled cells without a neighbour of their colour, counted cell by cell."""
    friends = {cell: 0 for cell in range(lattice.cells) if numbers[cell] >= 0}
    for one, other in lattice.neighbours().tolist():
        if numbers[one] == numbers[other] >= 0:
            friends[one] += 1
            friends[other] += 1
    return sum(not count for count in friends.values())


def energy(numbers, cells, palette, lattice, pull):
    filled = numbers >= 0
    cost = delta_e_2000(srgb_to_lab(cells[filled]), srgb_to_lab(palette[numbers[filled]])).sum()
    one, other = lattice.neighbours().T
    return cost - pull * np.count_nonzero((numbers[one] == numbers[other]) & (numbers[one] >= 0))


@given(lattices(), st.integers(0, 2**32 - 1), st.floats(0.0, 20.0))
@settings(max_examples=60, deadline=None)
def test_counts_stay_locked_and_empty_cells_stay_and_nothing_gets_worse(lattice, seed, pull):
    rng = np.random.default_rng(seed)
    cells, palette = rng.random((lattice.cells, 3)), rng.random((4, 3))
    numbers = rng.integers(-1, 4, lattice.cells)
    locked = np.where(rng.random(lattice.cells) < 0.2, numbers, -1)
    got = gather(numbers, cells, palette, lattice, locked=locked, pull=pull)
    assert sorted(got.tolist()) == sorted(numbers.tolist())
    stays = (numbers == -1) | (locked >= 0)
    np.testing.assert_array_equal(got[stays], numbers[stays])
    before, after = (energy(way, cells, palette, lattice, pull) for way in (numbers, got))
    assert after <= before + 1e-3 * lattice.cells


def test_strays_come_home():
    """Whites and reds of which one each strayed, on a picture that is grey all over."""
    lattice = Lattice("square", 5, 6, 0.1)
    chart = np.array([[0, 0, 0, 1, 1, 1]] * 5)
    chart[1, 1], chart[3, 4] = 1, 0
    grey, palette = np.full((30, 3), 0.5), [[1, 1, 1], [1, 0, 0]]
    assert lone(chart.ravel(), lattice) == 2
    assert lone(gather(chart.ravel(), grey, palette, lattice), lattice) == 0


@pytest.mark.parametrize("kind", ["square", "offset", "hex"])
def test_a_photograph_within_stock_loses_most_strays_at_a_small_loss(kind):
    lattice = Lattice(kind, 40, 34, 0.1)
    cells, palette = sample(data.astronaut(), lattice), np.random.default_rng(5).random((40, 3))
    liked = np.bincount(match(cells, palette), minlength=40)
    numbers = np.asarray(match(cells, palette, stock=np.ceil(0.6 * liked + 0.6 * len(cells) / 40).astype(int)))
    got = gather(numbers, cells, palette, lattice)
    cost = [delta_e_2000(srgb_to_lab(cells), srgb_to_lab(palette[way])).mean() for way in (numbers, got)]
    assert lone(got, lattice) < 0.6 * lone(numbers, lattice)
    assert cost[1] < 1.04 * cost[0]


def test_no_pull_and_nothing_to_move_change_nothing():
    lattice = Lattice("offset", 5, 6, 0.1)
    rng = np.random.default_rng(2)
    cells, palette, numbers = rng.random((30, 3)), rng.random((3, 3)), rng.integers(0, 3, 30)
    best = np.asarray(match(cells, palette))
    np.testing.assert_array_equal(gather(best, cells, palette, lattice, pull=0.0), best)
    np.testing.assert_array_equal(gather(numbers, cells, palette, lattice, locked=numbers), numbers)
    empty = np.full(30, -1)
    np.testing.assert_array_equal(gather(empty, cells, palette, lattice), empty)


@pytest.mark.parametrize(
    ("named", "changed"),
    [
        ("numbers", {"numbers": [0, 0, 2]}),
        ("numbers", {"numbers": [0, 0, -2]}),
        ("numbers", {"numbers": [0, 0]}),
        ("cells_srgb", {"cells_srgb": [[0.5, 0.5, 2.0]] * 3}),
        ("pull", {"pull": -1.0}),
        ("pull", {"pull": float("nan")}),
    ],
)
def test_a_bad_argument_is_named(named, changed):
    good = {
        "numbers": [0, 1, 0],
        "cells_srgb": [[0.5] * 3] * 3,
        "palette_srgb": [[0, 0, 0], [1, 1, 1]],
        "lattice": Lattice("square", 1, 3, 0.1),
    }
    with pytest.raises(ValueError, match=named):
        gather(**(good | changed))
