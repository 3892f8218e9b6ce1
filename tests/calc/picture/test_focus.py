"""The guess at what counts, held against scikit-image's trained face finder and against pictures looked at."""

import numpy as np
import pytest
from skimage import data
from skimage.feature import Cascade

from decor.calc.picture.focus import found


def middle(focus):
    down, across = np.nonzero(focus > 0.99)
    return down.mean(), across.mean()


def test_the_face_is_where_a_trained_finder_sees_it():
    """scikit-image's frontal face cascade (local binary patterns) as the peer."""
    astronaut = data.astronaut()
    [face] = Cascade(data.lbp_frontal_face_cascade_filename()).detect_multi_scale(
        img=astronaut, scale_factor=1.2, step_ratio=1, min_size=(60, 60), max_size=(123, 123)
    )
    focus = found(astronaut)
    box = np.zeros(astronaut.shape[:2], dtype=bool)
    box[face["r"] : face["r"] + face["height"], face["c"] : face["c"] + face["width"]] = True
    seen = focus > 0.5
    assert (seen & box).sum() / (seen | box).sum() > 0.4
    assert (seen & box).sum() / box.sum() > 0.7


def test_darker_and_lighter_light_find_the_same_face():
    astronaut = data.astronaut()
    plain = middle(found(astronaut))
    for factor in (0.6, 0.8, 1.1):
        lit = np.clip(astronaut * factor, 0, 255).astype(np.uint8)
        assert np.hypot(*np.subtract(middle(found(lit)), plain)) < 40


def test_the_cup_the_rocket_and_the_cat_are_their_pictures_subjects():
    for picture, (top, bottom), (left, right) in (
        (data.coffee(), (0.35, 0.65), (0.35, 0.65)),
        (data.rocket(), (0.5, 0.85), (0.4, 0.6)),
        (data.chelsea(), (0.35, 0.7), (0.35, 0.65)),
    ):
        down, across = middle(found(picture))
        assert top < down / picture.shape[0] < bottom and left < across / picture.shape[1] < right


def test_where_nothing_stands_out_nothing_is_claimed():
    for name in ("hubble_deep_field", "coins", "grass", "brick", "text"):
        picture = getattr(data, name)()
        rgb = picture if picture.ndim == 3 else np.repeat(picture[..., None], 3, axis=2)
        assert found(rgb) is None
    assert found(np.full((1, 1, 3), 9, dtype=np.uint8)) is None


def test_it_is_a_share_of_the_pictures_own_size():
    focus = found(data.astronaut())
    assert focus.shape == (512, 512) and focus.min() == 0.0 and focus.max() == 1.0


def test_bad_pictures_are_named():
    for bad in (np.zeros((3, 3), dtype=np.uint8), np.zeros((3, 3, 4), dtype=np.uint8), np.zeros((3, 3, 3))):
        with pytest.raises(ValueError, match=r"^image:"):
            found(bad)
