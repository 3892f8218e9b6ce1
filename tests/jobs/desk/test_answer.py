"""Can we take it, and for about how much: the verdict is the worst row, as a sentence."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from decor.studio.templatetags.desk import day_words
from inventory.services import reservation_hold
from jobs.crew.models import Absence, DayHold
from jobs.desk.answer import quick_answer
from jobs.estimates.inputs import asked_pieces
from jobs.estimates.services import estimate_now
from jobs.events.models import Venue
from tests.jobs.desk.asking import fill_store, hire, piece, save_pieces, stock
from tests.jobs.desk.conftest import at, coming, make_event
from tests.shelf import only


@pytest.fixture
def store(studio):
    return fill_store(coming(0))


@pytest.fixture
def crew(studio):
    return hire()


def ask(*pieces, venue=None, load_in=14, doors=17, days=30, now=None, **more):
    day = coming(days)
    venue = venue or Venue(name="Quay Hall", time_zone="Europe/Dublin", drive_minutes=30, distance_km=22)
    return quick_answer(
        pieces=asked_pieces([{n: v for n, v in p.items() if n != "key"} for p in pieces or (piece(),)]),
        starts=at(day, load_in),
        doors=at(day, doors),
        ends=at(day, 22),
        strike=at(day, 22, 30),
        venue_facts=venue,
        now=now or timezone.now(),
        **more,
    )


def row(answer, what):
    return next(r for r in answer.rows if r.what == what)


def test_you_can_take_it(store, crew):
    answer = ask(piece(), piece("column", count=2))
    assert (answer.verdict_kind, answer.verdict, answer.chip) == ("ok", "You can take it", "You can")
    assert all(r.state == "ok" for r in answer.rows)
    assert row(answer, "Sheets").stands == "2 needed, 4 free"
    assert row(answer, "Poles").stands == "2 needed, 6 free"
    assert row(answer, "Van").stands.startswith("1 trip, ")
    assert "4 of 4 people free" in row(answer, "Hours").small


def test_one_pack_by_a_last_day(studio, crew):
    fill_store(coming(0), sky=489)
    answer = ask()
    # 504 cells and 4 % spares, rounded up, are 525: 36 short; five days' lead before the day of preparing.
    last = coming(29) - timedelta(days=5)
    assert answer.verdict == f"You can, if 1 pack of sky is ordered by {day_words(last)}"
    assert (answer.verdict_kind, answer.chip, answer.partly) == ("warn", "You can, if…", True)
    short = row(answer, "Balloons")
    assert (short.stands, short.state) == ("36 sky short", "warn")
    assert short.small == f"you named it; 1 pack of 100, €6.20, by {day_words(last)}"


def test_several_things_to_order_by_the_first_day(studio, crew):
    fill_store(coming(0), sky=200, sheets=1)
    answer = ask()
    last = coming(29) - timedelta(days=8)
    assert answer.verdict == (
        f"You can, if 1 more of Net 13 wide, 22 high and 4 packs of sky are ordered by {day_words(last)}"
    )


def test_too_late_to_order(studio, crew):
    fill_store(coming(0), sky=489)
    answer = ask(days=4)
    assert answer.verdict == "You can't: 36 sky short, and 1 pack of sky can't come in time"
    assert row(answer, "Balloons").state_words == "Late"


def test_what_is_on_order_counts_from_its_day(studio, crew):
    made = fill_store(coming(0), sky=489)
    stock(made["sky 5"], 100, coming(0), arrives=20, received=False)
    assert ask().verdict == "You can take it"
    assert ask(days=15).verdict_kind == "warn"


def test_a_colour_counts_only_where_it_was_named(studio, crew):
    fill_store(coming(0), sky=0)
    answer = ask(piece(measures={"colours": []}))
    assert answer.verdict == "You can take it"
    balloons = row(answer, "Balloons")
    assert balloons.stands == "525 needed, 1,200 free"
    assert balloons.small == "5 in, colours still open"


def test_open_colours_are_short_by_size(studio, crew):
    made = fill_store(coming(0))
    for colour in ("sky", "red", "white"):
        only(made[f"{colour} 5"], 100)
    answer = ask(piece(measures={"colours": []}))
    assert row(answer, "Balloons").stands == "225 balloons of 5 in short"
    assert answer.verdict.startswith("You can, if 3 packs of 5 in balloons are ordered by ")


def test_a_named_colour_that_has_no_such_balloon(store, crew):
    answer = ask(piece(measures={"colours": ["sky", "gold"]}))
    assert answer.verdict == "You can, if they take another colour: we have no gold in the size it needs"
    gold = next(r for r in answer.rows if r.stands == "No gold")
    assert (gold.state, gold.state_words) == ("warn", "Missing")


def test_no_lead_that_day(store):
    hire("Cory", "Drew")
    answer = ask()
    assert answer.verdict == "You can't: no lead that day"
    assert (row(answer, "Hours").state, row(answer, "Hours").state_words) == ("no", "No lead")


def test_the_lead_is_away(store, crew):
    for name in ("Olive", "Pat"):
        Absence.objects.create(member=crew[name], starts=at(coming(29), 0), ends=at(coming(31), 0))
    assert ask().verdict == "You can't: no lead that day"


def test_too_few_people(store):
    hire("Olive")
    answer = ask()
    assert answer.verdict == "You can't: 1 of 2 people that day"
    assert row(answer, "Hours").state_words == "Too few"


def held(ann, hall, people, vans=0, **more):
    event = make_event(ann, hall, coming(30), title="Other")
    DayHold.objects.create(
        event=event, starts=at(coming(30), 8), ends=at(coming(30), 23), people=people, skills=[], vans=vans, **more
    )
    return event


def test_anothers_hold_counts_until_it_lapses(store, crew, ann, hall):
    held(ann, hall, 3, expires=timezone.now() + timedelta(hours=5))
    assert ask().verdict == "You can't: 1 of 2 people that day"
    assert ask(now=timezone.now() + timedelta(hours=6)).verdict == "You can take it"


def test_no_van(store, crew, ann, hall):
    held(ann, hall, 1, vans=1)
    answer = ask()
    assert answer.verdict == "You can't: no van that day"
    assert row(answer, "Van").state_words == "None free"


def test_ones_own_hold_does_not_count_against_it(store, crew, ann, hall):
    event = held(ann, hall, 3, vans=1)
    assert ask(exclude_event=event).verdict == "You can take it"


def test_stock_promised_elsewhere_is_not_free(store, crew):
    reservation_hold(
        lines=[(store["net"].pk, 3)],
        starts=at(coming(29), 8),
        ends=at(coming(31), 8),
        label="Regatta",
        expires=timezone.now() + timedelta(days=1),
    )
    sheets = row(ask(), "Sheets")
    assert (sheets.stands, sheets.state) == ("2 needed, 1 free", "warn")


def test_people_come_before_stock_of_equally_bad(studio):
    fill_store(coming(0), sky=0)
    hire("Drew", "Cory")
    assert ask(days=4).verdict == "You can't: no lead that day"


def test_too_little_time_before_doors(store, crew):
    assert ask(piece(built_at="venue"), load_in=16, doors=17).verdict == "You can't: 4 of 7 people that day"
    answer = ask(piece(built_at="venue", count=6), load_in=16, doors=17)
    assert answer.verdict_kind == "no"
    assert answer.verdict.startswith("You can't: the work at the venue takes ")
    assert answer.spare.endswith("too little")


def test_a_day_that_is_past_or_began(store, crew):
    assert ask(now=at(coming(30), 18)).verdict == "You can't: that day is past"
    assert ask(now=at(coming(30), 13)).verdict == "You can't: the work would have to have begun already"


def test_helium_that_is_not_there_or_does_not_lift(store, crew):
    answer = ask(piece("column", fill="helium"))
    assert answer.verdict == "You can't: we have no helium cylinders"
    assert row(answer, "Helium").state_words == "Missing"
    small = ask(piece(fill="helium"))
    assert small.verdict_kind == "no" and "do not float usefully" in small.verdict


def test_too_high_for_the_ceiling(store, crew):
    low = Venue(name="Low Room", time_zone="Europe/Dublin", drive_minutes=30, distance_km=22, ceiling_m=2.2)
    answer = ask(venue=low)
    assert answer.verdict_kind == "no" and "the ceiling is at 2.20 m" in answer.verdict


def test_tightest_in_the_venues_time(store, crew):
    answer = ask()
    assert answer.tightest.startswith("Away by 13:")
    assert "to drive" in answer.tightest and answer.tightest.endswith("Doors at 17:00:")
    assert answer.spare.endswith("to spare")


def test_the_price_is_the_estimates_own_rounded_up(store, crew, ann, hall):
    event = make_event(ann, hall, coming(30))
    save_pieces(event, piece(), piece("column", count=2))
    result = estimate_now(event=event).result
    answer = ask(piece(), piece("column", count=2), venue=hall)
    for given, exact in ((answer.price_from, result["price_from"]), (answer.price_to, result["price_to"])):
        assert given == given.to_integral_value()
        assert 0 <= given - Decimal(exact) < 1
    assert answer.price == f"€{answer.price_from:,} to {answer.price_to:,}"


def test_taking_down_on_a_later_day_asks_for_people_then(store, crew):
    day = coming(30)
    for name in ("Olive", "Pat", "Cory", "Drew"):
        begins = at(day, 0) + timedelta(days=2)
        Absence.objects.create(member=crew[name], starts=begins, ends=begins + timedelta(days=2))
    answer = quick_answer(
        pieces=asked_pieces([{n: v for n, v in piece().items() if n != "key"}]),
        starts=at(day, 14),
        doors=at(day, 17),
        ends=at(day, 17) + timedelta(days=3),
        strike=at(day, 18) + timedelta(days=3),
        venue_facts=Venue(name="Gallery", time_zone="Europe/Dublin", drive_minutes=30),
        now=timezone.now(),
    )
    assert answer.verdict == "You can't: no lead for the strike"


def test_it_saves_nothing_and_asks_little(store, crew):
    with CaptureQueriesContext(connection) as asked:
        ask(piece(), piece("column", count=2))
    assert len(asked) <= 45, len(asked)
    assert not [q["sql"] for q in asked if not q["sql"].lstrip("( \n").upper().startswith(("SELECT", "WITH"))]


def test_more_pieces_ask_no_more_of_the_database(store, crew):
    def queries(*pieces):
        with CaptureQueriesContext(connection) as asked:
            ask(*pieces)
        return len(asked)

    assert queries(*(piece("column", count=n) for n in (1, 1, 1, 1))) == queries(piece("column"))
