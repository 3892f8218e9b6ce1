from typing import Any

from django import forms
from django.conf import settings
from django.core.files.uploadedfile import UploadedFile

from decor.calc.picture.paper import MOST_COLOURS, PAPERS_MM
from decor.studio.forms import SlipForm
from jobs.designs.catalogue import Catalogue, LatexItem
from jobs.designs.models import ChartPaper
from jobs.designs.swatches import ColourItems

MOST_PHOTOS = 4


class PrintForm(SlipForm):
    colours = ColourItems(
        label="Pens",
        help_text=f"A box is printed for each, at most {MOST_COLOURS}. Any pens will do: the boxes say which is which.",
        error_messages={"required": "Choose at least one colour."},
    )
    paper = forms.ChoiceField(label="Paper", choices=[(name, name) for name in PAPERS_MM], widget=forms.RadioSelect)

    def __init__(self, *args: object, fitting: tuple[LatexItem, ...], **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["colours"].offer(fitting)

    def clean_colours(self) -> list[int]:
        chosen: list[int] = self.cleaned_data["colours"]
        if len(chosen) > MOST_COLOURS:
            raise forms.ValidationError(f"{len(chosen)} colours are ticked; a page has room for {MOST_COLOURS} boxes.")
        return chosen


class ManyFilesInput(forms.ClearableFileInput):
    allow_multiple_selected = True


class PhotosField(forms.FileField):
    def clean(self, data: Any, initial: Any = None) -> list[UploadedFile]:
        sent = data if isinstance(data, list | tuple) else [data]
        return [super(PhotosField, self).clean(one, initial) for one in sent] or [super().clean(None, initial)]


class PhotosForm(SlipForm):
    photos = PhotosField(
        label="Photographs of the pages",
        help_text=f"Each whole page with its four corner marks, sharp, without flash; up to {MOST_PHOTOS} at once.",
        widget=ManyFilesInput({"accept": "image/*"}),
        error_messages={"required": "Choose a photograph.", "empty": "This file is empty."},
    )

    def clean_photos(self) -> list[UploadedFile]:
        photos: list[UploadedFile] = self.cleaned_data["photos"]
        if len(photos) > MOST_PHOTOS:
            raise forms.ValidationError(f"These are {len(photos)} photographs. Send at most {MOST_PHOTOS} at once.")
        for photo in photos:
            if photo.size > settings.PICTURE_MAX_BYTES:
                size = -(-photo.size // 2**20)
                raise forms.ValidationError(f"{photo.name} is {size} MB; the most is 15 MB.")
        return photos


class TakeForm(SlipForm):
    white = forms.TypedChoiceField(label="Cells left white are", coerce=int, required=False, empty_value=None)
    panel_version = forms.IntegerField(widget=forms.HiddenInput, min_value=0)

    def __init__(self, *args: object, paper: ChartPaper, catalogue: Catalogue, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        items = [(number, catalogue.balloon(number)) for number in paper.palette]
        self.fields["white"].choices = [
            ("", "no balloon"),
            *[(number, f"{item.words} balloons") for number, item in items if item],
        ]
        self.fields["white"].open_end = True
