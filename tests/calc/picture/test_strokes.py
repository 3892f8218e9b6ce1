"""Strokes of known width, drawn large and made small; SciPy's distance transform as the peer."""

import io

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw, ImageFilter
from scipy import ndimage
from skimage import data

from decor.calc.picture.lattice import Lattice
from decor.calc.picture.sampling import thin_strokes
from decor.calc.picture.strokes import ThinStrokes, _Areas, _opened

CELLS = Lattice("square", 60, 60, 0.1)  # pictures of 1,200 pixels: 20 a cell


def drawn(draw):
    large = Image.new("RGB", (2400, 2400), "white")
    draw(ImageDraw.Draw(large), 40)
    return np.asarray(large.resize((1200, 1200), Image.Resampling.LANCZOS))


WAYS = {
    "upright": lambda pen, cell, wide: pen.rectangle((20 * cell, 5 * cell, (20 + wide) * cell, 50 * cell), "black"),
    "slanted": lambda pen, cell, wide: pen.line(
        (6 * cell, 6 * cell, 50 * cell, 41 * cell), (190, 0, 0), round(wide * cell)
    ),
    "ring": lambda pen, cell, wide: pen.ellipse(
        (10 * cell, 10 * cell, 50 * cell, 50 * cell), outline=(0, 0, 120), width=round(wide * cell)
    ),
}  # fmt: skip


@pytest.mark.parametrize("way", WAYS)
def test_thin_ones_are_told_from_thick_ones(way):
    for wide in (0.6, 1.3):
        strokes = thin_strokes(drawn(lambda pen, cell: WAYS[way](pen, cell, wide)), CELLS)  # noqa: B023
        assert strokes.share > 0.005
        assert wide - 0.26 <= strokes.narrowest_cells <= wide + 0.45
    for wide in (1.7, 3.0):
        strokes = thin_strokes(drawn(lambda pen, cell: WAYS[way](pen, cell, wide)), CELLS)  # noqa: B023
        assert strokes.share < 0.001 and strokes.narrowest_cells == 1.5


def test_the_share_is_the_strokes_own_area():
    strokes = thin_strokes(drawn(lambda pen, cell: WAYS["upright"](pen, cell, 1.0)), CELLS)
    assert strokes.share == pytest.approx(45 / 3600, rel=0.2)


def test_corners_and_smooth_edges_are_no_strokes():
    def flags(pen, cell):
        for at in range(5):
            for down in range(5):
                x, y = (4 + 11 * at) * cell, (4 + 11 * down) * cell
                pen.rectangle((x, y, x + 6 * cell, y + 6 * cell), (200, 20, 30))
        pen.ellipse((20 * cell, 20 * cell, 30 * cell, 30 * cell), (120, 120, 120))

    assert thin_strokes(drawn(flags), CELLS).share < 0.003


def boxes(cells, lattice):
    """The cells as boxes of ten pixels, shifted rows begun with white."""
    high = 10 * lattice.row_pitch_m / lattice.pitch_m
    picture = np.full((round(len(cells) * high), round(10 * lattice.width_pitches), 3), 255, dtype=np.uint8)
    for row, line in enumerate(cells):
        left = round(10 * lattice.row_shift_pitches(row))
        colours = np.array([[125, 180, 215], [200, 40, 40], [30, 60, 100]])[line].repeat(10, axis=0)
        picture[round(row * high) : round((row + 1) * high), left : left + len(colours)] = colours
    return picture


@pytest.mark.parametrize("kind", ["square", "offset", "hex"])
@pytest.mark.parametrize(("rows", "columns"), [(9, 13), (22, 26), (100, 70)])
def test_a_drawing_of_the_very_cells_has_no_thin_strokes(kind, rows, columns):
    """A chart of strokes one cell wide, drawn as boxes, on the cells it was made for and on twice as many; on cells
    that lie otherwise its strokes are thin, and so they are in a client's drawing that happens to fit its cells."""
    lattice = Lattice(kind, rows, columns, 0.124, 0.118 if kind == "offset" else None)
    cells = np.zeros((rows, columns), dtype=int)
    cells[2, 1:-1] = cells[2:-1, 4] = 1
    cells[np.arange(3, rows - 1), 6 + np.arange(rows - 4) % (columns - 7)] = 2
    picture = boxes(cells, lattice)
    assert thin_strokes(picture, lattice, of_cells=True) == ThinStrokes(0.0, 1.5)
    assert thin_strokes(picture, lattice).share > 0.0025
    if kind == "square":
        twice = Lattice("square", 2 * rows, 2 * columns, 0.1)
        assert thin_strokes(picture, twice, of_cells=True).share == 0.0
    other = Lattice("square", round(1.2 * rows), round(1.2 * columns), 0.1)
    assert thin_strokes(picture, other, of_cells=True).share > 0.0025


@pytest.mark.parametrize("at", [0, 4, 9])
def test_a_hair_line_that_no_cell_would_show_is_told_all_the_same(at):
    """Over a drawing of the very cells, on their edge and within."""
    picture = boxes(np.arange(400).reshape(20, 20) // 10 % 3, Lattice("square", 20, 20, 0.1))
    assert thin_strokes(picture, Lattice("square", 20, 20, 0.1), of_cells=True).share == 0.0
    picture[70 + at : 71 + at, 20:180] = 0
    assert thin_strokes(picture, Lattice("square", 20, 20, 0.1), of_cells=True).narrowest_cells == 0.5


def as_jpeg(picture, quality=60):
    kept = io.BytesIO()
    Image.fromarray(picture).save(kept, "JPEG", quality=quality)
    return np.asarray(Image.open(kept).convert("RGB"))


@pytest.mark.parametrize("way", WAYS)
def test_a_jpegs_thin_line_is_of_many_shades_and_thin_all_the_same(way):
    picture = drawn(lambda pen, cell: WAYS[way](pen, cell, 0.6))
    strokes = thin_strokes(as_jpeg(picture), CELLS)
    assert strokes.share > 0.6 * thin_strokes(picture, CELLS).share
    assert strokes.narrowest_cells <= 1.0


def test_a_jpegs_thick_shape_has_no_thin_strokes():
    thick = drawn(lambda pen, cell: pen.ellipse((10 * cell, 10 * cell, 50 * cell, 50 * cell), (200, 30, 40)))
    assert thin_strokes(as_jpeg(thick), CELLS).share < 0.001


def test_a_line_under_a_logo_is_told_though_it_is_little_of_the_picture():
    def logo(pen, cell):
        pen.ellipse((15 * cell, 5 * cell, 45 * cell, 35 * cell), (200, 30, 40))
        pen.rectangle((15 * cell, 50 * cell, 45 * cell, 50.4 * cell), (20, 30, 90))

    strokes = thin_strokes(drawn(logo), CELLS)
    assert strokes.share >= 0.0025
    assert strokes.narrowest_cells == 0.5


def hair(pen, box, cell, wide, ink):
    left, top, right, bottom = (round(side * cell) for side in box)
    pen.rectangle((left, top, right or left + wide - 1, bottom or top + wide - 1), ink)


HAIRS = {
    "upright": lambda pen, cell, wide, ink: hair(pen, (30.3, 15, 0, 45), cell, wide, ink),
    "level": lambda pen, cell, wide, ink: hair(pen, (15, 40.4, 45, 0), cell, wide, ink),
    "slanted": lambda pen, cell, wide, ink: pen.line((10 * cell, 10 * cell, 45 * cell, 33 * cell), ink, wide),
}  # fmt: skip


@pytest.mark.parametrize("pixels", [1200, 2400])
@pytest.mark.parametrize("way", HAIRS)
def test_a_line_between_two_looks_is_told(way, pixels):
    """From a twentieth to an eighth of a cell, half as long as the panel; also as a JPEG, white on red, and grey."""
    cell = pixels / 60
    for share in (0.05, 0.08, 0.125):
        for ground, ink in (("white", "black"), ((200, 30, 40), "white"), ("white", (150, 150, 150))):
            picture = Image.new("RGB", (pixels, pixels), ground)
            HAIRS[way](ImageDraw.Draw(picture), cell, max(1, round(share * cell)), ink)
            for seen in (np.asarray(picture), as_jpeg(np.asarray(picture), 75)):
                strokes = thin_strokes(seen, CELLS)
                assert strokes.share >= 0.0025, (share, ground)
                assert strokes.narrowest_cells == 0.5


def slanted_stripes(pen, cell):
    """Five cells wide, of colours that JPEG runs over at their edges."""
    inks = ((220, 30, 30), "white", (30, 60, 200), (240, 220, 40))
    for at in range(-12, 12):
        left, far = at * 5 * cell, 60 * cell
        pen.polygon([(left, 0), (left + 5 * cell, 0), (left + 5 * cell + far, far), (left + far, far)], inks[at % 4])


def blocks(pen, cell):
    inks = ((220, 30, 30), (30, 160, 60), (30, 60, 200), (240, 220, 40), (20, 20, 20))
    for at in range(144):
        row, column = divmod(at, 12)
        box = (column * 5 * cell, row * 5 * cell, (column + 1) * 5 * cell, (row + 1) * 5 * cell)
        pen.rectangle(box, inks[(column * 3 + row * 2) % 5])


@pytest.mark.parametrize("shapes", [slanted_stripes, blocks])
def test_smooth_and_broken_edges_are_no_hairlines(shapes):
    """Hard, smoothed, blurred, and as JPEGs down to a poor one."""
    hard = Image.new("RGB", (1200, 1200), "white")
    shapes(ImageDraw.Draw(hard), 20)
    blurred = np.asarray(hard.filter(ImageFilter.GaussianBlur(2)))
    smooth = drawn(shapes)
    for seen in (np.asarray(hard), blurred, smooth, *(as_jpeg(smooth, quality) for quality in (90, 60, 30))):
        assert thin_strokes(seen, CELLS).share < 0.0005


def test_the_same_line_is_thin_on_few_cells_and_thick_on_many():
    picture = drawn(lambda pen, cell: WAYS["ring"](pen, cell, 2.0))
    assert thin_strokes(picture, Lattice("offset", 30, 30, 0.1)).share > 0.01
    assert thin_strokes(picture, Lattice("hex", 70, 60, 0.1)).share < 0.001
    assert thin_strokes(picture, Lattice("square", 150, 150, 0.1)).share < 0.001


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=12)
def test_what_is_laid_into_an_area_stays_in_it_and_is_as_wide_as_asked(seed):
    """By SciPy's Euclidean distances: whatever a disc of the width fits into is kept; what is kept lies in an area
    that some line of the width crosses."""
    rng = np.random.default_rng(seed)
    blobs = ndimage.gaussian_filter(rng.normal(size=(70, 90)), 4) > 0
    areas = _Areas(blobs.astype(np.int64), np.zeros((2, 3)))
    kept = _opened(areas, 9)
    for area in (blobs, ~blobs):
        grown = np.pad(area, 20, mode="edge")
        deep = ndimage.maximum_filter(ndimage.distance_transform_edt(grown), 13)[20:-20, 20:-20]
        discs = ndimage.distance_transform_edt(~(ndimage.distance_transform_edt(grown) > 6.2))[20:-20, 20:-20] < 4.0
        assert kept[discs & area].all()
        assert not (kept & area & (deep < 2.9)).any()


def test_a_photograph_and_one_pixel_fall_over_nothing():
    assert 0.0 <= thin_strokes(data.astronaut(), CELLS).share <= 1.0
    assert thin_strokes(np.zeros((1, 1, 3), dtype=np.uint8), CELLS).share == 0.0
    with pytest.raises(ValueError, match=r"^image_srgb:"):
        thin_strokes(np.zeros((3, 3)), CELLS)
