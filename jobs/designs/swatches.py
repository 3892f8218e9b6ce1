"""Colours to tick, shown as balloons."""

from collections.abc import Iterable, Mapping

from django import forms
from django.forms.widgets import ChoiceWidget

from jobs.designs.catalogue import LatexItem


class Swatches(ChoiceWidget):
    """`rgb` by value, `no_rgb` for a choice that is no colour; `under` is what stands below a colour's name, such as
    how many are free."""

    template_name = "jobs/designs/swatches.html"
    no_rgb = "#ffffff"

    def __init__(self, attrs: dict[str, object] | None = None) -> None:
        super().__init__(attrs)
        self.rgb: Mapping[str, str] = {}
        self.under: Mapping[str, str] = {}

    def create_option(self, name, value, *args, **kwargs):
        option = super().create_option(name, value, *args, **kwargs)
        return option | {"rgb": self.rgb.get(str(value), self.no_rgb), "under": self.under.get(str(value), "")}


class SwatchBoxes(Swatches, forms.CheckboxSelectMultiple):
    pass


class ColourNames(forms.MultipleChoiceField):
    """Colours by their words, for when neither size nor sheet is known."""

    def __init__(self, **kwargs: object) -> None:
        super().__init__(widget=SwatchBoxes(), required=False, **kwargs)
        self.open_end = True  # its label says when to leave it open

    def offer(self, colours: Mapping[str, str]) -> None:
        self.choices = [(words, words) for words in sorted(colours)]
        self.widget.rgb = colours


class ColourItems(forms.TypedMultipleChoiceField):
    """Stock items, one for each colour."""

    def __init__(self, **kwargs: object) -> None:
        kwargs.setdefault("error_messages", {}).setdefault(
            "invalid_choice",
            "One of the colours has no balloons of the size and shape that this sheet and way to load need.",
        )
        super().__init__(coerce=int, widget=SwatchBoxes(), **kwargs)

    def offer(self, items: Iterable[LatexItem], under: Mapping[int, str] | None = None) -> None:
        items = list(items)
        self.choices = [(item.id, item.words) for item in items]
        self.widget.rgb = {str(item.id): item.rgb for item in items}
        self.widget.under = {str(number): words for number, words in (under or {}).items()}
