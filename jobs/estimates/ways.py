"""The ways to load, side by side for one picture: what each takes, how long, how stiff, at what cost, and whether there
are balloons for it."""

from collections.abc import Mapping
from copy import copy
from dataclasses import dataclass

from decor.calc.picture.chart import EMPTY
from decor.calc.pieces.panel import LOADINGS
from decor.calc.work.labour import INFLATE, LOAD, OPEN, TASK_KINDS
from decor.calc.work.rates import Rates
from jobs.designs.charting import CELLS_AS
from jobs.designs.models import Panel, Piece
from jobs.designs.reloading import swapped
from jobs.estimates.inputs import Background
from jobs.estimates.panel_figures import Figures, figures_beside, others_of

SAYS = {
    "paired": "Two tied balloons in two neighbouring cells. One face.",
    "two-sided": "Two balloons pushed half-way through each cell. Both faces; the back is mirrored.",
    "sandwich": "Pairs stood upright between two sheets, hollow inside for poles and lines. Both faces.",
    "strung": "Balloons tied end to end in the order of the rows. One face, the quickest to load.",
}


@dataclass(frozen=True)
class Hands:
    """Person-minutes of opening, tying and loading, by who does it."""

    new: float
    practised: float
    fastest: float


@dataclass(frozen=True)
class Way:
    """One way for this panel; without `figures` it cannot be had at all, and `refusal` says why. `missing` are
    colours that the studio buys in no such balloon."""

    key: str
    name: str
    says: str
    current: bool
    stiffness: float
    figures: Figures | None = None
    hands: Hands | None = None
    shape: str = ""
    size_in: float = 0.0
    missing: tuple[str, ...] = ()
    refusal: str = ""

    @property
    def can_be_chosen(self) -> bool:
        return self.figures is not None and not self.missing

    @property
    def pattern_words(self) -> str:
        """Mixed pairs or changes of colour, whichever it has."""
        if self.figures is None:
            return ""
        if self.key == "paired":
            between = self.figures.measures.pairs_between_rows or 0
            return f"{self.figures.mixed or 0:,} mixed, {between:,} between rows"
        if self.key == "strung":
            return f"{self.figures.changes or 0:,} changes of colour along the strings"
        return "all of one colour"


def ways_of(piece: Piece, panel: Panel, background: Background) -> list[Way]:
    others = others_of(piece, background)
    return [_way(key, name, piece, panel, background, others) for key, name in Panel.Loading.choices]


def _way(key: str, name: str, piece: Piece, panel: Panel, background: Background, others: Mapping[int, int]) -> Way:
    loading = LOADINGS[key]  # type: ignore[index]
    bare = Way(
        key=key,
        name=name,
        says=SAYS[key],
        current=panel.loading == key,
        stiffness=stiffness_of(key, background.rates),
        shape=loading.shape,
    )
    try:
        other, missing = like(panel, key, background)
        figures = figures_beside(piece, other, background, others)
    except ValueError as refusal:
        return Way(**(vars(bare) | {"refusal": str(refusal)}))
    found = {
        "figures": figures,
        "hands": hands_of(figures, background.rates),
        "size_in": figures.estimate.latex[0].nominal_in,
        "missing": missing,
    }
    return Way(**(vars(bare) | found))


def like(panel: Panel, way: str, background: Background) -> tuple[Panel, tuple[str, ...]]:
    """The panel as it would be loaded so, not kept; and the colours that have no balloons for it."""
    new = swapped(panel, way, background.catalogue)
    other = copy(panel)
    other.loading, other.palette = way, list(new.palette)
    other.cells = new.cells.astype(CELLS_AS).tobytes()
    if not (new.cells != EMPTY).any():
        raise ValueError("The chart has no balloons yet.")
    return other, new.missing


def stiffness_of(way: str, rates: Rates) -> float:
    """Against a single layer."""
    return {"two-sided": rates.stiffness_two_sided, "sandwich": rates.stiffness_sandwich}.get(way, 1.0)


def hands_of(figures: Figures, rates: Rates) -> Hands:
    minutes = sum(
        line.minutes_middle for line in figures.estimate.tasks if TASK_KINDS[line.kind].stage in (OPEN, INFLATE, LOAD)
    )
    return Hands(minutes * rates.new_hands_factor, minutes, minutes * rates.fastest_hands_factor)
