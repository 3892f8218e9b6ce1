"""Plain grounds of drawings and open pictures. What is ground is known from how a drawing was made; flooding is held
against scikit-image's."""

import io

import numpy as np
import pytest
from PIL import Image, ImageDraw
from skimage import data, segmentation

from decor.calc.picture.ground import _flooded, plain_ground


def drawn(scale=4, ground=(244, 242, 236), size=(600, 400)):
    """A red ring with a smooth edge on a plain ground, and the same as a mask of what is not ground."""
    large = Image.new("RGB", (size[0] * scale, size[1] * scale), ground)
    mask = Image.new("L", large.size, 0)
    box = [side * scale for side in (150, 50, 450, 350)]
    for image, colour in ((large, (200, 40, 50)), (mask, 255)):
        ImageDraw.Draw(image).ellipse(box, outline=colour, width=60 * scale)
    small = (size, Image.Resampling.LANCZOS)
    return np.asarray(large.resize(*small)), np.asarray(mask.resize(*small))


def jpeg(image, quality=80):
    out = io.BytesIO()
    Image.fromarray(image).save(out, "JPEG", quality=quality)
    return np.asarray(Image.open(out))


@pytest.mark.parametrize("spoil", [lambda image: image, jpeg, lambda image: jpeg(image, 40)])
def test_the_ground_goes_up_to_the_smooth_edge_and_not_into_the_hole(spoil):
    image, subject = drawn()
    found = plain_ground(spoil(image))
    inside = np.hypot(*(np.mgrid[0:400, 0:600] - np.array([200, 300])[:, None, None])) < 100
    outside = (subject < 60) & ~inside
    assert found[outside].mean() > 0.99  # the smooth edge counts as ground
    assert not found[subject > 200].any()
    assert not found[inside].any()


def test_specks_of_a_camera_do_not_spoil_it():
    image, subject = drawn()
    noisy = np.clip(image + np.random.default_rng(3).normal(0, 3, image.shape), 0, 255).astype(np.uint8)
    found = plain_ground(noisy)
    assert found[:40].mean() > 0.98 and not found[subject > 200].any()


def test_a_large_picture_is_as_well_cut_out_as_a_small_one():
    image, _ = drawn(scale=1, size=(600, 400))
    large = np.asarray(Image.fromarray(image).resize((2400, 1600), Image.Resampling.NEAREST))
    small_share, large_share = plain_ground(image).mean(), plain_ground(large).mean()
    assert large_share == pytest.approx(small_share, abs=0.005)


def test_photographs_with_lively_edges_have_none():
    for name in ("astronaut", "chelsea", "coffee", "rocket", "immunohistochemistry"):
        assert plain_ground(getattr(data, name)()) is None
    for name in ("brick", "grass", "gravel", "coins", "camera"):
        assert plain_ground(np.repeat(getattr(data, name)()[..., None], 3, axis=2)) is None


def test_the_horse_stands_alone():
    """scikit-image's binary horse: its white ground is what its mask says."""
    white = data.horse()
    picture = np.repeat((white * np.uint8(255))[..., None], 3, axis=2)
    found = plain_ground(picture)
    enclosed = white & ~found  # between the legs and the frame there is none, so nothing white may be left
    assert not found[~white].any() and enclosed.mean() < 0.005


def test_the_eye_of_the_camera_is_cut_from_its_black_frame():
    found = plain_ground(data.retina())
    assert 0.2 < found.mean() < 0.26 and found[:30, :30].all() and not found[600:800, 600:800].any()


def test_flooding_is_scikit_images():
    rng = np.random.default_rng(8)
    for share in (0.55, 0.65, 0.8):
        open_to = rng.random((40, 57)) < share
        expected = np.zeros_like(open_to)
        for y, x in np.argwhere(open_to):
            if (y in (0, 39) or x in (0, 56)) and not expected[y, x]:
                expected |= segmentation.flood(open_to, (y, x), connectivity=1)
        np.testing.assert_array_equal(_flooded(open_to), expected)


def test_see_through_edges_are_the_ground():
    image, subject = drawn()
    solid = np.dstack([image, subject])
    np.testing.assert_array_equal(plain_ground(solid), subject < 128)


def test_one_colour_is_all_ground_and_a_rim_is_none():
    assert plain_ground(np.full((30, 40, 3), 90, dtype=np.uint8)).all()
    rim = np.full((100, 100, 3), 250, dtype=np.uint8)
    rim[1:-1, 1:-1] = (20, 90, 40)
    assert plain_ground(rim) is None


def test_bad_pictures_are_named():
    for bad in (np.zeros((3, 3), dtype=np.uint8), np.zeros((3, 3, 3)), np.zeros((0, 3, 3), dtype=np.uint8)):
        with pytest.raises(ValueError, match=r"^image:"):
            plain_ground(bad)
