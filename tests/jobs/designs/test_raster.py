"""The painted panel: looked at pixel by pixel where a balloon, the net or a join must show."""

import io

import numpy as np
import pytest
from hypothesis import assume, given, settings
from PIL import Image

from decor.calc.picture.chart import Chart
from decor.calc.picture.lattice import Lattice
from decor.calc.picture.sheets import plan_grid
from jobs.designs.raster import balloons_jpeg, balloons_png
from tests.calc.picture.strategies import charts

PALETTE = [(244, 242, 236), (200, 50, 43), (31, 58, 99), (40, 160, 70)]
GROUND = (239, 235, 227)


def pixels(data):
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB")).astype(int)


def nearest(colour):
    """The palette number whose hue a shaded pixel has, by direction rather than brightness."""
    shades = np.array(PALETTE, dtype=float)
    shades /= np.linalg.norm(shades, axis=1)[:, None]
    return int((shades @ (colour / np.linalg.norm(colour))).argmax())


@given(charts())
@settings(max_examples=40)
def test_each_balloon_shows_its_colour_and_an_empty_cell_the_net(chart):
    lattice = chart.lattice
    width = round(40 * lattice.width_pitches)
    scale = width / lattice.width_m
    row_pitch = lattice.row_pitch_m * scale
    assume(30 < row_pitch < 400)  # rows that lie over each other hide their neighbours
    image = pixels(balloons_png(chart, PALETTE, width))
    assert image.shape == (round(lattice.height_m * scale), width, 3)
    places = lattice.centres_m() * scale + [20, row_pitch / 2]
    for (x, y), colour in zip(places.astype(int), chart.cells.ravel(), strict=True):
        if colour >= 0:
            assert nearest(image[y + 3, x + 3]) == colour  # beside the highlight
        else:
            assert tuple(image[y, x]) == GROUND


def test_balloons_are_lit_from_above_and_dark_at_the_rim():
    chart = Chart([[1]], Lattice("square", 1, 1, 0.1))
    image = pixels(balloons_png(chart, PALETTE, 200)).sum(axis=2)
    assert image[60, 64] > image[100, 100] > image[165, 165]


def test_joins_show_on_any_colour():
    for colour in range(4):
        chart = Chart(np.full((6, 6), colour), Lattice("square", 6, 6, 0.1))
        plan = plan_grid(6, 6, 6, 3)
        along = pixels(balloons_png(chart, PALETTE, 600, joins=plan.joins))[:, 299:302]
        assert (along.min(axis=(1, 2)) < 45).any()  # dark dashes
        assert (along.max(axis=1) > 250).all(axis=1).any()  # on a light line
        plain = pixels(balloons_png(chart, PALETTE, 600))
        assert not np.array_equal(plain[:, 299:302], along)


def test_the_same_chart_gives_the_same_bytes():
    rng = np.random.default_rng(0)
    chart = Chart(rng.integers(-1, 4, (20, 30)), Lattice("hex", 20, 30, 0.1))
    joins = plan_grid(20, 30, 12, 12).joins
    for paint in (balloons_png, balloons_jpeg):
        assert paint(chart, PALETTE, 500, joins=joins) == paint(chart, PALETTE, 500, joins=joins)


def test_jpeg_and_png_show_the_same():
    chart = Chart([[0, 1], [2, 3]], Lattice("offset", 2, 2, 0.1))
    png, jpeg = balloons_png(chart, PALETTE, 300), balloons_jpeg(chart, PALETTE, 300)
    assert Image.open(io.BytesIO(png)).format == "PNG" and Image.open(io.BytesIO(jpeg)).format == "JPEG"
    assert np.abs(pixels(png) - pixels(jpeg)).mean() < 3


def test_tiny_pictures_and_huge_panels_can_be_painted():
    assert pixels(balloons_png(Chart([[1]], Lattice("square", 1, 1, 0.1)), PALETTE, 1)).shape == (1, 1, 3)
    rng = np.random.default_rng(0)
    chart = Chart(rng.integers(0, 4, (316, 316)), Lattice("square", 316, 316, 0.1))
    assert pixels(balloons_jpeg(chart, PALETTE, 700)).shape == (700, 700, 3)


@pytest.mark.parametrize("width", [0, -5, 100_000])
def test_a_width_that_cannot_be_painted_is_named(width):
    with pytest.raises(ValueError, match=r"^width_px:"):
        balloons_png(Chart([[1, 1]], Lattice("square", 1, 2, 0.1)), PALETTE, width)


def test_one_balloon_as_wide_as_a_poster_is_named():
    with pytest.raises(ValueError, match=r"^width_px:"):
        balloons_png(Chart([[1]], Lattice("square", 1, 1, 0.1)), PALETTE, 4000)


@pytest.mark.parametrize("palette", [PALETTE[:1], [(0, 0, 0), (0, 0, 256)], [(0, 0, 0), (-1, 0, 0)]])
def test_a_bad_palette_is_named(palette):
    with pytest.raises(ValueError, match=r"^palette_rgb:"):
        balloons_png(Chart([[1]], Lattice("square", 1, 1, 0.1)), palette, 100)
