"""A pattern as a panel: which, in which colours, how wide."""

import re
from dataclasses import replace
from typing import Any

from django import forms

from jobs.designs.pictures.drawn_form import DrawnForm, OneColour
from jobs.designs.pictures.recipe import Pattern, Recipe

KIND_WORDS = [("stripes", "stripes"), ("checks", "checks"), ("gradient", "a gradient"), ("rings", "rings")]
WAY_WORDS = [
    ("columns", "standing"),
    ("rows", "lying"),
    ("falling", "slanted, falling to the right"),
    ("rising", "slanted, rising to the right"),
]
COURSE_WORDS = [
    ("down", "from top to bottom"),
    ("up", "from bottom to top"),
    ("right", "from left to right"),
    ("left", "from right to left"),
    ("round", "from the middle outwards"),
]
BLEND_WORDS = [("mixed", "mixed, balloon by balloon"), ("bands", "in clean bands")]
PLACES = ("first", "second", "third", "fourth", "fifth", "sixth")
TAKES = {
    "stripes": ("way", "widths", "mirrored"),
    "checks": ("width",),
    "gradient": ("course", "blend"),
    "rings": ("widths", "square"),
}
"""What each pattern asks, by the names that the arithmetic has for it."""


class PatternForm(DrawnForm):
    SOURCE = "pattern"
    COLOURS = PLACES

    kind = forms.ChoiceField(label="Pattern", choices=KIND_WORDS, widget=forms.RadioSelect)
    first = OneColour(label="First colour", plain=True)
    second = OneColour(label="Second colour", none="none", plain=True)
    third = OneColour(label="Third colour", none="none", plain=True)
    fourth = OneColour(label="Fourth colour", none="none", plain=True)
    fifth = OneColour(label="Fifth colour", none="none", plain=True)
    sixth = OneColour(label="Sixth colour", none="none", plain=True)
    way = forms.ChoiceField(label="Stripes run", choices=WAY_WORDS)
    mirrored = forms.BooleanField(label="Both halves alike, from the middle", required=False)
    course = forms.ChoiceField(label="It passes", choices=COURSE_WORDS)
    blend = forms.ChoiceField(label="Colours pass into one another", choices=BLEND_WORDS, widget=forms.RadioSelect)
    square = forms.BooleanField(label="As frames along the edges", required=False)
    widths = forms.CharField(
        label="How wide, in cells",
        max_length=60,
        help_text="One number for all, or one for each colour: 3, 1, 3.",
        widget=forms.TextInput({"inputmode": "text"}),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["wide"].required = self.fields["high"].required = True

    def stored(self, recipe: Recipe) -> dict[str, Any]:
        start: dict[str, Any] = {
            "kind": "stripes", "way": "columns", "course": "down", "blend": "mixed", "widths": "3",
            "wide": recipe.columns, "high": recipe.rows,
        }  # fmt: skip
        pattern = recipe.pattern
        if recipe.source == "pattern" and pattern.kind in TAKES:
            options = dict(pattern.options)
            if "width" in options:
                options["widths"] = str(options.pop("width"))
            start |= {"kind": pattern.kind, **options}
            colours = list(pattern.colours)
        else:
            colours = self.ground_and_others()[:2][::-1]
        return start | {name: self.fit(number) for name, number in zip(PLACES, colours, strict=False)}

    def clean_widths(self) -> str:
        text = self.cleaned_data["widths"].strip()
        numbers = re.split(r"[\s,;]+", text)
        if not all(re.fullmatch(r"[0-9]{1,5}", one) and int(one) > 0 for one in numbers):
            raise forms.ValidationError("Write whole numbers from 1, with commas between them.")
        return ", ".join(str(int(one)) for one in numbers)

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        if self.errors:
            return given
        colours, numbers = len(self._colours()), given["widths"].split(", ")
        asks = TAKES[given["kind"]]
        if "widths" in asks and len(numbers) not in (1, colours):
            self.add_error("widths", f"There are {colours} colours and {len(numbers)} widths; give one for each.")
        if "width" in asks and len(numbers) != 1:
            self.add_error("widths", "Checks are all of one width; write one number.")
        if "course" in asks and colours < 2:
            self.add_error("second", "A gradient needs two colours or more.")
        return given

    def _colours(self) -> tuple[int, ...]:
        """In order, without the places that are left open."""
        return tuple(self.cleaned_data[name] for name in PLACES if self.cleaned_data[name])

    def drawn(self, recipe: Recipe) -> Recipe:
        given = self.cleaned_data
        options = {name: given[name] for name in TAKES[given["kind"]] if name != "width"}
        if given["kind"] == "checks":
            options["width"] = int(given["widths"])
        pattern = Pattern(given["kind"], self._colours(), options)
        return replace(recipe, pattern=pattern, rows=given["high"], columns=given["wide"])

    def refuse(self, about: str, message: str) -> None:
        super().refuse("widths" if about == "pattern" else about, message)
