from __future__ import annotations

from datetime import date, time
from zoneinfo import ZoneInfo

from django import forms
from django.core.exceptions import ValidationError

from decor.studio.forms import SlipForm, SlipModelForm
from decor.studio.versions import VersionMixin
from decor.studio.zones import ZoneField
from jobs.events import times
from jobs.events.models import Venue


class DayField(forms.DateField):
    """A calendar where the browser has one; typed words in every other."""

    def __init__(self, **kwargs: object) -> None:
        self.today = date.min
        kwargs.setdefault("error_messages", {"required": "Give the day."})
        super().__init__(widget=forms.DateInput({"type": "date"}, format="%Y-%m-%d"), **kwargs)

    def to_python(self, value: object) -> date | None:
        if value in self.empty_values or isinstance(value, date):
            return value or None
        try:
            return times.day_from(str(value), self.today)
        except ValueError as refusal:
            raise ValidationError("Write the day like 13.6.2027 or 13 June.") from refusal


class ClockField(forms.TimeField):
    def __init__(self, **kwargs: object) -> None:
        kwargs.setdefault("error_messages", {"required": "Give the time."})
        super().__init__(widget=forms.TimeInput({"type": "time"}, format="%H:%M"), **kwargs)

    def to_python(self, value: object) -> time | None:
        if value in self.empty_values or isinstance(value, time):
            return value or None
        try:
            return times.time_from(str(value))
        except ValueError as refusal:
            raise ValidationError("Write the time like 18:30 or 6:30 pm.") from refusal


class WhenForm(SlipForm):
    """Local to the venue, in `zone`. After is_valid: `wanted` as entered and `span` in UTC."""

    date = DayField(label="Day of the event")
    load_in = ClockField(label="Load-in", help_text="when the crew may enter")
    doors = ClockField(label="Doors", help_text="guests enter, all stands")
    ends = ClockField(label="End", help_text="guests leave")
    strike = ClockField(label="Strike", help_text="it comes down")
    second = forms.ChoiceField(
        label="Clocks go back that night. Which one?",
        choices=[("first", "The first, before they go back"), ("second", "The second, after they went back")],
        widget=forms.RadioSelect,
        required=False,
    )
    load_in_date = DayField(label="Day of load-in", required=False)
    ends_date = DayField(label="Day it ends", required=False)
    strike_date = DayField(label="Day of strike", required=False)

    DAYS = ("load_in_date", "ends_date", "strike_date")

    def __init__(self, *args: object, zone: ZoneInfo, today: date, booked: date | None = None, **kwargs: object):
        """`booked` is a day that is kept although it may be past: that of an event being changed."""
        super().__init__(*args, **kwargs)
        self.zone, self.today, self.booked = zone, today, booked
        self.twice = bool(self["second"].value())
        for name in ("date", *self.DAYS):
            self.fields[name].today = today
        for name in (*self.DAYS, "second"):
            self.fields[name].widget.attrs["data-aside"] = "1"

    @property
    def other_days(self) -> bool:
        """Whether the rarely needed days must be in sight: they are the remedy for most wrong orders."""
        asked = ("load_in", "ends", "strike")
        return any(self[n].value() or self[n].errors for n in self.DAYS) or any(self[n].errors for n in asked)

    def clean_date(self) -> date:
        day = self.cleaned_data["date"]
        self._not_past(day)
        if day.year > self.today.year + times.FARTHEST_YEARS:
            raise ValidationError(f"{day.year} is more than {times.FARTHEST_YEARS} years off. Check the year.")
        return day

    def clean_load_in_date(self) -> date | None:
        day = self.cleaned_data["load_in_date"]
        if day:
            self._not_past(day)
        return day

    def _not_past(self, day: date) -> None:
        if day < self.today and day != self.booked:
            raise ValidationError(
                f"{day:%a} {day.day} {day:%B %Y} is past. Give a day from today, {self.today.day} {self.today:%B}, on."
            )

    def clean(self) -> dict[str, object]:
        given = super().clean()
        if not self.errors:
            second = {"first": False, "second": True}.get(given.pop("second", ""))
            names = ("date", "load_in", "doors", "ends", "strike", *self.DAYS)
            self.wanted = times.Wanted(**{n: given[n] for n in names}, second=second)
            try:
                self.span = times.span_of(self.wanted, self.zone)
            except times.Refused as refusal:
                self.twice = self.twice or refusal.twice
                self.add_error(refusal.field, refusal.words)
        return given


class VenueForm(SlipModelForm):
    time_zone = ZoneField()
    indoors = forms.TypedChoiceField(
        label="Where it stands",
        choices=[("yes", "Indoors"), ("no", "Outdoors")],
        coerce=lambda word: word == "yes",
        widget=forms.RadioSelect,
    )

    class Meta:
        model = Venue
        fields = [
            "name",
            "address",
            "access",
            "contact_name",
            "contact_phone",
            "indoors",
            "drive_minutes",
            "distance_km",
            "ceiling_m",
            "door_width_m",
            "door_height_m",
            "altitude_m",
            "temperature_c",
            "time_zone",
            "cautions",
        ]
        labels = {
            "name": "Name of the venue",
            "access": "Access",
            "contact_name": "Contact on site",
            "contact_phone": "Their telephone",
            "ceiling_m": "Ceiling, m",
            "door_width_m": "Narrowest door, width in m",
            "door_height_m": "Its height, m",
            "altitude_m": "Altitude, m",
            "temperature_c": "Temperature, °C",
            "distance_km": "Distance, km",
            "drive_minutes": "Drive, minutes",
            "cautions": "Cautions",
        }
        help_texts = {
            "drive_minutes": "one way",
            "distance_km": "one way",
            "door_width_m": "On the way in; what is loaded in the workshop is made to pass it.",
        }
        error_messages = {"name": {"required": "Give the venue a name."}}
        widgets = {"contact_phone": forms.TextInput({"type": "tel"})}

    # What a first call rarely brings; each has a value to start from.
    ASIDE = ("ceiling_m", "door_width_m", "door_height_m", "altitude_m", "temperature_c", "time_zone", "cautions")

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        value = self.initial.get("indoors", True)
        self.initial["indoors"] = value if isinstance(value, str) else "yes" if value else "no"

    @property
    def front(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name not in self.ASIDE and not self[name].is_hidden]

    @property
    def aside(self) -> list[forms.BoundField]:
        return [self[name] for name in self.ASIDE]

    @property
    def aside_open(self) -> bool:
        return any(field.errors for field in self.aside)


class VenueChangeForm(VersionMixin, VenueForm):
    pass
