from datetime import datetime, time, timedelta

from django import forms
from django.db.models import Q
from django.utils import timezone

from decor.studio.forms import SlipForm, SlipModelForm
from decor.studio.models import User
from decor.studio.versions import VersionMixin
from jobs.crew.models import SKILLS, DayHold, Member, Shift
from jobs.events.models import Event
from jobs.events.times import MOST_YEAR, Refused, moment


class MemberForm(SlipModelForm):
    skills = forms.MultipleChoiceField(label="Can", choices=SKILLS, required=False, widget=forms.CheckboxSelectMultiple)

    class Meta:
        model = Member
        fields = ["name", "phone", "skills", "wage_per_hour", "user"]
        labels = {"phone": "Telephone", "wage_per_hour": "Wage, per hour", "user": "Signs in as"}
        help_texts = {
            "wage_per_hour": "Left empty, the studio's wage counts.",
            "user": "Whoever signs in with this name sees the day sheets of this member.",
        }
        widgets = {"phone": forms.TextInput({"type": "tel"})}

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        own = Q(member=self.instance) if self.instance.pk else Q(pk=None)
        # A sign-in shows one member's sheets; those already given away are not offered.
        self.fields["user"].queryset = User.objects.filter(Q(member=None) | own).order_by("name")
        self.fields["user"].empty_label = "nobody: no sign-in"


class MemberChangeForm(VersionMixin, MemberForm):
    class Meta(MemberForm.Meta):
        fields = [*MemberForm.Meta.fields, "active"]
        labels = {**MemberForm.Meta.labels, "active": "Works here"}

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["version"].initial = self.instance.version

    def _words(self, name: str, value: object) -> str:
        if name == "skills":
            return ", ".join(words.lower() for key, words in SKILLS if key in (value or [])) or "nothing"
        return super()._words(name, value)


class AbsenceForm(SlipForm):
    first_day = forms.DateField(label="First day away")
    last_day = forms.DateField(label="Last day away", required=False)
    away_from = forms.TimeField(label="From", required=False)
    until = forms.TimeField(label="Until", required=False)
    note = forms.CharField(label="Why", required=False, max_length=120)
    OPTIONAL = (
        ("last_day", "if longer"),
        ("away_from", "if not all day"),
        ("until", "if not all day"),
        ("note", "if you like"),
    )

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        for name, words in self.OPTIONAL:
            self.fields[name].optional_words = words

    def clean(self) -> dict[str, object]:
        given = super().clean()
        first = given.get("first_day")
        if not first or self.errors:
            return given
        last = given.get("last_day") or first
        if last.year > MOST_YEAR:
            self.add_error("last_day" if given.get("last_day") else "first_day", "That is too far off.")
            return given
        if last < first:
            self.add_error("last_day", "The last day is before the first.")
            return given
        until_day = last if given.get("until") else last + timedelta(days=1)
        self._moments(given, (first, given.get("away_from") or time.min), (until_day, given.get("until") or time.min))
        return given

    def _moments(self, given: dict[str, object], first: tuple, last: tuple) -> None:
        zone = timezone.get_current_timezone()
        try:
            given["starts"] = moment("away_from", *first, zone, second=False)
            given["ends"] = moment("until", *last, zone, second=True)
        except Refused as refusal:
            self.add_error(refusal.field, refusal.words)
            return
        if given["ends"] <= given["starts"]:
            self.add_error("until", "That is before the time it starts.")


class ShiftForm(SlipForm):
    """Times are entered in the venue's zone. `anyway` stands in the panel of clashes, not among the fields."""

    member = forms.ModelChoiceField(label="Who", queryset=Member.objects.none(), empty_label="choose")
    task = forms.ChoiceField(label="Task", choices=[("", "choose"), *SKILLS])
    day = forms.DateField(label="Day")
    starts = forms.TimeField(label="From")
    ends = forms.TimeField(label="Until")
    ends_day = forms.DateField(label="Until, on another day", required=False)
    note = forms.CharField(label="Note for them", required=False, max_length=200)
    anyway = forms.BooleanField(label="Put them on anyway", required=False)

    def __init__(self, data: object = None, *, event: Event, shift: Shift | None = None, **kwargs: object) -> None:
        self.event, self.shift = event, shift
        super().__init__(data, **kwargs)
        here = Q(active=True) | Q(pk=shift.member_id if shift else None)
        self.fields["member"].queryset = Member.objects.filter(here)
        self.fields["note"].optional_words = "if you like"

    def shown(self) -> list[forms.BoundField]:
        return [field for field in self.visible_fields() if field.name != "anyway"]

    def clean(self) -> dict[str, object]:
        given = super().clean()
        if not all(given.get(name) is not None for name in ("day", "starts", "ends")):
            return given
        zone, ends_day = self.event.zone, given.get("ends_day") or given["day"]
        try:
            # When clocks go back, an hour comes twice; the longer reading keeps people free of doubt.
            starts = moment("starts", given["day"], given["starts"], zone, second=False)
            ends = moment("ends", ends_day, given["ends"], zone, second=True)
        except Refused as refusal:
            self.add_error(refusal.field, refusal.words)
            return given
        if ends <= starts:
            hint = "" if given.get("ends_day") else " If it goes past midnight, give that day too."
            self.add_error("ends", f"It ends before it starts.{hint}")
            return given
        return given | {"starts_at": starts, "ends_at": ends}

    @property
    def span(self) -> tuple[datetime, datetime] | None:
        given = getattr(self, "cleaned_data", {})
        return (given["starts_at"], given["ends_at"]) if "ends_at" in given else None


class ShiftChangeForm(VersionMixin, ShiftForm):
    def value_now(self, name: str, now: object) -> object:
        return shift_initial(now, self.event).get(name)

    def meet(self, now: object) -> list[tuple[str, str, str]]:
        return [row for row in super().meet(now) if row[0] != self.fields["anyway"].label]


def shift_initial(shift: Shift, event: Event) -> dict[str, object]:
    starts, ends = timezone.localtime(shift.starts, event.zone), timezone.localtime(shift.ends, event.zone)
    return {
        "member": shift.member,
        "task": shift.task,
        "note": shift.note,
        "version": shift.version,
        **local_span(starts, ends),
    }


def local_span(starts: datetime, ends: datetime) -> dict[str, object]:
    return {
        "day": starts.date(),
        "starts": starts.time(),
        "ends": ends.time(),
        "ends_day": ends.date() if ends.date() != starts.date() else None,
    }


def first_guess(event: Event) -> dict[str, object]:
    """From the hold where the event has one, otherwise from load-in to doors; people come at quarters."""
    hold = DayHold.objects.filter(event=event).first()
    starts, ends = (hold.starts, event.doors) if hold and hold.starts < event.doors else (event.load_in, event.doors)
    if starts == ends:
        ends = event.ends
    first = timezone.localtime(starts, event.zone)
    quarter = first.replace(minute=first.minute // 15 * 15, second=0, microsecond=0)
    return local_span(quarter, timezone.localtime(ends, event.zone))
