"""The column of clusters, with a colour pattern."""

import math
from typing import Any

from django import forms
from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

from decor.calc.physics.balloons import DEFAULT_SIZES
from decor.calc.pieces.clusters import ring_radius_m
from decor.calc.pieces.column import ColumnMeasures, colour_counts, placed_balloons
from decor.calc.units import inches_to_m, m_to_inches
from decor.calc.work.rates import Rates
from decor.studio.forms import SlipForm
from jobs.designs.catalogue import Catalogue, LatexItem, catalogue_now
from jobs.designs.charting import NO_COLOUR
from jobs.designs.lengths import LENGTHS, SHORT, SizeField, diameter_words, figure, length_words, to_m, unit_of
from jobs.designs.measured import Measured
from jobs.designs.models import Piece
from jobs.designs.swatches import ColourNames

KEY = "column"
NAME = "Column of clusters"
PLURAL = "Columns of clusters"
SETTLE = "Settle size and colours"
ROUGHLY = "As booked: size and colours are not settled yet."
RANK = 2

PATTERNS = [
    ("spiral", "Spiral: every cluster alike, the colours wind round the pole"),
    ("rings", "Rings: each cluster one colour, in turn"),
    ("blocks", "Blocks: each colour one stretch, from the floor up"),
]
CLUSTERS = [("3", "Three"), ("4", "Four"), ("5", "Five")]
USUAL_DIAMETER_M = 0.25
"""What a column's balloons are sized to until somebody says otherwise (common practice, no source)."""
MOST_COLOURS = 6


class _ColumnForm(SlipForm):
    height = SizeField(label="High")
    unit = forms.ChoiceField(label="Height in", choices=LENGTHS)
    balloons = forms.ChoiceField(label="Balloons in a cluster", choices=CLUSTERS, initial="4")
    pattern = forms.ChoiceField(label="Colour pattern", choices=PATTERNS, initial="spiral", widget=forms.RadioSelect)

    def __init__(self, *args: object, catalogue: Catalogue | None = None, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.catalogue = catalogue or catalogue_now()
        self.fields["unit"].initial = unit_of(self.catalogue.units)

    def check(self, measures: dict[str, Any], colours: str) -> None:
        """What the arithmetic refuses is said beside the field it is about."""
        try:
            rates = Rates(sizes=self.catalogue.sizes(DEFAULT_SIZES))
            calc_measures(measures, catalogue=self.catalogue).needs(rates)
        except ValueError as refusal:
            name = str(refusal).split(" ", 1)[0].rstrip(":")
            field = {"height_m": "height", "colours": colours, "sized_diameter_m": "sized"}.get(name)
            words = str(refusal).split(" ", 1)[1] if field else str(refusal)
            self.add_error(field if field in self.fields else None, f"This {words}." if field else words)


class RoughForm(_ColumnForm):
    """What a caller can say about columns on the phone."""

    colours = ColourNames(label="Colours, where the client named them")

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["colours"].offer(self.catalogue.colours())

    def clean_colours(self) -> list[str]:
        """In the order that was there: the first colour takes the larger share of a cluster, and boxes come sorted."""
        ticked, before = self.cleaned_data["colours"], self.initial.get("colours") or []
        return [words for words in before if words in ticked] + [words for words in ticked if words not in before]

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        if not self.errors:
            self.check(rough_json(given), "colours")
        return given


def rough_json(cleaned: dict[str, Any]) -> dict[str, Any]:
    names = ("height", "unit", "pattern", "colours")
    return {"rough": True, "balloons": int(cleaned["balloons"]), **{name: cleaned[name] for name in names}}


def rough_words(measures: dict[str, Any]) -> str:
    return f"about {figure(measures['height'])} {SHORT[measures['unit']]}, {measures['pattern']}"


class Form(_ColumnForm):
    sized = SizeField(label="Balloons sized to")

    def __init__(
        self, data: Any = None, files: Any = None, *, piece: Piece, catalogue: Catalogue, now: Any = None, **_: object
    ) -> None:
        super().__init__(data, catalogue=catalogue, initial=_initial(piece.measures, catalogue))
        inches = catalogue.units == "imperial"
        self.fields["sized"].label += ", inches" if inches else ", mm"
        choices = [(item.id, f"{item.words}, {item.nominal_in:g} in") for item in _round(catalogue)]
        for number in range(1, MOST_COLOURS + 1):
            self.fields[f"colour_{number}"] = forms.TypedChoiceField(
                label=f"Colour {number}", choices=[("", "none"), *choices], coerce=int, empty_value=None,
                required=number == 1, error_messages={"required": "Choose at least one colour."},
            )  # fmt: skip
            self.fields[f"colour_{number}"].open_end = True

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        if not self.errors:
            self.check(self._json(given), "colour_1")
        return given

    def _json(self, given: dict[str, Any]) -> dict[str, Any]:
        sized = given["sized"]
        latex = [given[f"colour_{number}"] for number in range(1, MOST_COLOURS + 1)]
        return {
            "height": given["height"],
            "unit": given["unit"],
            "balloons": int(given["balloons"]),
            "pattern": given["pattern"],
            "diameter_m": inches_to_m(sized) if self.catalogue.units == "imperial" else sized / 1000,
            "latex": [number for number in latex if number is not None],
        }

    def measured(self) -> Measured:
        return Measured(self._json(self.cleaned_data))


def _round(catalogue: Catalogue) -> list[LatexItem]:
    return [item for item in catalogue.latex if item.active and item.shape == "round"]


def _initial(measures: dict[str, Any], catalogue: Catalogue) -> dict[str, Any]:
    diameter_m = measures.get("diameter_m", USUAL_DIAMETER_M)
    sized = m_to_inches(diameter_m) if catalogue.units == "imperial" else diameter_m * 1000
    latex = [item.id for item in items_of(measures, catalogue) if item]
    colours = {f"colour_{at}": number for at, number in enumerate(latex, start=1)}
    return measures | {"balloons": str(measures.get("balloons", 4)), "sized": figure(sized)} | colours


def items_of(measures: dict[str, Any], catalogue: Catalogue) -> list[LatexItem | None]:
    """The pattern's balloons in order; None where a colour is open, or the studio has no balloon for it."""
    if "latex" in measures:
        return [catalogue.balloon(number) for number in measures["latex"]]
    names = measures.get("colours") or []
    return [catalogue.in_colour(words, USUAL_DIAMETER_M, "round") for words in names] or [None]


def calc_measures(
    measures: dict[str, Any], *, catalogue: Catalogue, count: int = 1, built_at: str = "workshop", panel: Any = None
) -> ColumnMeasures:
    """Raises ValueError naming what the arithmetic refuses."""
    items = items_of(measures, catalogue)
    sizes = {item.nominal_in for item in items if item}
    if len(sizes) > 1:
        raise ValueError("colours must all be balloons of one size")
    return ColumnMeasures(
        height_m=to_m(measures["height"], measures["unit"]),
        sized_diameter_m=measures.get("diameter_m", USUAL_DIAMETER_M),
        colours=tuple(item.id if item else None for item in items),
        balloons=measures["balloons"],
        pattern=measures["pattern"],
        nominal_in=sizes.pop() if sizes else None,
        built_at=built_at,
    )


def words(piece: Piece, catalogue: Catalogue) -> str:
    if piece.measures.get("rough"):
        return rough_words(piece.measures)
    column = calc_measures(piece.measures, catalogue=catalogue)
    height = length_words(column.built_height_m, catalogue.units)
    return f"{piece.measures['pattern']}, {height}, {column.layers} clusters of {column.balloons}"


def facts(piece: Piece, catalogue: Catalogue) -> list[tuple[str, str, str]]:
    column = calc_measures(piece.measures, catalogue=catalogue, built_at=piece.built_at)
    size = f"{column.nominal_in:g} in round, " if column.nominal_in else "round, "
    return [
        (
            "Clusters",
            f"{column.layers} of {column.balloons}",
            f"{length_words(column.built_height_m, catalogue.units)} high",
        ),
        ("Balloons", f"{column.total:,}", f"{size}sized to {diameter_words(column.sized_diameter_m, catalogue.units)}"),
    ]


def counts(piece: Piece, catalogue: Catalogue) -> list[tuple[LatexItem | None, int]]:
    amounts: dict[LatexItem | None, int] = {}
    column = calc_measures(piece.measures, catalogue=catalogue)
    for item, number in zip(items_of(piece.measures, catalogue), colour_counts(column), strict=True):
        amounts[item] = amounts.get(item, 0) + number
    return list(amounts.items())


def drawing(piece: Piece, catalogue: Catalogue) -> SafeString:
    """Seen from the front, the far balloons first, in hundredths of a balloon."""
    column = calc_measures(piece.measures, catalogue=catalogue)
    scale = 100 / column.sized_diameter_m
    radius = ring_radius_m(column.balloons, column.sized_diameter_m) * scale
    middle, top = radius + 50, column.built_height_m * scale
    colours = [item.rgb if item else NO_COLOUR for item in items_of(piece.measures, catalogue)]
    balls = sorted(placed_balloons(column), key=lambda ball: (round(math.sin(ball.angle_rad), 6), ball.layer))
    uses = "".join(
        f'<use href="#c{piece.pk}-{ball.colour}" x="{middle + radius * math.cos(ball.angle_rad):.0f}" '
        f'y="{top - ball.height_m * scale:.0f}"/>'
        for ball in balls
    )
    defs = "".join(_ball(f"c{piece.pk}-{at}", colour) for at, colour in enumerate(colours))
    title = escape(f"{piece.title}: {words(piece, catalogue)}")
    return mark_safe(
        f'<svg class="net column" viewBox="-4 -4 {2 * middle + 8:.0f} {top + 8:.0f}" role="img" aria-label="{title}">'
        f"<defs>{defs}</defs>{uses}</svg>"
    )


def _ball(name: str, rgb: str) -> str:
    return (
        f'<g id="{name}"><circle r="50" fill="{escape(rgb)}" stroke="#000" stroke-opacity=".25" stroke-width="2"/>'
        '<path d="M0 50A50 50 0 0 0 40 -30 57 57 0 0 1 -34 36 50 50 0 0 0 0 50" fill="#000" fill-opacity=".16"/>'
        '<ellipse cx="-17" cy="-22" rx="14" ry="9" transform="rotate(-38 -17 -22)" fill="#fff" fill-opacity=".55"/></g>'
    )
