from typing import Any

from django import forms

from decor.studio.forms import SlipForm
from decor.studio.pictures import CleanPicture
from decor.studio.sent_pictures import taken
from jobs.designs.lengths import SHORT
from jobs.designs.out.pictures import LIGHTS, LOOKS, places_on

WIDTHS = {"1200": "1,200 pixels, to send", "2400": "2,400 pixels, to print small", "3600": "3,600 pixels, to print"}
CORNERS = ("top left", "top right", "bottom right", "bottom left")


class LookForm(SlipForm):
    look = forms.ChoiceField(label="Shown as", choices=LOOKS.items(), initial="balloons", required=False)
    light = forms.ChoiceField(label="Light", choices=LIGHTS.items(), initial="day", required=False)
    distance = forms.FloatField(label="From how far", required=False, min_value=0.5, max_value=300.0)
    width = forms.ChoiceField(label="Wide", choices=WIDTHS.items(), initial="1200", required=False)

    def __init__(self, *args: object, units: str, usual_m: float, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.feet = units == "imperial"
        unit = SHORT["ft" if self.feet else "m"]
        self.fields["distance"].help_text = f"in {unit}, for the picture from a distance"
        for field in self.fields.values():
            field.open_end = True
        self.usual = round(usual_m / 0.3048) if self.feet else round(usual_m)
        self.fields["distance"].initial = self.usual

    def chosen(self) -> dict[str, Any]:
        """What was asked for, with what was left open filled in; all of it where nothing was asked yet."""
        given = self.cleaned_data if self.is_bound else {}
        distance = given.get("distance") or self.usual
        return {
            "look": given.get("look") or "balloons",
            "light": given.get("light") or "day",
            "distance_m": distance * 0.3048 if self.feet else distance,
            "width_px": int(given.get("width") or 1200),
        }

    def can_be_drawn(self) -> bool:
        """As SVG: lamps and a distance are of painted pictures only."""
        chosen = self.chosen()
        return chosen["look"] == "chart" or (chosen["look"] != "distance" and chosen["light"] == "day")


class VenueForm(SlipForm):
    photo = forms.FileField(
        label="Photograph of the place",
        help_text="From where the guests will see it. It is kept until tomorrow.",
        widget=forms.FileInput({"accept": "image/*"}),
        error_messages={"required": "Choose a photograph.", "empty": "This file is empty."},
    )

    def clean_photo(self) -> CleanPicture:
        return taken(self.cleaned_data["photo"])


class CornersForm(SlipForm):
    """Where the panel's corners are, in hundredths of the photograph's width and height."""

    def __init__(
        self, *args: object, first: list[tuple[float, float]], size: tuple[int, int], **kwargs: object
    ) -> None:
        super().__init__(*args, **kwargs)
        self.size = size
        for number, (words, place) in enumerate(zip(CORNERS, first, strict=True)):
            for axis, start in zip("xy", place, strict=True):
                side = "from the left" if axis == "x" else "from the top"
                self.fields[f"{axis}{number}"] = forms.FloatField(
                    label=f"{words.capitalize()}, {side}, %",
                    min_value=-20.0,
                    max_value=120.0,
                    initial=round(100 * start, 1),
                    widget=forms.TextInput({"inputmode": "decimal", "autocomplete": "off"}),
                )

    def clean(self) -> dict[str, Any]:
        super().clean()
        if not self.errors:
            try:
                places_on(self.size, self.corners())
            except ValueError:
                raise forms.ValidationError(
                    "These corners are no panel: two of them cross, or are too near each other."
                ) from None
        return self.cleaned_data

    def corners(self) -> list[tuple[float, float]]:
        given = self.cleaned_data
        return [(given[f"x{number}"] / 100.0, given[f"y{number}"] / 100.0) for number in range(4)]
