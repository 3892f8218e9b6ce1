"""What a panel comes to, beside its picture while it is chosen: of the panel as it stands, of its draft, or of a bare
size."""

from collections.abc import Mapping
from copy import copy
from dataclasses import dataclass, replace
from decimal import Decimal

from django.utils import timezone

from decor.calc.estimate import Estimate, EstimateInput, PieceInput, compute
from decor.calc.picture.chart import EMPTY
from decor.calc.pieces.panel import LOADINGS, PanelMeasures
from decor.studio.numbers import whole
from decor.studio.services import file_read
from jobs.designs.charting import cells_array, cells_bytes
from jobs.designs.kinds.panel import calc_measures
from jobs.designs.models import Panel, PanelDraft, Piece
from jobs.designs.pictures.making import made
from jobs.designs.pictures.recipe import Recipe
from jobs.designs.taken import taken_beside
from jobs.estimates.inputs import Background, burst_of
from jobs.estimates.needs import needs_of_input, shortages_of, stock_lines
from jobs.events.conditions import event_conditions
from jobs.events.shelf import event_stock_span


@dataclass(frozen=True)
class Figures:
    """One panel as if it were the event's only piece, alike ones together. `colours` is None while none is chosen,
    `changes_a_row` the changes of colour along a row on the average."""

    estimate: Estimate
    measures: PanelMeasures
    count: int
    sheets: int
    joins: int
    short: int
    beside: bool
    colours: int | None
    changes_a_row: float | None
    currency: str

    @property
    def balloons(self) -> int:
        return sum(line.needed for line in self.estimate.latex)

    @property
    def mixed(self) -> int | None:
        return self.measures.mixed_pairs

    @property
    def mixed_percent(self) -> int:
        return round(200 * (self.mixed or 0) / self.measures.cells)

    @property
    def changes(self) -> int | None:
        """Along the strings."""
        return self.measures.colour_changes

    @property
    def cost_from(self) -> Decimal:
        return sum((line.low for line in self.estimate.costs), Decimal(0))

    @property
    def cost_to(self) -> Decimal:
        return sum((line.high for line in self.estimate.costs), Decimal(0))


def figures_of(piece: Piece, panel: Panel | None, background: Background) -> Figures:
    """Raises ValueError with the reason in words where it cannot be made so."""
    return figures_beside(piece, panel, background, others_of(piece, background))


def others_of(piece: Piece, background: Background) -> dict[int, int]:
    """What the event's other pieces take of each balloon."""
    return taken_beside(piece, background.catalogue, background.studio, dict(background.burst))


def figures_beside(piece: Piece, panel: Panel | None, background: Background, others: Mapping[int, int]) -> Figures:
    measures = calc_measures(
        piece.measures, catalogue=background.catalogue, count=piece.count, built_at=piece.built_at, panel=panel
    )
    given, short = input_of(piece, measures, background, others)
    estimate = compute(given)
    needs = measures.needs(background.rates)
    return Figures(
        estimate=estimate,
        measures=measures,
        count=piece.count,
        sheets=sum(line.quantity for line in estimate.sheets),
        joins=needs.joins.edges * piece.count,
        short=short,
        beside=bool(others),
        colours=len(measures.counts) if panel and panel.cells else None,
        changes_a_row=changes_a_row(panel) if panel and panel.cells else None,
        currency=background.prices.currency,
    )


def input_of(
    piece: Piece, measures: PanelMeasures, background: Background, others: Mapping[int, int]
) -> tuple[EstimateInput, int]:
    """This piece alone, on its event's day; and how many balloons of it are short there, once the event's other pieces
    have taken theirs."""
    one = PieceInput(title=piece.title, measures=measures, count=piece.count, fill=piece.fill)
    bare = EstimateInput(
        pieces=(one,),
        rates=background.rates,
        conditions=event_conditions(piece.event),
        prices=background.prices,
        burst=burst_of([one], background),
    )
    span = event_stock_span(piece.event, background.studio.turn_round_hours)
    needs = needs_of_input(bare, background.catalogue, background.store)
    lines = stock_lines(needs, span, now=timezone.now(), exclude=piece.event.reservation, spoken_for=others)
    short = sum(line.short for line in lines if line.need.what == "latex")
    return replace(bare, to_buy=shortages_of(lines)), short


def changes_a_row(panel: Panel) -> float:
    """Changes of colour along a row, on the average of the rows that hold balloons."""
    cells = cells_array(panel)
    both = (cells[:, 1:] != EMPTY) & (cells[:, :-1] != EMPTY)
    rows = int((cells != EMPTY).any(axis=1).sum())
    return float(((cells[:, 1:] != cells[:, :-1]) & both).sum()) / max(1, rows)


def draft_panel(piece: Piece, draft: PanelDraft, background: Background) -> Panel:
    """The panel that the draft would make, not kept. Raises MakingRefused or PictureRefused, both ValueErrors."""
    picture = file_read(file=draft.picture) if draft.picture else None
    found = made(Recipe.from_plain(draft.recipe), picture, catalogue=background.catalogue, piece=piece)
    # On a copy of the piece: the panel would take the place of its own.
    return Panel(
        piece=copy(piece),
        sheet_id=found.recipe.sheet,
        rows=found.chart.lattice.rows,
        columns=found.chart.lattice.columns,
        loading=found.recipe.loading,
        palette=list(found.palette),
        cells=cells_bytes(found.chart),
    )


def figures_of_size(piece: Piece, asked: Mapping[str, str], background: Background) -> Figures:
    """Of a bare size: `rows`, `columns`, `sheet` and `loading`, what is missing as the piece has it. Its colours
    share the cells evenly. Raises ValueError with the reason in words."""
    panel: Panel | None = getattr(piece, "panel", None)
    sheet = background.catalogue.sheet(whole(asked.get("sheet", ""), otherwise=panel.sheet_id if panel else 0))
    if sheet is None:
        raise ValueError("Choose a sheet type first.")
    rows = whole(asked.get("rows", ""), otherwise=panel.rows if panel else 0)
    columns = whole(asked.get("columns", ""), otherwise=panel.columns if panel else 0)
    if not rows or not columns:
        raise ValueError("Say how wide and how high it is first.")
    sheet.lattice_of(rows, columns)
    way = asked.get("loading", panel.loading if panel else "paired")
    if way not in LOADINGS:
        raise ValueError("Choose a way to load first.")
    size = {"width": float(columns), "height": float(rows), "unit": "cells", "loading": way}
    # A copy without its panel, as a bare size has no chart; and with one sheet type there is no other to choose.
    bare = Piece(kind=piece.kind, title=piece.title, count=piece.count, built_at=piece.built_at, fill=piece.fill)
    bare.event, bare.measures = piece.event, size | {"colours": _colours(piece, panel, background)}
    only = replace(background.catalogue, sheets=(replace(sheet, active=True),))
    others = others_of(piece, background)
    return figures_beside(bare, None, replace(background, catalogue=only), others)


def _colours(piece: Piece, panel: Panel | None, background: Background) -> list[str]:
    if panel is None:
        return list(piece.measures.get("colours") or [])
    items = (background.catalogue.balloon(number) for number in panel.palette)
    return list(dict.fromkeys(item.words for item in items if item))
