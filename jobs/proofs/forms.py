from datetime import date
from decimal import Decimal

from django import forms

from decor.studio.forms import SlipForm

MOST_NET = Decimal("9999999.99")


class AnswerForm(SlipForm):
    """`version` is the one that the page restated: an answer to another one must not count."""

    comment_asked = ""
    comment_needed = False
    MISSING = "Write your name, so that we know who answered."

    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1)
    comment = forms.CharField(max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": "4"}))
    name = forms.CharField(
        label="Your name",
        max_length=120,
        widget=forms.TextInput({"autocomplete": "name"}),
        error_messages={"required": MISSING},
    )

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        if not self.comment_asked:
            del self.fields["comment"]
            return
        self.fields["comment"].label = self.comment_asked
        self.fields["comment"].required = self.comment_needed
        self.fields["comment"].error_messages["required"] = "Say what should change."
        self.fields["comment"].optional_words = "if you like"


class ApproveForm(AnswerForm):
    pass


class ChangeForm(AnswerForm):
    comment_asked = "What should change"
    comment_needed = True


class DeclineForm(AnswerForm):
    comment_asked = "Why"


class VersionForm(SlipForm):
    net = forms.DecimalField(
        label="Price before tax",
        max_digits=9,
        decimal_places=2,
        min_value=Decimal("0.01"),
        max_value=MOST_NET,
        error_messages={"min_value": "The price must be more than 0."},
    )
    valid_until = forms.DateField(label="Offer good until")

    def __init__(self, *args: object, today: date, last: date, hint: str, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.today, self.last = today, last
        self.fields["net"].help_text = hint

    def clean_valid_until(self) -> date:
        given = self.cleaned_data["valid_until"]
        if given < self.today:
            raise forms.ValidationError("This day has passed.")
        if given > self.last:
            raise forms.ValidationError("This is after the event.")
        return given


class LinkForm(SlipForm):
    recipient = forms.CharField(
        label="Who gets the link", max_length=120, help_text="One link a person: each can be ended by itself."
    )
