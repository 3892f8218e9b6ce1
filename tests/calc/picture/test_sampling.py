import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw
from skimage import data

from decor.calc.picture.colour import linear_to_srgb, srgb_to_linear
from decor.calc.picture.lattice import Lattice
from decor.calc.picture.matching import match
from decor.calc.picture.sampling import is_flat_art, kind_of, sample, sample_cover, sample_flat, sample_for

from .strategies import lattices, pictures

FLAG = np.array([[1, 1, 1], [0.8, 0.1, 0.1], [0.1, 0.2, 0.5], [1.0, 0.55, 0.6], [0.55, 0.6, 0.75], [0, 0, 0]])


def overlap(start, stop, size):
    """How much of each of ``size`` pixels lies between two places."""
    edges = np.arange(size + 1)
    return np.clip(np.minimum(stop, edges[1:]) - np.maximum(start, edges[:-1]), 0, None)


def by_the_definition(image, lattice):
    """Cell by cell: the pixels weighted by how much of them lies in the cell's box."""
    height, width = image.shape[:2]
    light = srgb_to_linear(image / 255.0)
    corner = np.array([lattice.pitch_m, lattice.row_pitch_m]) / 2
    size = np.array([lattice.width_m, lattice.height_m])
    found = []
    for centre in lattice.centres_m():
        x0, y0 = centre / size * (width, height)
        x1, y1 = (centre + 2 * corner) / size * (width, height)
        weights = overlap(y0, y1, height)[:, None] * overlap(x0, x1, width)
        found.append((weights[:, :, None] * light).sum(axis=(0, 1)) / weights.sum())
    return linear_to_srgb(np.clip(found, 0, 1))


@given(pictures(), lattices())
@settings(max_examples=150)
def test_exact_area_means_in_linear_light(image, lattice):
    np.testing.assert_allclose(sample(image, lattice), by_the_definition(image, lattice), atol=2e-5)


def test_black_and_white_mix_to_the_grey_of_half_the_light():
    image = np.zeros((2, 2, 3), dtype=np.uint8)
    image[0, 0] = image[1, 1] = 255
    mixed = sample(image, Lattice("square", 1, 1, 0.1))
    np.testing.assert_allclose(mixed, 188 / 255, atol=0.002)  # half the light is code 188, not 128


def test_odd_rows_look_half_a_pitch_to_the_right():
    """Two cells a row over five half-pitches: the shifted row sees other halves of the stripes."""
    stripes = np.zeros((2, 5, 3), dtype=np.uint8)
    stripes[:, ::2] = 255
    seen = srgb_to_linear(sample(stripes, Lattice("offset", 2, 2, 0.1))[:, 0]).reshape(2, 2)
    np.testing.assert_allclose(seen, 0.5, atol=1e-5)
    stripes[:] = 0
    stripes[:, 0] = 255
    seen = srgb_to_linear(sample(stripes, Lattice("offset", 2, 2, 0.1))[:, 0]).reshape(2, 2)
    np.testing.assert_allclose(seen, [[0.5, 0.0], [0.0, 0.0]], atol=1e-5)


@given(pictures(), lattices())
def test_a_mean_never_leaves_the_range_of_the_picture(image, lattice):
    cells = sample(image, lattice)
    assert cells.shape == (lattice.cells, 3)
    assert (cells >= image.min(axis=(0, 1)) / 255 - 1e-4).all()
    assert (cells <= image.max(axis=(0, 1)) / 255 + 1e-4).all()


@given(st.integers(0, 255), lattices())
def test_one_colour_stays_that_colour(code, lattice):
    image = np.full((7, 5, 3), code, dtype=np.uint8)
    np.testing.assert_allclose(sample(image, lattice), code / 255, atol=2e-5)


def test_more_cells_than_pixels():
    image = np.array([[[255, 0, 0], [0, 0, 255]]], dtype=np.uint8)
    cells = sample(image, Lattice("square", 3, 6, 0.1)).reshape(3, 6, 3)
    np.testing.assert_allclose(cells[:, :3], [[[1, 0, 0]] * 3] * 3, atol=1e-5)
    np.testing.assert_allclose(cells[:, 3:], [[[0, 0, 1]] * 3] * 3, atol=1e-5)


def drawing(width=900, height=700, quality=None):
    """A flag-like drawing with smooth edges, as a graphics program gives it out."""
    large = Image.new("RGB", (2 * width, 2 * height), "white")
    pen = ImageDraw.Draw(large)
    pen.rectangle((0, 0, width, height), fill=(26, 51, 128))
    pen.ellipse((width // 2, height // 2, 3 * width // 2, 3 * height // 2), fill=(204, 26, 26))
    pen.polygon([(1500, 100), (1700, 600), (1200, 500)], fill=(0, 0, 0))
    return np.asarray(large.resize((width, height), Image.Resampling.LANCZOS))


@pytest.mark.parametrize("kind", ["square", "offset", "hex"])
def test_a_drawing_gets_no_colour_that_it_does_not_have(kind):
    lattice = Lattice(kind, 31, 40, 0.1)
    cells = sample_for(drawing(), lattice, FLAG)
    used = set(match(cells, FLAG).tolist())
    assert used == {0, 1, 2, 5}
    # Plain means would bring in the pink and the pale blue along the edges.
    assert {3, 4} <= set(match(sample(drawing(), lattice), FLAG).tolist())


def test_flat_cells_take_what_fills_most_of_them():
    image = np.zeros((40, 40, 3), dtype=np.uint8)
    image[:, :14] = (255, 0, 0)  # cell 0 is 70 % red, cell 1 is black
    image[:, 14:] = (0, 0, 0)
    cells = sample_flat(image, Lattice("square", 1, 2, 0.1), [[1, 0, 0], [0, 0, 0], [0.5, 0, 0]])
    np.testing.assert_allclose(cells, [[1, 0, 0], [0, 0, 0]], atol=1e-9)


def test_flat_cells_keep_the_pictures_own_shade():
    image = np.full((20, 20, 3), (200, 30, 40), dtype=np.uint8)
    cells = sample_flat(image, Lattice("hex", 2, 2, 0.1), [[1, 0, 0], [0, 0, 1]])
    np.testing.assert_allclose(cells, [[200 / 255, 30 / 255, 40 / 255]] * 4)


@given(pictures(), lattices(max_side=6))
def test_flat_cells_match_to_a_colour_that_is_there(image, lattice):
    cells = sample_flat(image, lattice, FLAG)
    assert cells.shape == (lattice.cells, 3)
    numbers = match(cells, FLAG)
    looked_at = match(np.unique(image.reshape(-1, 3), axis=0) / 255, FLAG)
    # Shades are averaged over eight codes a channel, so allow a colour next to one that is there.
    assert len(set(numbers.tolist())) <= len(set(looked_at.tolist())) + 1


def test_drawings_are_told_from_photographs():
    assert is_flat_art(drawing())
    assert is_flat_art(np.full((1, 1, 3), 7, dtype=np.uint8))
    for photograph in (data.astronaut(), data.chelsea(), data.coffee(), data.rocket()):
        assert not is_flat_art(photograph)


def test_grey_photographs_are_no_drawings():
    """They have few codes, as all greys have, but no areas: open pictures of scikit-image."""
    for name in ("camera", "coins", "moon", "clock", "brick", "grass", "gravel", "page", "text"):
        assert kind_of(np.repeat(getattr(data, name)()[..., None], 3, axis=2)) == "photograph"
    grey = np.asarray(Image.fromarray(data.astronaut()).convert("L").convert("RGB"))
    assert kind_of(grey) == "photograph"
    assert kind_of(np.ascontiguousarray(data.logo()[..., :3])) == "flat"
    assert kind_of(np.repeat((data.horse() * np.uint8(255))[..., None], 3, axis=2)) == "flat"


@given(lattices(max_side=7), st.integers(0, 2**32 - 1))
def test_cover_is_the_mean_of_a_mask(lattice, seed):
    """As colour is sampled, but without the curve of light: a mask as a grey picture through NumPy's own means."""
    mask = np.random.default_rng(seed).integers(0, 256, (lattice.rows * 4, 3), dtype=np.uint8)
    mask = np.repeat(mask, int(lattice.width_pitches * 2), axis=1)  # half a pitch is a whole number of pixels
    seen = sample_cover(mask, lattice).reshape(lattice.rows, lattice.columns)
    pixels = mask.shape[1] / lattice.width_pitches
    for row in range(lattice.rows):
        for column in range(lattice.columns):
            left = round((column + lattice.row_shift_pitches(row)) * pixels)
            box = mask[4 * row : 4 * row + 4, left : left + round(pixels)]
            assert abs(seen[row, column] - box.mean() / 255) < 1e-5


def test_a_cell_has_the_colour_of_its_solid_part():
    image = np.zeros((20, 20, 3), dtype=np.uint8)
    image[:, :5] = (200, 30, 40)
    image[:, 5:] = (0, 255, 0)  # what a graphics program leaves behind a see-through part
    cover = np.zeros((20, 20), dtype=np.uint8)
    cover[:, :5] = 255
    one = Lattice("square", 1, 1, 0.1)
    np.testing.assert_allclose(sample(image, one, cover=cover), [[200 / 255, 30 / 255, 40 / 255]], atol=1e-6)
    flat = sample_flat(image, one, [[1, 0, 0], [0, 1, 0]], cover=cover)
    np.testing.assert_allclose(flat, [[200 / 255, 30 / 255, 40 / 255]], atol=1e-9)
    np.testing.assert_array_equal(
        sample(image, one, cover=np.full_like(cover, 255)).round(6), sample(image, one).round(6)
    )
    assert np.isfinite(sample(image, one, cover=np.zeros_like(cover))).all()
    half = cover // 2
    np.testing.assert_allclose(sample(image, one, cover=half), sample(image, one, cover=cover), atol=1e-6)


def test_bad_covers_are_named():
    image, one = np.zeros((4, 5, 3), dtype=np.uint8), Lattice("square", 1, 1, 0.1)
    for bad in (np.zeros((4, 4), dtype=np.uint8), np.zeros((4, 5)), np.zeros((4, 5, 1), dtype=np.uint8)):
        with pytest.raises(ValueError, match=r"^cover:"):
            sample(image, one, cover=bad)
        with pytest.raises(ValueError, match=r"^cover:"):
            sample_flat(image, one, [[1, 0, 0]], cover=bad)
    with pytest.raises(ValueError, match=r"^alpha:"):
        sample_cover(np.zeros((3, 3)), one)


def test_photographs_are_averaged():
    lattice = Lattice("offset", 20, 20, 0.1)
    cells = sample_for(data.astronaut(), lattice, FLAG)
    np.testing.assert_array_equal(cells, sample(data.astronaut(), lattice))


@pytest.mark.parametrize(
    "bad",
    [
        np.zeros((4, 4), dtype=np.uint8),
        np.zeros((4, 4, 4), dtype=np.uint8),
        np.zeros((4, 4, 3)),
        np.zeros((0, 4, 3), dtype=np.uint8),
        [[1, 2, 3]],
    ],
)
def test_bad_pictures_are_named(bad):
    lattice = Lattice("square", 2, 2, 0.1)
    for call in (lambda: sample(bad, lattice), lambda: sample_flat(bad, lattice, FLAG), lambda: is_flat_art(bad)):
        with pytest.raises(ValueError, match=r"^image_srgb:"):
            call()
