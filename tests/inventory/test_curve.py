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


def test_what_is_on_order_is_a_line_of_its_own():
    """60 are here and 80 promised from a quarter on; 40 more are due before."""
    with_it, without = [(NOW, 60), (at(0.125), 100), (at(0.25), 20)], [(NOW, 60), (at(0.25), -20)]
    curve = draw(with_it, NOW, ENDS, without)
    assert curve.path_if != curve.path and curve.path_if.count("H") == 3 and curve.path.count("H") == 2
    assert curve.shortages == [] and len(curve.shortages_if) == 1
    assert curve.shortages_if[0].x == LEFT + (RIGHT - LEFT) / 4
    assert curve.short_label.words == "without it 20 short"
    assert curve.sentence.endswith("Only if what is on order arrives: without it 20 short on 15 May.")
    # 100 at the top, 20 below nought: both lines share one scale
    assert [label.words for label in curve.up] == ["100", "0", "−20"]
    both = draw([(NOW, 60), (at(0.25), -20)], NOW, ENDS, [(NOW, 20), (at(0.25), -60)])
    assert len(both.shortages) == 1 and both.short_label.words == "20 short on 15 May"
    assert both.sentence.endswith(" without it 60 short on 15 May.")


def test_each_time_that_something_is_short_is_said_and_of_many_the_worst():
    short = [(at(0.25), -16), (at(0.3), 0), (at(0.5), -20), (at(0.6), -29), (at(0.7), 4)]
    assert draw([(NOW, 0), *short], NOW, ENDS).sentence == "0 now; 16 short on 15 May and 29 short on 3 June."
    now = draw([(NOW, -3), (at(0.1), 0), *short], NOW, ENDS).sentence
    assert now == "Short 3 times, most on 3 June: 29."


def test_what_is_used_and_does_not_come_again_is_said_once():
    assert draw([(NOW, 201), (at(0.25), 172)], NOW, ENDS).sentence == "201 now; 172 from 15 May on."
    dip = draw([(NOW, 201), (at(0.25), 172), (at(0.5), 180)], NOW, ENDS).sentence
    assert dip == "201 now; at least 172, from 15 May; 180 at the end."


def test_what_only_rises_has_no_least_that_would_be_what_is_here_now():
    ordered = draw([(NOW, 14), (at(0.25), 34)], NOW, ENDS, [(NOW, 14)]).sentence
    assert ordered == "14 now; 34 from 15 May on. Without what is on order 14 at the end."
    assert draw([(NOW, 4), (at(0.25), 9), (at(0.5), 6)], NOW, ENDS).sentence == "4 now, never fewer; 6 at the end."
