"""Every form of the program says what is missing in plain words, and keeps what a field says better itself."""

import pytest
from django import forms
from django.core.validators import MinValueValidator

from decor.studio.forms import SlipForm
from decor.studio.templatetags.desk import unbroken


class Slip(SlipForm):
    name = forms.CharField(max_length=5)
    count = forms.IntegerField(min_value=1, max_value=9)
    price = forms.DecimalField(max_digits=4, decimal_places=2)
    mail = forms.EmailField()
    day = forms.DateField()
    kind = forms.ChoiceField(choices=[("a", "A")])
    picture = forms.FileField(error_messages={"required": "Choose a picture."})
    mass = forms.FloatField(max_value=1e6)
    width = forms.FloatField(validators=[MinValueValidator(2, "Too narrow.")])


GOOD = {
    "name": "Ann",
    "count": "1",
    "mass": "1",
    "price": "1",
    "mail": "a@example.com",
    "day": "2026-06-13",
    "kind": "a",
}


@pytest.mark.parametrize(
    "field,given,words",
    [
        ("name", "", "Fill this in."),
        ("name", "Annabel", "That is too long: 5 letters at most, these are 7."),
        ("count", "", "Give a number."),
        ("count", "0", "This must be 1 or more."),
        ("count", "10", "This must be 9 or less."),
        ("count", "two", "This must be a whole number."),
        ("mass", "2000000", "This must be 1,000,000 or less."),
        ("price", "dear", "This must be a number."),
        ("price", "1.234", "Not so fine: 2 digits behind the point at most."),
        ("price", "1234", "That is too large: 2 digits before the point at most."),
        ("mail", "ann", "This is not an e-mail address, such as name@example.com."),
        ("day", "", "Give the day."),
        ("day", "31 June", "This is not a day of the calendar."),
        ("kind", "", "Choose one."),
        ("kind", "b", "Choose one of those offered."),
        ("picture", "", "Choose a picture."),
        ("width", "1", "Too narrow."),
        ("width", "", "Give a number."),
    ],
)
def test_a_form_says_what_to_do(field, given, words):
    form = Slip(GOOD | {field: given})
    assert not form.is_valid()
    assert form.errors[field] == [words]


def test_no_form_of_the_program_speaks_the_frameworks_words(as_owner):
    answers = [as_owner.post(path, {}) for path in ("/more/studio/", "/more/people/new/", "/stock/new/sheet/")]
    assert [a.status_code for a in answers] == [422, 422, 422]
    assert not [a for a in answers if "This field is required" in a.content.decode()]


def test_a_line_parts_no_figure_from_its_unit():
    kept = unbroken("under 13 h 34 for 2 people; 2.8 m³ at 20 %, 5 min a sheet, 12 sheets, 3 markers")
    assert kept.replace("\u00a0", "_") == (
        "under 13_h_34 for 2 people; 2.8_m³ at 20_%, 5_min a sheet, 12 sheets, 3 markers"
    )
