"""Days and times as people write them; the nights on which clocks change, in Europe/Dublin and across the ocean.

Dates of the changes are those of the tz database: 28 March and 31 October 2027 in Ireland, 14 March 2027 in New York.
"""

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.events import times
from jobs.events.times import Refused, Span, Wanted, day_from, span_of, time_from

DUBLIN, NEW_YORK = ZoneInfo("Europe/Dublin"), ZoneInfo("America/New_York")
TODAY = date(2027, 2, 10)


@pytest.mark.parametrize(
    "text, day",
    [
        ("2027-06-13", date(2027, 6, 13)),
        ("13.6.2027", date(2027, 6, 13)),
        ("13/6/27", date(2027, 6, 13)),
        ("13-6-2027", date(2027, 6, 13)),
        ("13 jun", date(2027, 6, 13)),
        ("Sun 13 June", date(2027, 6, 13)),
        ("13th June 2028", date(2028, 6, 13)),
        ("June 13", date(2027, 6, 13)),
        ("june 13, 2028", date(2028, 6, 13)),
        ("13.6.", date(2027, 6, 13)),
        ("9 feb", date(2028, 2, 9)),
        ("10 feb", date(2027, 2, 10)),
        ("29 feb", date(2028, 2, 29)),
        ("today", TODAY),
        ("Tomorrow", date(2027, 2, 11)),
    ],
)
def test_days(text, day):
    assert day_from(text, TODAY) == day


@pytest.mark.parametrize(
    "text", ["", "june", "13", "31 feb", "6/13/2027", "soon", "13 blah", "1 2 3 4", "13 jun 2027 x"]
)
def test_no_days(text):
    with pytest.raises(ValueError):
        day_from(text, TODAY)


@pytest.mark.parametrize(
    "text, at",
    [
        ("18:30", time(18, 30)),
        ("18.30", time(18, 30)),
        ("1830", time(18, 30)),
        ("18h30", time(18, 30)),
        ("18", time(18)),
        ("6 pm", time(18)),
        ("6pm", time(18)),
        ("6:30 PM", time(18, 30)),
        ("6 a.m.", time(6)),
        ("12 am", time(0)),
        ("12 pm", time(12)),
        ("noon", time(12)),
        ("midnight", time(0)),
        ("07:05", time(7, 5)),
        ("18:30:00", time(18, 30)),
    ],
)
def test_times(text, at):
    assert time_from(text) == at


@pytest.mark.parametrize("text", ["", "6", "12", "25:00", "18:60", "13 pm", "0 am", "evening", "18:3", "-1"])
def test_no_times(text):
    with pytest.raises(ValueError):
        time_from(text)


@given(st.times().map(lambda t: t.replace(second=0, microsecond=0)))
def test_every_time_is_read_back_as_written(at):
    assert time_from(f"{at:%H:%M}") == at
    assert time_from(at.strftime("%I:%M %p")) == at


@given(st.dates(date(2027, 2, 10), date(2031, 1, 1)))
def test_every_day_is_read_back_as_written(day):
    assert day_from(f"{day.day}.{day.month}.{day.year}", TODAY) == day
    assert day_from(f"{day:%a %d %B %Y}", TODAY) == day


def wanted(day=date(2027, 6, 13), load_in="14:00", doors="17:00", ends="22:00", strike="22:30", **given):
    clock = {"load_in": load_in, "doors": doors, "ends": ends, "strike": strike}
    at = {name: time.fromisoformat(text) for name, text in clock.items()}
    return Wanted(date=day, **at, **given)


def utc(*parts):
    return datetime(*parts, tzinfo=UTC)


def test_a_summer_day_in_dublin():
    assert span_of(wanted(), DUBLIN) == Span(
        utc(2027, 6, 13, 13), utc(2027, 6, 13, 16), utc(2027, 6, 13, 21), utc(2027, 6, 13, 21, 30)
    )


def test_past_midnight_is_the_next_day():
    span = span_of(wanted(ends="01:00", strike="01:30"), DUBLIN)
    assert (span.ends, span.strike) == (utc(2027, 6, 14, 0), utc(2027, 6, 14, 0, 30))
    span = span_of(wanted(ends="23:00", strike="10:00"), DUBLIN)
    assert (span.ends, span.strike) == (utc(2027, 6, 13, 22), utc(2027, 6, 14, 9))
    midnight = span_of(wanted(ends="00:00", strike="00:00"), DUBLIN)
    assert midnight.ends == midnight.strike == utc(2027, 6, 13, 23)


@pytest.mark.parametrize(
    "changes, field, words",
    [
        ({"load_in": "18:00"}, "load_in", "Load-in is after doors open at 17:00"),
        ({"ends": "16:00"}, "ends", "It ends before doors open at 17:00"),
        ({"ends": "17:00"}, "ends", "It ends before doors open at 17:00"),
        ({"ends_date": date(2027, 6, 12)}, "ends", "It ends before doors open at 17:00"),
        ({"strike": "21:00", "strike_date": date(2027, 6, 13)}, "strike", "The strike starts before it ends at 22:00"),
        ({"strike_date": date(2027, 9, 13)}, "strike", "over 60 days"),
    ],
)
def test_each_wrong_order_has_its_own_words(changes, field, words):
    with pytest.raises(Refused) as refusal:
        span_of(wanted(**changes), DUBLIN)
    assert refusal.value.field == field and words in refusal.value.words


def test_days_that_are_given():
    span = span_of(wanted(load_in="18:00", load_in_date=date(2027, 6, 12), ends_date=date(2027, 6, 15)), DUBLIN)
    assert span.load_in == utc(2027, 6, 12, 17) and span.ends == utc(2027, 6, 15, 21)
    assert span.strike == utc(2027, 6, 15, 21, 30), "the strike follows the end's day"


def test_spring_a_time_that_does_not_exist():
    """At 01:00 on 28 March 2027 Irish clocks go to 02:00."""
    late = wanted(date(2027, 3, 27), ends="01:30", strike="02:30")
    with pytest.raises(Refused) as refusal:
        span_of(late, DUBLIN)
    assert refusal.value.field == "ends" and "there is no 01:30" in refusal.value.words
    assert "02:30" in refusal.value.words
    span = span_of(wanted(date(2027, 3, 27), ends="00:30", strike="02:30"), DUBLIN)
    assert (span.ends, span.strike) == (utc(2027, 3, 28, 0, 30), utc(2027, 3, 28, 1, 30))
    assert (span.strike - span.ends).total_seconds() == 3600, "an hour passes, though clocks say two"


def test_spring_across_the_ocean_is_another_night():
    with pytest.raises(Refused) as refusal:
        span_of(wanted(date(2027, 3, 13), ends="02:30", strike="04:00"), NEW_YORK)
    assert refusal.value.field == "ends"
    assert span_of(wanted(date(2027, 3, 13), ends="02:30", strike="04:00"), DUBLIN)


def test_autumn_a_time_that_comes_twice():
    """At 02:00 on 31 October 2027 Irish clocks go back to 01:00."""
    late = {"day": date(2027, 10, 30), "ends": "01:30", "strike": "03:00"}
    with pytest.raises(Refused) as refusal:
        span_of(wanted(**late), DUBLIN)
    assert refusal.value.field == "ends" and refusal.value.twice and "comes twice" in refusal.value.words
    first, second = (span_of(wanted(**late, second=s), DUBLIN) for s in (False, True))
    assert (first.ends, second.ends) == (utc(2027, 10, 31, 0, 30), utc(2027, 10, 31, 1, 30))
    assert first.strike == second.strike == utc(2027, 10, 31, 3)


def test_autumn_order_is_that_of_moments_not_of_clocks():
    """01:45 for the second time is after 01:50 for the first; both chosen as the second, strike is 5 minutes later."""
    span = span_of(wanted(date(2027, 10, 30), ends="01:45", strike="01:50", second=True), DUBLIN)
    assert (span.strike - span.ends).total_seconds() == 300


@given(
    st.datetimes(datetime(2026, 1, 1), datetime(2029, 1, 1), timezones=st.just(UTC)),
    st.integers(0, 600),
    st.integers(1, 900),
    st.integers(0, 2000),
    st.sampled_from([DUBLIN, NEW_YORK, ZoneInfo("Australia/Lord_Howe"), ZoneInfo("UTC")]),
)
def test_there_and_back(start, to_doors, to_end, to_strike, zone):
    """What was booked can be shown for changing and saved again without moving, whatever clocks do that night."""
    moments = [start.replace(second=0, microsecond=0)]
    for minutes in (to_doors, to_end, to_strike):
        moments.append(moments[-1] + times.timedelta(minutes=minutes))
    span = Span(*moments)
    shown = times.wanted_of(span, zone)
    twice = {at.astimezone(zone).fold for at in moments if _comes_twice(at, zone)}
    if len(twice) > 1:
        return  # one answer to "which one?" cannot say both
    assert span_of(shown, zone) == span
    assert span_of(times.left_open(shown), zone) == span
    assert times.from_plain(times.to_plain(shown)) == shown


def _comes_twice(at, zone):
    local = at.astimezone(zone)
    return local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()
