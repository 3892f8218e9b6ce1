"""Framing against Pillow's and scikit-image's own turning and cutting."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from skimage import data, transform

from decor.calc.picture.framing import Frame, framed, framed_size, light_codes

CAT = data.chelsea()
WHOLE = Frame()


def test_a_frame_that_changes_nothing_gives_the_very_pixels():
    np.testing.assert_array_equal(framed(CAT, WHOLE), CAT)
    solid = np.dstack([CAT, np.full(CAT.shape[:2], 200, dtype=np.uint8)])
    np.testing.assert_array_equal(framed(solid, WHOLE), solid)


@pytest.mark.parametrize(
    ("turn", "way"),
    [(90, Image.Transpose.ROTATE_270), (180, Image.Transpose.ROTATE_180), (270, Image.Transpose.ROTATE_90)],
)
def test_quarter_turns_are_pillows_clockwise_ones(turn, way):
    np.testing.assert_array_equal(framed(CAT, Frame(turn=turn)), np.asarray(Image.fromarray(CAT).transpose(way)))


def test_a_crop_is_pillows_crop_and_comes_before_the_turn_and_the_mirror():
    frame = Frame(left=0.25, top=0.1, right=0.75, bottom=0.6, turn=90, mirror=True)
    height, width = CAT.shape[:2]
    box = (round(0.25 * width), round(0.1 * height), round(0.75 * width), round(0.6 * height))
    picture = Image.fromarray(CAT).crop(box).transpose(Image.Transpose.ROTATE_270)
    expected = np.asarray(picture.transpose(Image.Transpose.FLIP_LEFT_RIGHT))
    np.testing.assert_array_equal(framed(CAT, frame), expected)
    wide, high = framed_size(width, height, frame)
    assert (round(high), round(wide)) == expected.shape[:2] or abs(high - expected.shape[0]) < 1


@pytest.mark.parametrize("level", [-15.0, -3.5, 7.0, 15.0, 40.0])
def test_levelling_is_scikit_images_turning_about_the_middle(level):
    """A crop far from the edges, where nothing has to be drawn in; scikit-image counts its degrees the other way."""
    frame = Frame(left=0.35, top=0.35, right=0.65, bottom=0.65, level_deg=level)
    top, bottom, left, right = round(0.35 * 300), round(0.65 * 300), round(0.35 * 451), round(0.65 * 451)
    middle = ((left + right - 1) / 2, (top + bottom - 1) / 2)
    whole = transform.rotate(CAT, -level, center=middle, order=1, preserve_range=True)
    expected = whole[top:bottom, left:right]
    assert np.abs(framed(CAT, frame).astype(float) - expected).max() <= 1.0


@given(
    level=st.floats(-45, 45),
    box=st.tuples(st.floats(0, 0.45), st.floats(0, 0.45), st.floats(0.55, 1), st.floats(0.55, 1)),
)
def test_levelling_shows_nothing_that_is_not_there_and_keeps_the_shape(level, box):
    """Each pixel tells its own place: turned, drawn in or not, places change evenly right up to the corners, which
    they would not if the picture's edge were drawn on beyond it."""
    left, top, right, bottom = box
    y, x = np.mgrid[0:60, 0:80]
    places = np.stack([x * 3, y * 3, y * 0], axis=2).astype(np.uint8)
    frame = Frame(left=left, top=top, right=right, bottom=bottom, level_deg=level)
    seen = framed(places, frame)
    assert seen.shape == framed(places, Frame(left=left, top=top, right=right, bottom=bottom)).shape
    down, across = np.indices(seen.shape[:2])
    even = np.stack([np.ones(down.size), down.ravel(), across.ravel()], axis=1)
    for channel in (0, 1):
        codes = seen[..., channel].ravel().astype(float)
        plane = even @ np.linalg.lstsq(even, codes, rcond=None)[0]
        assert np.abs(plane - codes).max() < 3.0  # one pixel


def test_light_keeps_black_white_and_order_and_the_middle_slope():
    for brightness in (-1.0, -0.3, 0.0, 0.4, 1.0):
        for contrast in (-1.0, 0.0, 1.0):
            codes = light_codes(brightness, contrast).astype(int)
            assert codes[0] == 0 and codes[255] == 255 and (np.diff(codes) >= 0).all()
    np.testing.assert_array_equal(light_codes(0, 0), np.arange(256))
    assert light_codes(1, 0)[64] == round(255 * (64 / 255) ** 0.5)  # a gamma curve of 1/2
    steep = light_codes(0, 1).astype(int)
    assert abs((steep[140] - steep[115]) / 25 - 2.0) < 0.2
    assert light_codes(0.5, 0)[100] > 100 > light_codes(-0.5, 0)[100]


def test_greys_stay_grey_and_solidity_is_not_lit():
    grey = np.repeat(np.arange(256, dtype=np.uint8)[None, :, None], 4, axis=2)
    lit = framed(grey, Frame(brightness=0.6, contrast=-0.4))
    assert (lit[..., 0] == lit[..., 1]).all() and (lit[..., 0] == lit[..., 2]).all()
    np.testing.assert_array_equal(lit[..., 3], grey[..., 3])


def test_the_smallest_crop_is_one_pixel():
    assert framed(CAT, Frame(left=0.5, right=0.5001, top=0.9999, bottom=1.0)).shape == (1, 1, 3)


@pytest.mark.parametrize(
    ("bad", "named"),
    [
        ({"left": 0.6, "right": 0.5}, "left, right"),
        ({"top": -0.1}, "top, bottom"),
        ({"turn": 45}, "turn"),
        ({"level_deg": 46}, "level_deg"),
        ({"brightness": 1.1}, "brightness"),
        ({"contrast": float("nan")}, "contrast"),
    ],
)
def test_bad_frames_are_named(bad, named):
    with pytest.raises(ValueError, match=f"^{named}:"):
        Frame(**bad)


def test_bad_pictures_are_named():
    for bad in (np.zeros((3, 3), dtype=np.uint8), np.zeros((3, 3, 3)), np.zeros((0, 3, 3), dtype=np.uint8)):
        with pytest.raises(ValueError, match=r"^image:"):
            framed(bad, WHOLE)
