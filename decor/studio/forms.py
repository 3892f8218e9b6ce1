from typing import NamedTuple

from django import forms
from django.contrib.auth import password_validation
from django.forms.boundfield import BoundField
from django.forms.renderers import TemplatesSetting

from decor.calc.work.rates import rate_parts
from decor.studio.form_words import plain_words
from decor.studio.letters import bound_text
from decor.studio.models import Role, Studio, User
from decor.studio.zones import LongSelect, ZoneField, zone_choices_open


class SlipRenderer(TemplatesSetting):
    """Label, hint, error, control, in that order, for every form of the program."""

    form_template_name = "parts/form.html"
    field_template_name = "parts/field.html"


class NumberText(forms.TextInput):
    """A text field with a number pad: type=number loses what was typed when it is not a number, and refuses
    the decimal comma."""

    def __init__(self, *, decimal: bool) -> None:
        super().__init__({"inputmode": "decimal" if decimal else "numeric", "autocomplete": "off"})

    def value_from_datadict(self, data, files, name):
        value = super().value_from_datadict(data, files, name)
        return value.strip().replace(",", ".") if isinstance(value, str) else value


class SlipMixin:
    """Number pads, native date and time pickers, errors in plain words, and no browser guesses at other people's
    data."""

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            self._dress(field)

    @staticmethod
    def _dress(field: forms.Field) -> None:
        attrs = dict(field.widget.attrs)
        if isinstance(field.widget, forms.NumberInput):
            field.widget = NumberText(decimal=type(field) is not forms.IntegerField)
            field.widget.is_required = field.required
            attrs.pop("step", None), attrs.pop("min", None), attrs.pop("max", None)
        elif type(field) is forms.DateField:
            field.widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
        elif type(field) is forms.TimeField:
            field.widget = forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
            field.input_formats = ["%H:%M", "%H:%M:%S", "%H.%M", "%H%M", "%I:%M %p", "%I %p"]
        elif type(field) is forms.DateTimeField:
            field.widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")
        elif isinstance(field.widget, forms.Textarea):
            attrs["rows"] = attrs.get("rows") if str(attrs.get("rows")) != "10" else "3"
        field.widget.attrs.update(attrs)
        field.widget.attrs.setdefault("autocomplete", "off")
        if isinstance(field, forms.CharField):
            bound_text(field)
        plain_words(field)


class SlipForm(SlipMixin, forms.Form):
    pass


class SlipModelForm(SlipMixin, forms.ModelForm):
    pass


class Part(NamedTuple):
    title: str
    fields: list[BoundField]
    wrong: bool
    changed: int


class InParts:
    """A long form under headings that open: `PARTS` names each and its fields."""

    PARTS: tuple[tuple[str, tuple[str, ...]], ...]

    @property
    def parts(self) -> list[Part]:
        bound = [(title, [self[name] for name in names]) for title, names in self.PARTS]
        return [Part(title, fields, any(f.errors for f in fields), self.changed_in(fields)) for title, fields in bound]

    def changed_in(self, fields: list[BoundField]) -> int:
        """How many of them differ from what the program starts with, where that is worth telling."""
        return 0


class LoginForm(SlipForm):
    username = forms.CharField(
        label="Sign-in name",
        max_length=150,
        widget=forms.TextInput({"autocomplete": "username", "autocapitalize": "none"}),
    )
    password = forms.CharField(
        label="Password", max_length=200, widget=forms.PasswordInput({"autocomplete": "current-password"})
    )


class NewPassword(forms.CharField):
    def __init__(self, **kwargs: object) -> None:
        super().__init__(
            label="Password",
            max_length=200,
            widget=forms.PasswordInput({"autocomplete": "new-password"}, render_value=False),
            help_text="15 characters or more; a short sentence is easy to keep in mind.",
            **kwargs,
        )

    def validate(self, value: str) -> None:
        super().validate(value)
        password_validation.validate_password(value)


class FirstRunForm(SlipForm):
    code = forms.CharField(label="Setup code", help_text="./run printed it.", max_length=80)
    name = forms.CharField(label="Name of the studio", max_length=120)
    time_zone = ZoneField(choices=zone_choices_open, widget=LongSelect({"data-own-zone": ""}))
    owner_name = forms.CharField(label="Your name", max_length=120, widget=forms.TextInput({"autocomplete": "name"}))
    username = forms.SlugField(
        label="Sign-in name",
        max_length=150,
        widget=forms.TextInput({"autocomplete": "username", "autocapitalize": "none"}),
    )
    password = NewPassword()


ROLE_WORDS = {
    Role.OWNER: "sees and settles everything",
    Role.PLANNER: "books, plans and prices",
    Role.CREW: "sees their own day sheets, never prices",
}


class PersonForm(SlipModelForm):
    class Meta:
        model = User
        fields = ["name", "username", "role", "email", "is_active"]
        labels = {"username": "Sign-in name", "email": "E-mail", "is_active": "May sign in"}
        help_texts = {
            "email": "For what can't wait, such as a hold that is about to end. Only owners and planners get it.",
            "username": "Letters, digits, dots and dashes.",
            "is_active": "",
            "role": " ".join(f"{role.label}: {words}." for role, words in ROLE_WORDS.items()),
        }
        error_messages = {"username": {"unique": "Somebody has this sign-in name already. Choose another."}}

    def __init__(self, *args: object, editor: User | None = None, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.editor = editor

    def clean(self) -> dict[str, object]:
        given = super().clean()
        myself = self.editor is not None and self.instance.pk == self.editor.pk
        if myself and (given.get("role") != Role.OWNER or given.get("is_active") is False):
            raise forms.ValidationError("You can't take the owner's rights from yourself; another owner can.")
        return given


class PersonNewForm(PersonForm):
    password = NewPassword()

    class Meta(PersonForm.Meta):
        fields = ["name", "username", "role", "email"]


class PasswordForm(SlipForm):
    old = forms.CharField(
        label="Password now", max_length=200, widget=forms.PasswordInput({"autocomplete": "current-password"})
    )
    password = NewPassword()

    def __init__(self, *args: object, user: User, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.user = user
        self.fields["password"].label = "New password"

    def clean_old(self) -> str:
        if not self.user.check_password(self.cleaned_data["old"]):
            raise forms.ValidationError("That is not your password now.")
        return self.cleaned_data["old"]


STUDIO_PARTS = (
    ("The studio", ("name", "phone", "email", "address", "time_zone", "currency", "units", "paper")),
    ("Cost and price", ("wage_per_hour", "travel_per_km", "overhead_percent", "margin_percent", "tax_percent")),
    ("Offers and deposits", ("offer_days", "deposit_percent", "deposit_days", "not_included", "terms")),
    ("Stock and dates", ("hold_hours", "turn_round_hours", "near_days", "use_by_days")),
    ("Workshop and vans", ("altitude_m", "temperature_c", "vans", "van_volume_m3")),
)


class StudioForm(InParts, SlipModelForm):
    PARTS = STUDIO_PARTS
    time_zone = ZoneField()

    class Meta:
        model = Studio
        fields = [name for _, names in STUDIO_PARTS for name in names]
        labels = {
            "phone": "Telephone",
            "email": "E-mail",
            "altitude_m": "Altitude of the workshop, m",
            "temperature_c": "Temperature in the workshop, °C",
            "tax_percent": "Tax, %",
            "margin_percent": "Margin, % of the price",
            "overhead_percent": "Overhead, % of cost",
            "deposit_percent": "Deposit, %",
            "deposit_days": "Deposit due, days after a yes",
            "offer_days": "An offer is good for, days",
            "wage_per_hour": "Wage, per person and hour",
            "travel_per_km": "Travel, per km",
            "van_volume_m3": "Room in one van, m³",
            "hold_hours": "A hold lasts, hours",
            "turn_round_hours": "Returned stock is ready again after, hours",
            "near_days": "An event is near, days before it",
            "use_by_days": "Warn of a use-by day, days before it",
            "not_included": "Not included",
            "units": "Lengths in",
        }
        help_texts = {
            "near_days": "What such an event lacks is told first, on Today as well. From 1 to 60.",
            "use_by_days": "Balloons that must be used by then are told in the store. From 0 to 730; at 0 only once "
            "the day is past.",
        }


class RatesForm(InParts, SlipForm):
    """One field for each rate of the arithmetic: a new rate appears here by itself."""

    ASKED_ELSEWHERE = {"van_room_m3"}  # the studio's page asks for the van

    HINT = "The program's starting values. They are nobody's measurements: put your own figures here as you learn them."

    def __init__(self, data: object = None, *, rates: object, changed: dict[str, float]) -> None:
        self.rates_class = type(rates)
        parts = [(title, [f for f in held if f.name not in self.ASKED_ELSEWHERE]) for title, held in rate_parts()]
        self.PARTS = tuple((title, tuple(f.name for f in held)) for title, held in parts)
        scalars = [f for _, held in parts for f in held]
        self.defaults = {f.name: getattr(rates, f.name) for f in scalars}
        super().__init__(data, initial={n: f"{changed.get(n, default):.6g}" for n, default in self.defaults.items()})
        for scalar in scalars:
            default, words = self.defaults[scalar.name], scalar.metadata
            kind = forms.IntegerField if isinstance(default, int) else forms.FloatField
            field = kind(
                label=f"{words['label']}, {words['unit']}" if words["unit"] else words["label"],
                help_text=f"starts at {default:g}; {words['source']}",
                min_value=words["low"],
                max_value=words["high"],
            )
            self._dress(field)
            self.fields[scalar.name] = field

    def clean(self) -> dict[str, object]:
        given = super().clean()
        if not self.errors:
            try:
                self.rates_class(**self.changed_rates())
            except ValueError as refusal:
                raise forms.ValidationError(str(refusal)) from refusal
        return given

    def changed_in(self, fields: list[BoundField]) -> int:
        return sum(1 for f in fields if self.is_own(f.name, float(self.initial[f.name])))

    def changed_rates(self) -> dict[str, float]:
        return {n: v for n, v in self.cleaned_data.items() if self.is_own(n, v)}

    def is_own(self, name: str, value: float) -> bool:
        """Whether it differs from the program's own figure as the form shows that one: a third is shown as 0.333333."""
        return f"{value:.6g}" != f"{self.defaults[name]:.6g}"
