"""A span as somebody types it: two days, or two moments where hours matter."""

from datetime import date, datetime, time, timedelta
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.http import QueryDict
from django.utils import timezone

from decor.studio.forms import SlipForm
from decor.studio.templatetags.desk import clock
from inventory.lot_forms import LAST_DAY, TOO_FAR
from inventory.shown import day_words

NAMES = ("first", "first_at", "last", "last_at")


class SpanForm(SlipForm):
    """Days count whole: to the end of the last one. A day that has begun counts from now."""

    first = forms.DateField(label="From")
    first_at = forms.TimeField(label="at", required=False)
    last = forms.DateField(label="Until")
    last_at = forms.TimeField(label="at", required=False)

    def __init__(self, *args: Any, now: datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.now = now
        for name in ("first_at", "last_at"):
            self.fields[name].optional_words = "if it matters"

    def clean_first(self) -> date:
        first: date = self.cleaned_data["first"]
        if first < timezone.localdate(self.now):
            raise forms.ValidationError("That day is past. Ask from today on.")
        return self._near(first)

    def clean_last(self) -> date:
        return self._near(self.cleaned_data["last"])

    def _near(self, day: date) -> date:
        if day > LAST_DAY:
            raise forms.ValidationError(TOO_FAR)
        return day

    def clean(self) -> dict[str, Any]:
        given: dict[str, Any] = super().clean()
        if not self.errors:
            starts, ends = self.span
            if ends <= starts:
                self.add_error("last", "It must end after it begins.")
        return given

    @property
    def span(self) -> tuple[datetime, datetime]:
        """Of a form without errors."""
        given = self.cleaned_data
        starts = _moment(given["first"], given.get("first_at") or time.min)
        last_at = given.get("last_at")
        ends = _moment(given["last"], last_at) if last_at else _moment(given["last"] + timedelta(days=1), time.min)
        return (max(starts, self.now), ends)


def _moment(day: date, at: time) -> datetime:
    return timezone.make_aware(datetime.combine(day, at))


def asked(query: QueryDict) -> bool:
    return any(query.get(name) for name in NAMES)


def span_query(starts: datetime, ends: datetime) -> str:
    """The address's own words for a span, exact to the minute."""
    starts, ends = timezone.localtime(starts), timezone.localtime(ends)
    told = {"first": f"{starts:%Y-%m-%d}", "first_at": f"{starts:%H:%M}"}
    return urlencode(told | {"last": f"{ends:%Y-%m-%d}", "last_at": f"{ends:%H:%M}"})


def moments_words(starts: datetime, ends: datetime) -> str:
    """Sat 13 June; Fri 12 June, 14:00 to Sun 14 June, 01:00: without hours where whole days are meant."""
    starts, ends = timezone.localtime(starts), timezone.localtime(ends)
    whole_first = starts.time() == time.min
    if ends.time() == time.min:
        last = day_words(ends.date() - timedelta(days=1))
        first = day_words(starts.date())
        if whole_first or starts.date() == timezone.localdate():
            return first if first == last else f"{first} to {last}"
        return f"{first}, {clock(starts)} to the end of {last}"
    return f"{day_words(starts.date())}, {clock(starts)} to {day_words(ends.date())}, {clock(ends)}"
