"""Choosing a time zone: a list of some five hundred."""

from functools import cache
from zoneinfo import available_timezones

from django import forms
from django.forms.utils import flatatt
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

# Old names of countries' zones and bare offsets: each has its city's name too, which keeps its summer time.
OLD_ZONES = ("Etc/", "US/", "Brazil/", "Canada/", "Chile/", "Mexico/")


@cache
def zone_choices() -> tuple[tuple[str, str], ...]:
    """Kept: each look goes through the whole folder of zones."""
    named = [z for z in sorted(available_timezones()) if "/" in z and not z.startswith(OLD_ZONES)]
    return tuple((z, z.replace("_", " ")) for z in [*named, "UTC"])


def zone_choices_open() -> tuple[tuple[str, str], ...]:
    return (("", "Choose"), *zone_choices())


class LongSelect(forms.Select):
    """Written in one go. A template for each option, as usual, costs more than the rest of a page together."""

    def render(self, name, value, attrs=None, renderer=None) -> SafeString:
        chosen = self.format_value(value)
        options = format_html_join(
            "\n",
            '<option value="{}"{}>{}</option>',
            ((key, SafeString(" selected") if str(key) in chosen else "", words) for key, words in self.choices),
        )
        given = self.build_attrs(self.attrs, {**(attrs or {}), "name": name})
        return format_html("<select{}>\n{}\n</select>", flatatt(given), options)


class ZoneField(forms.ChoiceField):
    widget = LongSelect

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**{"label": "Time zone", "choices": zone_choices, **kwargs})
