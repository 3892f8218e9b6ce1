"""Plain colours to pick from, for whoever is on a phone with a bag of balloons in the other hand."""

from django import forms

# Colour words and values are ours, chosen by eye; the value is only what is shown on screen.
NEAR = {
    "white": "#f7f6f2",
    "cream": "#f1e6cf",
    "yellow": "#f4cf2f",
    "gold": "#c9a04a",
    "orange": "#ef8b2c",
    "coral": "#ef7b6c",
    "red": "#c62b2f",
    "wine": "#7d1f35",
    "pale pink": "#f4c6d0",
    "pink": "#ea7fa8",
    "magenta": "#c02a7a",
    "lilac": "#bda3d8",
    "purple": "#6a3f93",
    "pale blue": "#b7d7ec",
    "sky": "#7db3d8",
    "blue": "#2a63b5",
    "navy": "#1f3560",
    "turquoise": "#36aeb0",
    "mint": "#a9dcc3",
    "green": "#3d8b4a",
    "dark green": "#1f5138",
    "brown": "#7a5236",
    "grey": "#8f9496",
    "black": "#232526",
}
MIXED = "mixed"


class NearColours(forms.RadioSelect):
    """Radio buttons that are balloons; the last one stands for the colour that is mixed below."""

    template_name = "inventory/near_colours.html"
    mixed_rgb = "#888888"

    def create_option(self, name, value, *args, **kwargs):
        option = super().create_option(name, value, *args, **kwargs)
        return option | {"rgb": self.mixed_rgb if value == MIXED else value}


class NearColour(forms.ChoiceField):
    def __init__(self, **kwargs: object) -> None:
        choices = [(rgb, words) for words, rgb in NEAR.items()] + [(MIXED, "as mixed")]
        super().__init__(choices=choices, widget=NearColours(), **kwargs)
