import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from skimage import color as peer

from decor.calc.picture.colour import (
    delta_e_2000,
    delta_e_2000_table,
    linear_to_srgb,
    srgb_to_lab,
    srgb_to_linear,
)
from tests.calc.reference import rows

SHARMA = np.array([[float(value) for value in row.values()] for row in rows("ciede2000_sharma2005.csv")])

colours = arrays.arrays(np.float64, st.tuples(st.integers(1, 12), st.just(3)), elements=st.floats(0.0, 1.0))


def test_all_34_published_pairs_to_four_decimals_both_ways_round():
    assert SHARMA.shape == (34, 7)
    first, second, published = SHARMA[:, :3], SHARMA[:, 3:6], SHARMA[:, 6]
    np.testing.assert_allclose(delta_e_2000(first, second), published, rtol=0, atol=5.01e-5)
    np.testing.assert_allclose(delta_e_2000(second, first), published, rtol=0, atol=5.01e-5)


def test_the_fast_table_holds_the_published_pairs_too():
    table = delta_e_2000_table(SHARMA[:, :3], SHARMA[:, 3:6])
    np.testing.assert_allclose(np.diag(table), SHARMA[:, 6], rtol=0, atol=1e-4)


@pytest.mark.parametrize("row", rows("srgb_linear.csv"), ids=lambda row: row["code"])
def test_published_codes_in_linear_light(row):
    assert srgb_to_linear(int(row["code"]) / 255) == pytest.approx(float(row["linear"]), abs=5e-9)


@pytest.mark.parametrize("row", rows("srgb_lab.csv"), ids=lambda row: row["hex"])
def test_lab_of_known_colours(row):
    lab = srgb_to_lab(np.array(list(bytes.fromhex(row["hex"]))) / 255)
    np.testing.assert_allclose(lab, [float(row[axis]) for axis in "Lab"], rtol=0, atol=0.03)


def test_greys_are_exactly_neutral_and_white_is_100():
    greys = srgb_to_lab(np.linspace(0, 1, 50)[:, None] * np.ones(3))
    np.testing.assert_allclose(greys[:, 1:], 0, atol=1e-11)
    assert greys[-1, 0] == pytest.approx(100.0, abs=1e-12)
    assert greys[0, 0] == pytest.approx(0.0, abs=1e-12)


def test_known_differences():
    """Computed alike by two independent libraries."""
    pairs = [
        ("000000", "ffffff", 100.0),
        ("ff0000", "00ff00", 86.6085),
        ("0000ff", "0000c8", 7.0171),
        ("d4af37", "cfb53b", 3.3443),
        ("ff69b4", "ff1493", 9.8338),
    ]
    for one, other, expected in pairs:
        lab = [srgb_to_lab(np.array(list(bytes.fromhex(code))) / 255) for code in (one, other)]
        assert float(delta_e_2000(*lab)) == pytest.approx(expected, abs=0.01)


@given(colours)
def test_linear_light_there_and_back(rgb):
    np.testing.assert_allclose(linear_to_srgb(srgb_to_linear(rgb)), rgb, atol=1e-6)


@given(colours, colours)
@settings(max_examples=200)
def test_agrees_with_an_independent_library(one, other):
    a, b = srgb_to_lab(one)[:, None], srgb_to_lab(other)[None]
    ours = delta_e_2000(a, b)
    theirs = peer.deltaE_ciede2000(np.broadcast_to(a, (*ours.shape, 3)), np.broadcast_to(b, (*ours.shape, 3)))
    # Exactly opposite hues have two mean hues; a rounding decides which one a library takes.
    hue = [np.arctan2(lab[..., 2], lab[..., 1]) for lab in (a, b)]
    clear = np.abs(np.abs(hue[0] - hue[1]) - np.pi) > 0.1
    np.testing.assert_allclose(ours[clear], theirs[clear], atol=1e-6)


@given(colours, colours)
@settings(max_examples=200)
def test_the_fast_table_agrees_with_the_plain_formula(one, other):
    a, b = srgb_to_lab(one), srgb_to_lab(other)
    np.testing.assert_allclose(delta_e_2000_table(a, b), delta_e_2000(a[:, None], b), rtol=0, atol=5e-4)


def test_the_fast_table_over_many_blocks():
    rng = np.random.default_rng(2)
    a, b = srgb_to_lab(rng.random((1300, 3))), srgb_to_lab(rng.random((31, 3)))
    table = delta_e_2000_table(a, b)
    assert table.shape == (1300, 31)
    np.testing.assert_allclose(table, delta_e_2000(a[:, None], b), rtol=0, atol=5e-4)


@given(colours)
def test_nothing_differs_from_itself(rgb):
    lab = srgb_to_lab(rgb)
    np.testing.assert_array_equal(delta_e_2000(lab, lab), 0)


def test_shapes_broadcast():
    assert delta_e_2000(np.zeros((4, 1, 3)), np.zeros((5, 3))).shape == (4, 5)
    assert delta_e_2000([50, 0, 0], [50, 0, 0]).shape == ()
    assert delta_e_2000_table(np.zeros((0, 3)), np.zeros((2, 3))).shape == (0, 2)


@pytest.mark.parametrize("bad", [1.0, [0.5, 0.5], [0.2, 0.3, 1.2], [-0.01, 0, 0], [np.nan, 0, 0], [[255, 0, 0]]])
def test_bad_rgb_is_named(bad):
    with pytest.raises(ValueError, match=r"^rgb:"):
        srgb_to_lab(bad)


def test_bad_lab_is_named():
    with pytest.raises(ValueError, match=r"^lab_b:"):
        delta_e_2000([1, 2, 3], [1, 2])
    with pytest.raises(ValueError, match=r"^lab_a:"):
        delta_e_2000_table([1, 2, 3], [[1, 2, 3]])
