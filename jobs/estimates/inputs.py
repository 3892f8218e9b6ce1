"""What an estimate is worked out from: one way for the event's estimate and for the quick answer, so that both say
the same of the same input."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, Protocol

from django.utils import timezone

from decor.calc.estimate import Conditions, EstimateInput, PieceInput, Prices, Rates, SheetCost, ToBuy
from decor.calc.work.rates import rates_from_plain
from decor.studio.models import Studio
from inventory.turnover import known_burst
from jobs.designs.catalogue import Catalogue, catalogue_now
from jobs.designs.kinds import all_kinds
from jobs.designs.models import Piece
from jobs.estimates.store import Store, store_now
from jobs.events.conditions import event_conditions
from jobs.events.models import Event

COIN = Decimal("0.01")


class PieceLike(Protocol):
    """A piece of the event, or one that is only asked about."""

    kind: str
    title: str
    count: int
    built_at: str
    fill: str
    measures: dict[str, Any]


@dataclass(frozen=True)
class AskedPiece:
    """A rough piece of a draft: nothing of it is saved."""

    kind: str
    title: str
    count: int
    built_at: str
    fill: str
    measures: dict[str, Any]


def asked_pieces(rough: Iterable[dict[str, Any]]) -> list[AskedPiece]:
    names = ("kind", "title", "count", "built_at", "fill", "measures")
    return [AskedPiece(**{name: piece[name] for name in names}) for piece in rough]


@dataclass(frozen=True)
class Background:
    """The studio's own figures and what it has, read once for as many inputs as are made."""

    studio: Studio
    catalogue: Catalogue
    store: Store
    rates: Rates
    prices: Prices
    burst: tuple[tuple[int, float], ...] = ()


def background_now(studio: Studio | None = None, catalogue: Catalogue | None = None) -> Background:
    found = studio or Studio.objects.order_by("pk").first()
    if found is None:
        raise ValueError("studio must be opened first")
    catalogue, store = catalogue or catalogue_now(found), store_now()
    rates = rates_of(found, catalogue)
    burst = known_burst(now=timezone.now(), spares_share=rates.spares_share)
    return Background(
        found, catalogue, store, rates, prices_of(found, catalogue, store), burst=tuple(sorted(burst.items()))
    )


def rates_of(studio: Studio, catalogue: Catalogue) -> Rates:
    """The starting rates with what the studio changed, its van and its own balloons' masses."""
    rates = rates_from_plain({**studio.rates, "van_room_m3": studio.van_volume_m3})
    return replace(rates, sizes=catalogue.sizes(rates.sizes))


def prices_of(studio: Studio, catalogue: Catalogue, store: Store) -> Prices:
    return Prices(
        latex_each=tuple((item.id, item.unit_cost) for item in sorted(catalogue.latex, key=lambda item: item.id)),
        latex_otherwise=_usual_cost(catalogue),
        sheets=tuple(
            SheetCost(sheet.id, sheet.unit_cost, sheet.uses)
            for sheet in sorted(catalogue.sheets, key=lambda sheet: sheet.id)
        ),
        hardware_each=store.hardware_costs(),
        cylinder=store.gas,
        wage_per_hour=studio.wage_per_hour,
        travel_per_km=studio.travel_per_km,
        overhead_fraction=studio.overhead_percent / 100,
        margin_fraction=studio.margin_percent / 100,
        tax_fraction=studio.tax_percent / 100,
        deposit_fraction=studio.deposit_percent / 100,
        currency=studio.currency,
        coin=COIN,
    )


def _usual_cost(catalogue: Catalogue) -> Decimal:
    """A balloon whose colour is open costs what the studio's balloons cost in the middle."""
    costs = sorted(item.unit_cost for item in catalogue.latex if item.active)
    return costs[len(costs) // 2] if costs else Prices.latex_otherwise


def piece_input(piece: PieceLike, catalogue: Catalogue) -> PieceInput:
    """Raises ValueError naming the piece where its kind or its measures can't be worked with."""
    kind = all_kinds().get(piece.kind)
    if kind is None:
        raise ValueError(f"{piece.title}: there is no kind of piece called {piece.kind}")
    panel = getattr(piece, "panel", None)
    try:
        measures = kind.calc_measures(
            piece.measures, catalogue=catalogue, count=piece.count, built_at=piece.built_at, panel=panel
        )
        return PieceInput(title=piece.title, measures=measures, count=piece.count, fill=piece.fill)
    except ValueError as refusal:
        raise ValueError(f"{piece.title}: {refusal}") from refusal


def estimate_input(
    *, pieces: Sequence[PieceLike], conditions: Conditions, background: Background, shortages: Sequence[ToBuy] = ()
) -> EstimateInput:
    """Raises ValueError in words for people where a piece can't be estimated as entered."""
    if not pieces:
        raise ValueError("Add a piece first: there is nothing to estimate yet.")
    made = tuple(piece_input(piece, background.catalogue) for piece in pieces)
    return EstimateInput(
        pieces=made,
        rates=background.rates,
        conditions=conditions,
        prices=background.prices,
        to_buy=tuple(shortages),
        burst=burst_of(made, background),
    )


def burst_of(pieces: Sequence[PieceInput], background: Background) -> tuple[tuple[int, float], ...]:
    """Only of balloons that the pieces take: what burst of others must not make this estimate an older one."""
    if not background.burst:
        return ()
    taken = {need.key for piece in pieces for need in piece.measures.needs(background.rates).latex}
    return tuple((key, share) for key, share in background.burst if key in taken)


def event_input(
    event: Event,
    background: Background,
    *,
    shortages: Sequence[ToBuy] = (),
    pieces: Sequence[Piece] | None = None,
) -> EstimateInput:
    """`pieces` are the event's, with their panels, if they are at hand."""
    if pieces is None:
        pieces = list(Piece.objects.filter(event=event).select_related("panel", "event__venue"))
    return estimate_input(pieces=pieces, conditions=event_conditions(event), background=background, shortages=shortages)


def colours_without_balloons(pieces: Sequence[PieceLike], given: EstimateInput, catalogue: Catalogue) -> list[str]:
    """Colours that the caller named and the studio buys in no size that serves: they are reckoned as open."""
    found: list[str] = []
    for piece, asked in zip(pieces, given.pieces, strict=True):
        items = (catalogue.balloon(need.key) for need in asked.measures.needs(given.rates).latex)
        there = {item.words for item in items if item is not None}
        found += [name for name in piece.measures.get("colours") or [] if name not in there]
    return list(dict.fromkeys(found))
