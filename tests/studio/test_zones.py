from html.parser import HTMLParser

import pytest
from django import forms

from decor.studio.zones import LongSelect, zone_choices, zone_choices_open


class Options(HTMLParser):
    def __init__(self, html):
        super().__init__()
        self.tags, self.words = [], []
        self.feed(str(html))

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, sorted((name, value or "") for name, value in attrs)))

    def handle_data(self, data):
        if data.strip():
            self.words.append(data.strip())


@pytest.mark.parametrize("value", [None, "", "Europe/Dublin", "no such zone", '"><b>'])
def test_a_long_list_says_what_the_usual_one_says(value):
    given = {
        "choices": [*zone_choices_open(), ('"<b>&', "<b> & 'others'")],
        "attrs": {"data-own-zone": "", "class": "x"},
    }
    attrs = {"id": "id_zone", "required": True, "aria-describedby": "id_zone_error"}
    ours, usual = (Options(widget(**given).render("zone", value, attrs)) for widget in (LongSelect, forms.Select))
    assert ours.words == usual.words and len(ours.words) > 400
    assert ours.tags == usual.tags


def test_the_zones_are_places():
    zones = dict(zone_choices())
    assert zones["America/New_York"] == "America/New York" and "UTC" in zones and "US/Eastern" not in zones
