from typing import Any

from django import forms

from decor.studio.forms import SlipForm
from decor.studio.pictures import CleanPicture
from decor.studio.sent_pictures import taken
from decor.studio.versions import VersionMixin
from jobs.designs.catalogue import Catalogue, LatexItem, SheetType
from jobs.designs.kept.services import nearest_items
from jobs.designs.out.plain_json import MOST_BYTES, FileRefused, PanelFile, read
from jobs.designs.panel_form import LATTICE_WORDS


class KeepForm(SlipForm):
    title = forms.CharField(label="Called", max_length=120)
    note = forms.CharField(label="Note", max_length=200, required=False, help_text="what it was for, what worked")


class KeptForm(VersionMixin, KeepForm):
    pass


class FindForm(SlipForm):
    """By a picture: the client's, a photograph of the panel, or a drawing."""

    picture = forms.FileField(
        label="Find by a picture",
        help_text="The picture it was made from, or a photograph of the panel.",
        widget=forms.FileInput({"accept": "image/*"}),
        error_messages={"required": "Choose a picture.", "empty": "This file is empty."},
    )

    def clean_picture(self) -> CleanPicture:
        return taken(self.cleaned_data["picture"])


class FileForm(SlipForm):
    chart = forms.FileField(
        label="Read a chart in",
        help_text="A JSON file that was taken out under Pictures.",
        widget=forms.FileInput({"accept": "application/json,.json"}),
        error_messages={"required": "Choose a file.", "empty": "This file is empty."},
    )

    def clean_chart(self) -> PanelFile:
        sent = self.cleaned_data["chart"]
        if sent.size > MOST_BYTES:
            raise forms.ValidationError("This file is too large to be a panel's chart.")
        try:
            return read(sent.read())
        except FileRefused as refusal:
            raise forms.ValidationError(str(refusal)) from refusal


class UseForm(SlipForm):
    """A sheet, and a balloon for each colour of the kept panel."""

    sheet = forms.TypedChoiceField(label="Sheet", coerce=int)

    def __init__(
        self, *args: object, file: PanelFile, sheet: SheetType, catalogue: Catalogue, fitting: tuple[LatexItem, ...],
        **kwargs: object,
    ) -> None:  # fmt: skip
        super().__init__(*args, **kwargs)
        self.file, self.catalogue = file, catalogue
        self.fields["sheet"].choices = [
            (one.id, f"{one.name}, {LATTICE_WORDS[one.lattice]}") for one in catalogue.sheets_on_offer
        ]
        self.fields["sheet"].initial = sheet.id
        near = nearest_items(file, sheet, catalogue)
        counts = file.chart.counts()
        for number in sorted(counts, key=lambda one: -counts[one]):
            self.fields[f"colour{number}"] = forms.TypedChoiceField(
                label=f"{file.palette[number].words.capitalize()}, {counts[number]:,} cells",
                coerce=int,
                choices=[(item.id, item.words) for item in fitting],
                initial=near[number].id if number in near else None,
            )

    def instead(self) -> dict[int, LatexItem]:
        given: dict[str, Any] = self.cleaned_data
        found = {}
        for number in self.file.chart.counts():
            item = self.catalogue.balloon(given[f"colour{number}"])
            if item is not None:
                found[number] = item
        return found
