from django import forms

from decor.studio.forms import SlipModelForm
from decor.studio.versions import VersionMixin
from jobs.clients.models import Client

FIELDS = ["name", "organisation", "phone", "email", "note"]


class ClientForm(SlipModelForm):
    """A client who can be reached: a telephone number or an e-mail address, better both."""

    class Meta:
        model = Client
        fields = FIELDS
        labels = {"phone": "Telephone", "email": "E-mail"}
        error_messages = {"name": {"required": "Give their name."}}
        widgets = {
            "phone": forms.TextInput({"type": "tel"}),
            "email": forms.EmailInput({"spellcheck": "false", "autocapitalize": "none"}),
        }

    def clean(self) -> dict[str, object]:
        given = super().clean()
        asked = {"phone", "email"} & set(self.fields)
        if asked and not (given.get("phone") or given.get("email") or asked & set(self.errors)):
            self.add_error("phone", "Give a telephone number or an e-mail address, so that they can be reached.")
        return given

    def clean_phone(self) -> str:
        phone = self.cleaned_data["phone"]
        if phone and sum(c.isdigit() for c in phone) < 5:
            raise forms.ValidationError("That is too short for a telephone number.")
        return phone


class ClientNewForm(ClientForm):
    class Meta(ClientForm.Meta):
        fields = ["name", "organisation", "phone", "email"]


class ClientChangeForm(VersionMixin, ClientForm):
    pass
