"""Pieces measured, and their materials in lines: balloons with spares, sheets, joins, hardware, air and helium."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from decor.calc.figures import (
    GasFigures,
    HardwareLine,
    JoinLine,
    LatexLine,
    PieceFigures,
    SheetLine,
    counted,
    percent,
    spoken_minutes,
)
from decor.calc.inputs import EstimateInput, PieceInput
from decor.calc.physics.atmosphere import Air
from decor.calc.physics.balloons import volume_m3
from decor.calc.pieces.needs import PieceNeeds, Shape
from decor.calc.units import ZERO_CELSIUS_K
from decor.calc.work.labour import task_minutes
from decor.calc.work.rates import Rates


@dataclass(frozen=True)
class Measured:
    """A piece with the needs of all its alike ones, of one, and the balloons' volume at the venue [m³]."""

    given: PieceInput
    one: PieceNeeds
    all: PieceNeeds
    volume_m3: float

    @property
    def title(self) -> str:
        """The title, with the number of alike pieces where there are several."""
        return f"{self.given.title} × {self.given.count}" if self.given.count > 1 else self.given.title


def measured(piece: PieceInput, rates: Rates) -> Measured:
    """A piece with what it needs. Raises ValueError naming the piece and the argument where it cannot be made."""
    try:
        one = piece.measures.needs(rates)
    except ValueError as error:
        raise ValueError(f"{piece.title}: {error}") from error
    each = sum(need.quantity * volume_m3(need.sized_diameter_m, need.elongation) for need in one.latex)
    return Measured(piece, one, one.times(piece.count), each * piece.count)


def gas_figures(pieces: Sequence[Measured], air: Air, given: EstimateInput) -> GasFigures:
    """Air and helium. The skin presses helium a little above the air round it, so that more free gas goes in."""
    rates = given.rates
    air_m3 = sum(piece.volume_m3 for piece in pieces if piece.given.fill == "air")
    helium_volume_m3 = sum(piece.volume_m3 for piece in pieces if piece.given.fill == "helium")
    pressed = 1.0 + rates.balloon_overpressure_pa / air.pressure_pa
    helium_m3 = helium_volume_m3 * pressed * (1.0 + rates.helium_loss_share)
    gives_m3 = given.prices.cylinder.free_gas_m3(air.pressure_pa, air.temperature_k) if helium_m3 else 0.0
    if helium_m3 and gives_m3 <= 0.0:
        raise ValueError("cylinder gives no helium above its residual pressure")
    cylinders = math.ceil(helium_m3 / gives_m3 - 1e-9) if helium_m3 else 0
    fill_min = air_m3 / rates.nozzle_flow_m3_per_min
    says = [f"{air_m3:.2f} m³ of air, {spoken_minutes(fill_min)} of one nozzle"] if air_m3 else []
    if helium_m3:
        says.append(
            f"{helium_volume_m3:.2f} m³ in balloons, {percent(pressed - 1.0)} more as the skin presses it and "
            f"{percent(rates.helium_loss_share)} lost, at "
            f"{air.pressure_pa / 100:.0f} hPa and {air.temperature_k - ZERO_CELSIUS_K:.0f} °C; "
            f"a cylinder gives {gives_m3:.2f} m³ there"
        )
    return GasFigures(air_m3, fill_min, helium_m3, cylinders, gives_m3, 0.0, "; ".join(says))


def latex_lines(
    pieces: Sequence[Measured], rates: Rates, burst: Mapping[int, float] | None = None
) -> tuple[LatexLine, ...]:
    """Lines by stock number, size, shape and sized diameter; spares are rounded up on each. `burst` is {stock number:
    share of those used that burst}, of what the studio knows."""
    needed: dict[tuple[int | None, float, Shape, float], int] = {}
    says: dict[tuple[int | None, float, Shape, float], list[str]] = {}
    for piece in pieces:
        for one, need in zip(piece.one.latex, piece.all.latex, strict=True):
            key = (need.key, need.nominal_in, need.shape, need.sized_diameter_m)
            needed[key] = needed.get(key, 0) + need.quantity
            says.setdefault(key, []).append(f"{piece.title}: {one.says}")
    return tuple(_latex_line(key, needed[key], says[key], rates, burst or {}) for key in needed)


def _latex_line(
    key: tuple[int | None, float, Shape, float],
    needed: int,
    says: Sequence[str],
    rates: Rates,
    burst: Mapping[int, float],
) -> LatexLine:
    stock_key, nominal_in, shape, sized_m = key
    own = burst.get(stock_key) if stock_key is not None else None
    spares, why = spares_and_why(needed, rates.spares_share, own)
    return LatexLine(
        key=stock_key,
        nominal_in=nominal_in,
        shape=shape,
        sized_diameter_m=sized_m,
        needed=needed,
        spares=spares,
        quantity=needed + spares,
        says=f"{'; '.join(says)}; and {why}",
    )


def spares_and_why(needed: int, share: float, burst: float | None) -> tuple[int, str]:
    """How many spares, and in words where that comes from: from what burst, where enough is known, else the studio's
    usual share.

    >>> spares_and_why(400, 0.04, None)
    (16, '4 % spares')
    >>> spares_and_why(400, 0.04, 0.02)
    (11, '11 spares, from what burst: 2 of 100, and four jobs in five need no more')
    """
    if burst is None:
        return spares_for(needed, share), f"{percent(share)} spares"
    spares = spares_for_burst(needed, burst)
    told = f"{burst * 100:.1f}".removesuffix(".0")
    what = "1 spare" if spares == 1 else f"{spares:,} spares"
    return spares, f"{what}, from what burst: {told} of 100, and four jobs in five need no more"


def spares_for(needed: int, share: float) -> int:
    """Spare balloons: a share of those needed, rounded up; a hair above a whole number is rounding, not a balloon.

    >>> spares_for(100, 0.07), spares_for(101, 0.07)
    (7, 8)
    """
    return math.ceil(needed * share - 1e-9)


EXACT_UP_TO = 4000
"""Above so many balloons the first term of the sum below may be too small for a float."""
P80 = 0.8
P80_Z = 0.8416212335729143
"""Where four fifths of a normal distribution lie below (its quantile function at 0.8)."""


def spares_for_burst(needed: int, burst: float) -> int:
    """The fewest spares with which four jobs in five reach `needed` whole balloons, where `burst` of those tried do
    not hold, each by itself: the 80 % quantile of a negative binomial distribution, summed term by term, and for very
    many balloons taken from the normal distribution with the same mean and variance.

    >>> spares_for_burst(100, 0.02), spares_for_burst(0, 0.5), spares_for_burst(100, 0.0)
    (3, 0, 0)
    """
    if not 0.0 <= burst < 1.0:
        raise ValueError("burst must be from 0 up to, not including, 1")
    if needed < 1 or burst == 0.0:
        return 0
    mean = needed * burst / (1.0 - burst)
    first = needed * math.log1p(-burst)
    if needed > EXACT_UP_TO or first < -700.0:
        return math.ceil(mean + P80_Z * math.sqrt(mean / (1.0 - burst)) - 0.5)
    term = below = math.exp(first)
    spares = 0
    while below < P80:
        spares += 1
        term *= burst * (needed + spares - 1) / spares
        below += term
    return spares


def spare_share_of(key: int | None, share: float, burst: Mapping[int, float]) -> float:
    """Spares for one balloon needed, in the middle case: the studio's share, or what its own bursts make of it."""
    own = burst.get(key) if key is not None else None
    return share if own is None else own / (1.0 - own)


def latex_says(lines: Sequence[LatexLine], rates: Rates, burst: Mapping[int, float] | None = None) -> str:
    """All balloons in one sentence."""
    needed, spares = sum(line.needed for line in lines), sum(line.spares for line in lines)
    head = f"{counted(needed, 'balloon', 'balloons')} and {spares:,} spare: "
    known = sum(1 for line in lines if line.key is not None and line.key in (burst or {}))
    usual = f"{percent(rates.spares_share)} of each size and colour, rounded up"
    if not known:
        return head + usual
    if known == len(lines):
        return head + "from what burst of each size and colour before"
    return head + f"from what burst before where that is known, else {usual}"


def sheet_lines(pieces: Sequence[Measured]) -> tuple[SheetLine, ...]:
    """Whole sheets by type."""
    quantity: Counter[int | None] = Counter()
    says: dict[int | None, list[str]] = {}
    for piece in pieces:
        for need in piece.all.sheets:
            quantity[need.key] += need.quantity
            says.setdefault(need.key, []).append(f"{piece.title}: {need.quantity:,}")
    return tuple(SheetLine(key, quantity[key], "; ".join(says[key])) for key in quantity)


def hardware_lines(pieces: Sequence[Measured]) -> tuple[HardwareLine, ...]:
    """Returnable things by name."""
    quantity: Counter[str] = Counter()
    says: dict[str, list[str]] = {}
    for piece in pieces:
        for need in piece.all.hardware:
            quantity[need.name] += need.quantity
            says.setdefault(need.name, []).append(f"{piece.title}: {need.quantity:,}")
    return tuple(HardwareLine(name, quantity[name], "; ".join(says[name])) for name in quantity)


def join_line(pieces: Sequence[Measured]) -> JoinLine:
    """All joins together."""
    edges = sum(piece.all.joins.edges for piece in pieces)
    tabs = sum(piece.all.joins.tabs for piece in pieces)
    return JoinLine(edges, tabs, f"{counted(edges, 'join', 'joins')} of {counted(tabs, 'tab', 'tabs')}")


def piece_figures(piece: Measured, rates: Rates) -> PieceFigures:
    """One line of the event."""
    return PieceFigures(
        title=piece.given.title,
        count=piece.given.count,
        fill=piece.given.fill,
        built_at=piece.given.built_at,
        width_m=piece.one.width_m,
        height_m=piece.one.height_m,
        depth_m=piece.one.depth_m,
        weight_kg=piece.one.weight_kg,
        balloons=piece.all.balloons,
        sections=piece.one.sections,
        hang_points=piece.one.hang_points,
        person_minutes=own_minutes(piece, rates),
        says=piece.one.says,
    )


def own_minutes(piece: Measured, rates: Rates) -> float:
    """Middle person-minutes of a piece's own tasks, without set-up and shared work."""
    return sum(task_minutes(task, rates) for task in piece.all.tasks)


def weight_says(pieces: Sequence[Measured]) -> str:
    """Each piece's weight, and on how many points it hangs."""
    return "; ".join(
        f"{piece.title}: {piece.one.weight_kg:.1f} kg"
        + (" each" if piece.given.count > 1 else "")
        + (
            f" on {piece.one.hang_points} points, {piece.one.weight_kg / piece.one.hang_points:.2f} kg on each"
            if piece.one.hang_points
            else ""
        )
        for piece in pieces
    )
