"""What a form says when something is missing or wrong, in plain words that say what to do."""

from collections.abc import Mapping
from decimal import Decimal

from django import forms


class Limited(str):
    """Words that write their limit as figures are written elsewhere: 1,000,000. It is known only when they are said:
    a model's validator has another one than the form's field."""

    def __mod__(self, params: Mapping[str, object]) -> str:
        limit = params.get("limit_value")
        if isinstance(limit, int | float | Decimal):
            figure = f"{int(limit) if limit == int(limit) else limit:,}"
            return str.__mod__(self, {**params, "limit_value": figure})
        return str.__mod__(self, params)


# What a form says unless its field says it better. Keys are the error codes of Django's fields and validators.
WORDS: dict[type[forms.Field], dict[str, str]] = {
    forms.Field: {
        "required": "Fill this in.",
        "unique": "There is one like this already.",
        "min_value": Limited("This must be %(limit_value)s or more."),
        "max_value": Limited("This must be %(limit_value)s or less."),
        "max_length": "That is too long: %(limit_value)s letters at most, these are %(show_value)s.",
        "max_digits": "That has too many digits: %(max)s at most.",
        "max_decimal_places": "Not so fine: %(max)s digits behind the point at most.",
        "max_whole_digits": "That is too large: %(max)s digits before the point at most.",
    },
    forms.FloatField: {"required": "Give a number.", "invalid": "This must be a number."},
    forms.DecimalField: {"required": "Give a number.", "invalid": "This must be a number."},
    forms.IntegerField: {"required": "Give a number.", "invalid": "This must be a whole number."},
    forms.DateField: {"required": "Give the day.", "invalid": "This is not a day of the calendar."},
    forms.TimeField: {"required": "Give the time.", "invalid": "This is not a time of the day, such as 14:30."},
    forms.DateTimeField: {"required": "Give the day and the time.", "invalid": "Give a day and a time."},
    forms.EmailField: {"invalid": "This is not an e-mail address, such as name@example.com."},
    forms.SlugField: {"invalid": "Letters, digits, dashes and underscores only, no spaces."},
    forms.FileField: {"required": "Choose a file.", "empty": "This file is empty."},
    forms.BooleanField: {"required": "Tick this to go on."},
    forms.ChoiceField: {"required": "Choose one.", "invalid_choice": "Choose one of those offered."},
    forms.MultipleChoiceField: {"required": "Choose at least one.", "invalid_choice": "Choose from those offered."},
    forms.ModelChoiceField: {"required": "Choose one.", "invalid_choice": "Choose one of those offered."},
}


def words_of(kind: type[forms.Field]) -> dict[str, str]:
    """From the most general field to the kind itself, as the fields inherit."""
    return {code: text for base in reversed(kind.__mro__) for code, text in WORDS.get(base, {}).items()}


def plain_words(field: forms.Field) -> None:
    """Ours in place of the framework's; what the field or its validators were given of their own stays."""
    own = {v.code for v in field.validators if getattr(v, "message", None) is not getattr(type(v), "message", None)}
    theirs = _framework_words(type(field))
    for code, text in words_of(type(field)).items():
        if code not in own and field.error_messages.get(code, theirs.get(code)) is theirs.get(code):
            field.error_messages[code] = text


def _framework_words(kind: type[forms.Field]) -> dict[str, object]:
    bases = [base for base in reversed(kind.__mro__) if base.__module__.startswith("django.")]
    return {code: text for base in bases for code, text in getattr(base, "default_error_messages", {}).items()}
