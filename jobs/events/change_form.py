from datetime import date, time
from typing import Any

from django import forms
from django.utils import timezone

from decor.studio.numbers import whole
from decor.studio.templatetags.desk import day_words
from decor.studio.versions import VersionMixin
from jobs.clients.models import Client
from jobs.events import times
from jobs.events.forms import WhenForm
from jobs.events.models import Event, Venue
from jobs.events.services import span_of_event

TIMES = ("date", "load_in", "doors", "ends", "strike", "second", "load_in_date", "ends_date", "strike_date")


class EventForm(VersionMixin, WhenForm):
    """Everything that was settled by booking. Times are read in the zone of the venue that is chosen here."""

    title = forms.CharField(
        label="What the event is called", max_length=120, error_messages={"required": "Give the event a name."}
    )
    client = forms.ModelChoiceField(label="Client", queryset=Client.objects.all(), empty_label=None)
    venue = forms.ModelChoiceField(label="Venue", queryset=Venue.objects.all(), empty_label=None)
    note = forms.CharField(label="Notes", required=False, max_length=4000, widget=forms.Textarea)

    def __init__(self, data: Any = None, *, event: Event) -> None:
        venue = self._venue_in(data) or event.venue
        super().__init__(
            data,
            zone=venue.zone,
            today=timezone.localdate(timezone=venue.zone),
            booked=timezone.localtime(event.doors, event.zone).date(),
            initial=event_values(event) | {"version": event.version},
        )
        self.event = event

    @staticmethod
    def _venue_in(data: Any) -> Venue | None:
        return Venue.objects.filter(pk=whole((data or {}).get("venue", ""))).first()

    def _not_past(self, day: date) -> None:
        """An event whose day is being kept may have been loaded in before today."""
        if self.cleaned_data.get("date") != self.booked:
            super()._not_past(day)

    def changed_event(self) -> Event:
        given, event = self.cleaned_data, self.event
        event.title, event.client, event.venue, event.note = (
            given["title"],
            given["client"],
            given["venue"],
            given["note"],
        )
        for name, at in vars(self.span).items():
            setattr(event, name, at)
        return event

    def value_now(self, name: str, now: Event) -> object:
        return event_values(now).get(name)

    def _words(self, name: str, value: object) -> str:
        if isinstance(value, time):
            return f"{value:%H:%M}"
        return day_words(value, year=True) if isinstance(value, date) else super()._words(name, value)


def event_values(event: Event) -> dict[str, Any]:
    wanted = times.left_open(times.wanted_of(span_of_event(event), event.zone))
    second = {None: "", False: "first", True: "second"}[wanted.second]
    values = {name: getattr(wanted, name) for name in TIMES if name != "second"}
    return values | {
        "second": second,
        "title": event.title,
        "client": event.client,
        "venue": event.venue,
        "note": event.note,
    }
