"""What the colours page shows of a chart: the picture, how near it comes, what it takes."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.safestring import SafeString, mark_safe

from decor.calc.picture.chart import Chart
from decor.calc.pieces.panel import LOADINGS
from jobs.designs.catalogue import Catalogue, LatexItem
from jobs.designs.charting import flat_svg, hexes
from jobs.designs.models import Piece
from jobs.designs.page import Swatch
from jobs.designs.pictures.buying import Bought
from jobs.designs.pictures.making import Made
from jobs.designs.pictures.spares import Spares

NEARNESS = [
    (3.0, "Very close to the picture"),
    (6.0, "Close to the picture"),
    (9.0, "Fairly close to the picture"),
    (13.0, "The picture, simplified"),
    (float("inf"), "Far from the picture"),
]
"""Mean CIEDE2000 and how it is said; from looking at charts of open pictures, no source."""
PLAINLY = 1.0
"""A focus that is nearer or farther than the whole by this much is spoken of (common practice, no source)."""
KIND_WORDS = {"flat": "flat art", "photograph": "a photograph", "words": "words", "pattern": "a pattern"}
STRENGTH_WORDS = [(0.0, "none"), (0.6, "some"), (0.9, "much"), (float("inf"), "full")]


@dataclass(frozen=True)
class Look:
    picture: SafeString
    verdict: str
    rows: list[tuple[str, str, str]]
    swatches: list[Swatch]
    warnings: tuple[str, ...]
    measures: dict[str, Any]
    beside: bool

    @property
    def short(self) -> int:
        return sum(swatch.short for swatch in self.swatches)


def look_of(made: Made, form: Any, catalogue: Catalogue, piece: Piece) -> Look:
    items = [catalogue.balloon(number) for number in made.palette]
    lattice = made.chart.lattice
    return Look(
        picture=picture_svg(made.chart, items, f"{piece.title} in these colours"),
        verdict=verdict_words(made),
        rows=_rows(made, form),
        swatches=_swatches(made, items, form.free, piece, Spares.now(catalogue.making.spares_share)),
        warnings=made.warnings,
        measures={
            "rows": lattice.rows,
            "columns": lattice.columns,
            "step": lattice.row_pitch_m / lattice.pitch_m,
            "shift": 0.5 if lattice.staggered else 0,
        },
        beside=form.beside,
    )


def picture_svg(chart: Chart, items: list[LatexItem | None], title: str) -> SafeString:
    return mark_safe(flat_svg(chart, hexes(items), title=title))


def verdict_words(made: Made) -> str:
    near = next(words for most, words in NEARNESS if made.mean_de < most)
    if made.focus_de is None:
        return near
    if made.focus_de > made.mean_de + PLAINLY:
        return f"{near}, a little flatter where it counts"
    if made.focus_de < made.mean_de - PLAINLY:
        return f"{near}, closest where it counts"
    return near


def gap_words(gap: float | None) -> str:
    if gap is None:
        return ""
    if gap < 0.0005:
        return "the best choice possible"
    return f"within {gap * 100:.1f} % of the best possible"


def _rows(made: Made, form: Any) -> list[tuple[str, str, str]]:
    used = sum(1 for count in made.chart.counts().values() if count)
    offered = len({*made.recipe.palette, *made.recipe.must, *made.palette})
    rows = [("Colours", f"{used} of {offered}", gap_words(made.gap))]
    where = "" if made.focus_de is None else f", {made.focus_de:.1f} where it counts"
    rows.append(
        ("Difference", f"{made.mean_de:.1f} on average{where}", "in colour from the picture; 1 can just be seen")
    )
    if made.recipe.source == "picture":
        told = "told by the program" if made.recipe.kind == "auto" else "as you said"
        rows.append(("Taken for", KIND_WORDS[made.kind], told))
        mixed = next(words for most, words in STRENGTH_WORDS if made.strength <= most)
        rows.append(("Shades", mixed, _shade_price(made)))
    else:
        rows.append(("Changes", f"{made.changes:,}", "of colour along the rows"))
    if made.kept:
        rows.append(("Stays", f"{made.kept:,} {'cell' if made.kept == 1 else 'cells'}", "painted by hand or locked"))
    return rows


def _shade_price(made: Made) -> str:
    price = f"{made.changes:,} changes of colour along the rows"
    more = made.changes - made.plain_changes
    return f"{price}, {more:,} more than without" if made.strength and more > 0 else price


def _swatches(
    made: Made, items: list[LatexItem | None], free: dict[int, int], piece: Piece, spares: Spares
) -> list[Swatch]:
    """What is short is so with the spares, as on the piece's own page and in the estimate."""
    each = LOADINGS[made.recipe.loading].balloons * piece.count
    counts = made.chart.counts()
    return [
        Swatch(item.words, item.rgb, "", n, needed := spares.with_them(item.id, n), free.get(item.id), needed)
        for at, item in enumerate(items)
        if item and (n := counts[at] * each)
    ]


@dataclass(frozen=True)
class ToBuy:
    words: str
    rgb: str
    balloons: int
    packs: int
    cost: Decimal
    lead_days: int


@dataclass(frozen=True)
class BuyLook:
    picture: SafeString
    free_picture: SafeString
    mean_de: float
    free_mean_de: float
    least: list[ToBuy]
    all: list[ToBuy]

    @property
    def least_cost(self) -> Decimal:
        return sum((one.cost for one in self.least), Decimal(0))

    @property
    def same(self) -> bool:
        return self.least == self.all

    @property
    def all_cost(self) -> Decimal:
        return sum((one.cost for one in self.all), Decimal(0))


def buy_look(done: Bought, catalogue: Catalogue, piece: Piece) -> BuyLook:
    items: list[LatexItem | None] = list(done.items)
    return BuyLook(
        picture=picture_svg(done.chart, items, f"{piece.title} with the least bought"),
        free_picture=picture_svg(done.free_chart, items, f"{piece.title} with every colour at hand"),
        mean_de=done.mean_de,
        free_mean_de=done.free_mean_de,
        least=_packs(done.items, done.buy),
        all=_packs(done.items, done.shortfall),
    )


def _packs(items: tuple[LatexItem, ...], balloons: Any) -> list[ToBuy]:
    rows = []
    for item, number in zip(items, balloons.tolist(), strict=True):
        if number:
            packs = -(-number // item.pack_size)
            rows.append(ToBuy(item.words, item.rgb, number, packs, packs * item.pack_price, item.lead_days))
    return rows
