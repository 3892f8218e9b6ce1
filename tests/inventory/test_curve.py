from datetime import timedelta

from inventory.curve import BOTTOM, LEFT, RIGHT, TOP, draw
from tests.inventory.conftest import NOW

ENDS = NOW + timedelta(weeks=8)


def at(part: float):
    return NOW + (ENDS - NOW) * part


def test_a_level_line():
    curve = draw([(NOW, 40)], NOW, ENDS)
    assert curve.path == f"M{LEFT} {TOP}H{RIGHT}"
    assert curve.zero_y == BOTTOM
    assert (curve.shortages, curve.short_label) == ([], None)
    assert [label.words for label in curve.up] == ["40", "0"]
    assert curve.sentence == "40 all the time."


def test_a_shortage_is_filled_from_nought_down_for_as_long_as_it_lasts():
    curve = draw([(NOW, 60), (at(0.25), -20), (at(0.5), 20)], NOW, ENDS)
    (box,) = curve.shortages
    assert (box.x, box.width) == (LEFT + (RIGHT - LEFT) / 4, (RIGHT - LEFT) / 4)
    assert (box.y, box.y + box.height) == (curve.zero_y, BOTTOM)
    # 80 pieces over the whole height: nought stands a quarter above the bottom
    assert curve.zero_y == BOTTOM - (BOTTOM - TOP) / 4
    assert [label.words for label in curve.up] == ["60", "0", "−20"]
    assert curve.short_label.words == curve.sentence.split("; ")[1].rstrip(".")
    assert curve.short_label.words == "20 short on 15 May"


def test_a_shortage_to_the_end_and_one_too_brief_to_see():
    last, brief = draw([(NOW, 5), (at(0.75), -5)], NOW, ENDS), draw([(NOW, -5), (at(0.0001), 5)], NOW, ENDS)
    assert last.shortages[0].x + last.shortages[0].width == RIGHT
    assert brief.shortages[0].width == 2.0
    assert last.short_label.anchor == "end" and brief.short_label.anchor == "start"


def test_nothing_at_all_is_a_line_on_nought():
    curve = draw([(NOW, 0)], NOW, ENDS)
    assert curve.path == f"M{LEFT} {BOTTOM}H{RIGHT}"
