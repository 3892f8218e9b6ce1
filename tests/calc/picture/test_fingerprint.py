"""Panels found again by a picture: the open pictures that come with scikit-image, seen by Pillow in other sizes,
lights and crops."""

import numpy as np
import pytest
from PIL import Image, ImageEnhance
from skimage import data

from decor.calc.picture import fingerprint
from decor.calc.picture.chart import Chart
from decor.calc.picture.lattice import KINDS, Lattice
from decor.calc.picture.matching import match
from decor.calc.picture.sampling import sample

NAMES = ["astronaut", "coffee", "chelsea", "rocket"]


def palette() -> np.ndarray:
    steps = np.linspace(0, 1, 5)
    return np.stack(np.meshgrid(steps, steps, steps), axis=-1).reshape(-1, 3)


def charted(name: str, kind: str, rows: int = 40, columns: int = 40) -> Chart:
    lattice = Lattice(kind, rows, columns, 0.1)
    numbers = match(sample(getattr(data, name)(), lattice), palette())
    return Chart(np.asarray(numbers).reshape(rows, columns), lattice)


@pytest.mark.parametrize("kind", KINDS)
def test_a_chart_is_found_by_the_picture_it_was_made_from(kind):
    kept = {name: fingerprint.of_chart(charted(name, kind), palette()) for name in NAMES}
    for name in NAMES:
        seen = Image.fromarray(getattr(data, name)()).resize((333, 210))
        seen = ImageEnhance.Brightness(seen).enhance(1.08).crop((4, 3, 329, 207))
        print_of = fingerprint.of_picture(np.asarray(seen))
        far = {other: fingerprint.unlikeness(print_of, one) for other, one in kept.items()}
        assert min(far, key=far.get) == name
        assert far[name] < 9 and min(value for other, value in far.items() if other != name) > 15


def test_another_size_of_the_same_picture_is_the_same_picture():
    small = fingerprint.of_chart(charted("coffee", "offset", 24, 30), palette())
    large = fingerprint.of_chart(charted("coffee", "square", 70, 61), palette())
    assert fingerprint.unlikeness(small, large) < 4
    assert fingerprint.unlikeness(small, small) == 0


def test_a_chart_smaller_than_its_fingerprint_has_one():
    chart = Chart([[0, 1]], Lattice("square", 1, 2, 0.1))
    marks = np.array(fingerprint.of_chart(chart, [[1, 1, 1], [0, 0, 0]])).reshape(8, 8, 3)
    assert (marks[:, :4, 0] == 100).all() and (marks[:, 4:, 0] == 0).all()


def test_bad_arguments_are_named():
    with pytest.raises(ValueError, match="palette_srgb"):
        fingerprint.of_chart(Chart([[3]], Lattice("square", 1, 1, 0.1)), [[1, 1, 1]])
    with pytest.raises(ValueError, match="other"):
        fingerprint.unlikeness([[0, 0, 0]] * 64, [[0, 0, 0]])
