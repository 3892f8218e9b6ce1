from django import forms

from decor.studio.forms import SlipForm


class DayForm(SlipForm):
    date = forms.DateField(label="Another day", error_messages={"invalid": "Give a day such as 2027-06-13."})
