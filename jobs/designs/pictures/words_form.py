"""Words as a panel: the text, how it is drawn, its colours, its size."""

from dataclasses import replace
from typing import Any

from django import forms

from decor.calc.picture.lettering import Lettered, lettered
from jobs.designs.pictures.drawn_form import DrawnForm, OneColour
from jobs.designs.pictures.recipe import MOST_TEXT, Recipe, WordColours, Words

HEIGHT_WORDS = [
    ("small", "small: capitals 5 cells high"),
    ("middle", "middle: capitals 7 cells high"),
    ("large", "large: capitals 12 cells high, strokes two thick"),
]
ALIGN_WORDS = [("left", "left"), ("centre", "centre"), ("right", "right")]


class WordsForm(DrawnForm):
    SOURCE = "words"
    COLOURS = ("letter", "ground", "edge", "shadow")

    text = forms.CharField(
        label="Words",
        max_length=MOST_TEXT,
        strip=False,
        widget=forms.Textarea({"rows": 3, "autocapitalize": "sentences"}),
        help_text="A new line begins a new line on the panel.",
        error_messages={"required": "Write the words first."},
    )
    height = forms.ChoiceField(label="Letters", choices=HEIGHT_WORDS, widget=forms.RadioSelect)
    align = forms.ChoiceField(label="Lines stand", choices=ALIGN_WORDS, widget=forms.RadioSelect)
    slanted = forms.BooleanField(
        label="Slanted",
        required=False,
        help_text="On this sheet every second row stands half a cell over: slanted strokes run straight there.",
    )
    letter = OneColour(label="Colour of the letters")
    ground = OneColour(label="Behind them", none="no balloons")
    edge = OneColour(label="An edge round every letter", none="none")
    shadow = OneColour(label="A shadow, down to the right", none="none")
    margin = forms.IntegerField(label="Cells left free around", min_value=0, max_value=60)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.sheet_type and self.sheet_type.lattice == "square":
            del self.fields["slanted"]
        self.fields["wide"].help_text = self.fields["high"].help_text = "Left open: as the words need."

    def stored(self, recipe: Recipe) -> dict[str, Any]:
        words, named = recipe.words, recipe.words.colours
        shared = {name: getattr(words, name) for name in ("text", "height", "align", "slanted")}
        if recipe.source == "words" and words.text:
            colours = {"letter": named.letter, "ground": named.ground, "edge": named.outline, "shadow": named.shadow}
            size = self._own_size(recipe)
        else:
            first = [*self.ground_and_others(), None, None]
            colours, size = {"ground": first[0], "letter": first[1] or first[0]}, {"margin": 2}
        return shared | size | {name: self.fit(number) for name, number in colours.items()}

    def _own_size(self, recipe: Recipe) -> dict[str, Any]:
        """The margin that gives the size as it is; where none does, the size itself."""
        try:
            written = self._written(recipe.words)
        except ValueError:
            return {"wide": recipe.columns, "high": recipe.rows, "margin": 2}
        margin = (recipe.columns - written.columns) // 2
        if 0 <= margin <= 60 and self._size(written, margin) == (recipe.rows, recipe.columns):
            return {"margin": margin}
        return {"wide": recipe.columns, "high": recipe.rows, "margin": 2}

    def _written(self, words: Words) -> Lettered:
        kind = self.sheet_type.lattice if self.sheet_type else "square"
        return lettered(
            words.text,
            height=words.height,
            align=words.align,
            outline=words.outline,
            shadow=words.shadow,
            slanted=words.slanted and kind != "square",
            kind=kind,
        )

    def _size(self, written: Lettered, margin: int) -> tuple[int, int]:
        """Rows and columns. Where rows stand half a cell over, letters begin on a row that does not."""
        staggered = self.sheet_type is not None and self.sheet_type.lattice != "square"
        above = margin + margin % 2 if staggered else margin
        return written.rows + 2 * above, written.columns + 2 * margin

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        if "text" in given and not self.errors:
            try:
                self.written = self._written(self._words(given))
            except ValueError as refusal:
                self.add_error("text", str(refusal))
        return given

    def _words(self, given: dict[str, Any]) -> Words:
        return Words(
            text=given["text"].replace("\r\n", "\n"),
            height=given["height"],
            align=given["align"],
            outline=given["edge"] is not None,
            shadow=given["shadow"] is not None,
            slanted=given.get("slanted", False),
            colours=WordColours(given["letter"], given["edge"], given["shadow"], given["ground"]),
        )

    def drawn(self, recipe: Recipe) -> Recipe:
        given = self.cleaned_data
        rows, columns = self._size(self.written, given["margin"])
        return replace(recipe, words=self._words(given), rows=given["high"] or rows, columns=given["wide"] or columns)

    def refuse(self, about: str, message: str) -> None:
        if about == "words" and "across" in message and self.cleaned_data.get("wide"):
            about = "wide"
        elif about == "words" and "top to bottom" in message and self.cleaned_data.get("high"):
            about = "high"
        super().refuse("text" if about == "words" else about, message)
