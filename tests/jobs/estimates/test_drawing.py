"""The day backwards as a picture."""

import re
from datetime import UTC, datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

from jobs.estimates.drawing import APART, day_backwards

DOORS = datetime(2031, 6, 13, 16, tzinfo=UTC)
BARS = [
    {"label": "Inflate, tie", "place": "workshop", "start_offset_min": -420.0, "end_offset_min": -300.0},
    {"label": "Drive", "place": "road", "start_offset_min": -300.0, "end_offset_min": -270.0},
    {"label": "Install", "place": "venue", "start_offset_min": -270.0, "end_offset_min": -180.0},
]


def drawn(bars=BARS):
    return str(day_backwards(bars, doors=DOORS, zone=ZoneInfo("Europe/Dublin")))


def test_bars_are_as_long_as_their_time():
    widths = [float(width) for width in re.findall(r'<rect[^>]* width="([\d.]+)"', drawn())]
    assert len(widths) == 3
    assert abs(widths[0] / widths[2] - 120 / 90) < 0.01
    starts = [float(x) for x in re.findall(r'<rect[^>]* x="([\d.]+)"', drawn())]
    assert abs(starts[0] + widths[0] - starts[1]) < 0.2


def test_readers_hear_it_in_the_venues_time():
    assert "Inflate, tie 10:00 to 12:00; Drive 12:00 to 12:30; Install 12:30 to 14:00; doors 17:00" in drawn()


def test_times_below_do_not_touch():
    ticks = sorted(float(x) for x in re.findall(r'<text x="([\d.]+)" y="\d+" class="tick"', drawn()))
    assert len(ticks) >= 3
    assert min(b - a for a, b in pairwise(ticks)) >= APART - 1


def test_no_style_attribute():
    assert "style=" not in drawn()


def test_nothing_to_draw():
    assert drawn([]) == ""
