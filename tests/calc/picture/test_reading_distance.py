"""Against the sizes of eye charts: at acuity 1.0 a letter is five minutes of arc high (ISO 8596:2017), which is
8.73 mm at 6 m and 8.87 mm at 20 feet (20/20)."""

import math

import pytest

from decor.calc.picture.reading_distance import letters_read_until_m, told_apart_until_m, whole_from_m


def test_letters_of_eye_charts():
    assert letters_read_until_m(0.00873) == pytest.approx(6.0, rel=0.002)
    assert letters_read_until_m(0.00887) == pytest.approx(6.096, rel=0.002)
    assert letters_read_until_m(0.0873) == pytest.approx(60.0, rel=0.002)  # the 20/200 letter
    assert letters_read_until_m(0.00873, acuity_arcmin=2.0) == pytest.approx(3.0, rel=0.002)


def test_a_minute_of_arc_is_a_tenth_of_a_millimetre_at_a_third_of_a_metre():
    assert told_apart_until_m(0.0001) == pytest.approx(0.3438, rel=1e-3)


def test_a_picture_is_taken_in_whole():
    distance = whole_from_m(3.3, 2.6)
    assert math.degrees(2 * math.atan(3.3 / 2 / distance)) == pytest.approx(40.0)
    assert whole_from_m(2.6, 3.3) == distance


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_bad_lengths_are_named(bad):
    for call, named in (
        (lambda: told_apart_until_m(bad), "size_m"),
        (lambda: told_apart_until_m(1.0, bad), "acuity_arcmin"),
        (lambda: letters_read_until_m(bad), "height_m"),
        (lambda: whole_from_m(1.0, bad), "height_m"),
        (lambda: whole_from_m(1.0, 1.0, bad if bad != math.inf else 180.0), "field_deg"),
    ):
        with pytest.raises(ValueError, match=f"^{named}:"):
            call()
