from datetime import date
from zoneinfo import ZoneInfo

import pytest

from jobs.events.forms import WhenForm

DUBLIN = ZoneInfo("Europe/Dublin")
TODAY = date(2027, 2, 10)
DATA = {"date": "13 jun", "load_in": "2 pm", "doors": "17.00", "ends": "2300", "strike": "23:30"}


def form_of(**given):
    return WhenForm({**DATA, **given}, zone=DUBLIN, today=TODAY)


def test_typed_words_are_read():
    form = form_of()
    assert form.is_valid(), form.errors
    assert form.wanted.date == date(2027, 6, 13) and f"{form.wanted.load_in:%H:%M}" == "14:00"


@pytest.mark.parametrize(
    "given, field, words",
    [
        ({"date": ""}, "date", "Give the day."),
        ({"date": "soon"}, "date", "Write the day like"),
        ({"date": "2027-02-09"}, "date", "Tue 9 February 2027 is past"),
        ({"date": "2035-01-01"}, "date", "more than 5 years off"),
        ({"doors": ""}, "doors", "Give the time."),
        ({"doors": "6"}, "doors", "Write the time like"),
        ({"ends": "16:00"}, "ends", "ends before doors"),
        ({"date": "2027-02-12", "load_in_date": "2027-02-09"}, "load_in_date", "is past"),
    ],
)
def test_each_slip_is_said_beside_its_field(given, field, words):
    form = form_of(**given)
    assert not form.is_valid() and list(form.errors) == [field]
    assert words in form.errors[field][0]


def test_today_is_not_past():
    assert form_of(date="2027-02-10").is_valid()


def test_a_booked_day_may_be_kept_though_it_is_past():
    form = WhenForm({**DATA, "date": "2027-02-01"}, zone=DUBLIN, today=TODAY, booked=date(2027, 2, 1))
    assert form.is_valid(), form.errors


def test_which_of_two_is_asked_only_when_clocks_go_back():
    assert not form_of().twice
    late = {"date": "2027-10-30", "ends": "01:30", "strike": "03:00"}
    form = form_of(**late)
    assert not form.is_valid() and form.twice
    assert form_of(**late, second="second").is_valid()
