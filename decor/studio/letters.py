"""What a text field takes: letters of any script, and as many as somebody may really write."""

import re

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import MaxLengthValidator

MOST_LETTERS = 10_000
CONTROL = re.compile(r"[\x01-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ufffe\uffff]")
LINE_END = re.compile(r"[\r\n]")


def no_control_characters(value: str) -> None:
    """They can't be seen or typed, and a drawing or a PDF with one in its title does not open."""
    if CONTROL.search(value):
        raise ValidationError("There is a character in this that can't be shown. Type it anew.", code="control")


def one_line(value: str) -> None:
    """A title with a line end would break the headers and the file names that it goes into."""
    if LINE_END.search(value):
        raise ValidationError("This must be one line.", code="line")


def bound_text(field: forms.CharField) -> None:
    field.validators = [*field.validators, no_control_characters]
    if not isinstance(field.widget, forms.Textarea):
        field.validators.append(one_line)
    elif field.max_length is None:
        field.max_length = MOST_LETTERS
        field.validators.append(MaxLengthValidator(MOST_LETTERS))
