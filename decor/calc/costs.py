"""What the job costs the studio, what each piece bears of it, and the two prices."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from decor.calc.figures import HardwareLine, LatexLine, SheetLine, percent, spoken_minutes
from decor.calc.pieces.needs import PieceNeeds
from decor.calc.work.conditions import Conditions
from decor.calc.work.labour import Spread
from decor.calc.work.price import CostLine, Prices, ToBuy, to_coin

ZERO = Decimal(0)


@dataclass(frozen=True)
class Materials:
    """The lines that are paid for."""

    latex: tuple[LatexLine, ...]
    sheets: tuple[SheetLine, ...]
    hardware: tuple[HardwareLine, ...]
    helium_m3: float
    cylinders: int
    cylinder_gives_m3: float


def decimal_of(number: float) -> Decimal:
    """A measured figure for reckoning with money: to a millionth, so that it is the same on every machine."""
    return Decimal(f"{number:.6f}")


def latex_each(key: int | None, prices: Prices) -> Decimal:
    """The cost of one balloon."""
    return dict(prices.latex_each).get(key, prices.latex_otherwise) if key is not None else prices.latex_otherwise


def sheet_each(key: int | None, prices: Prices) -> Decimal:
    """The cost of one use of a sheet."""
    return {sheet.key: sheet.share for sheet in prices.sheets}.get(key, prices.sheet_otherwise)


def hardware_each(name: str, prices: Prices) -> Decimal:
    """The cost of one use of a thing."""
    return dict(prices.hardware_each).get(name, ZERO)


RENT_AROUND_DAYS = 2.0
"""A rented cylinder is fetched the day before the load-in and brought back the day after the end (common practice, no
source)."""


def rent_weeks(conditions: Conditions) -> int:
    """Weeks that a rented cylinder is away; a week that is begun is paid.

    >>> rent_weeks(Conditions(load_in_to_doors_min=240, doors_to_end_hours=6))
    1
    >>> [rent_weeks(Conditions(load_in_to_doors_min=0, doors_to_end_hours=24 * days)) for days in (5, 5.1, 12.1)]
    [1, 2, 3]
    """
    days = RENT_AROUND_DAYS + (conditions.load_in_to_doors_min or 0.0) / 1440 + conditions.doors_to_end_hours / 24
    return math.ceil(days / 7 - 1e-9)


def cost_lines(
    stuff: Materials, work: Spread, km: float, to_buy: Sequence[ToBuy], prices: Prices, *, weeks: int = 1
) -> tuple[CostLine, ...]:
    """Every cost, `low` with middle hours and stock in hand, `high` with the 80 % hours and all that is bought.

    Helium is charged by the cubic metre in `low` and by whole cylinders in `high`; the rent of the cylinders, for
    `weeks`, by whole ones in both, for each is away whatever is left in it. What is bought is charged by
    whole packs, less what those balloons or sheets cost already as stock, and never below 0.
    """
    latex = sum((line.quantity * latex_each(line.key, prices) for line in stuff.latex), ZERO)
    sheets = sum((line.quantity * sheet_each(line.key, prices) for line in stuff.sheets), ZERO)
    hardware = sum((line.quantity * hardware_each(line.name, prices) for line in stuff.hardware), ZERO)
    travel = decimal_of(km) * prices.travel_per_km
    gas_low, gas_high = _gas(stuff, prices)
    wage_low, wage_high = (decimal_of(minutes) / 60 * prices.wage_per_hour for minutes in (work.middle, work.p80))
    rent = stuff.cylinders * weeks * prices.cylinder.rent_per_week
    lines = [
        CostLine("latex", "Balloons", latex, latex, f"{sum(line.quantity for line in stuff.latex):,}, spares included"),
        CostLine("sheets", "Sheets", sheets, sheets, f"{sum(line.quantity for line in stuff.sheets):,}, one use each"),
        CostLine("hardware", "Poles, bases", hardware, hardware, "one use each"),
        CostLine("gas", "Helium", gas_low, gas_high, f"{stuff.helium_m3:.2f} m³; whole cylinders in the upper figure"),
        CostLine("rent", "Cylinder rent", rent, rent, _rent_says(stuff.cylinders, weeks, prices)),
        CostLine("labour", "Work", wage_low, wage_high, _work_says(work, prices)),
        CostLine("travel", "Travel", travel, travel, f"{km:,.0f} km"),
        CostLine("buy", "To buy", ZERO, _bought(to_buy, prices), _buy_says(to_buy, prices)),
    ]
    kept = [_rounded(line, prices) for line in lines if line.high > 0]
    overhead_low = prices.overhead_fraction * sum((line.low for line in kept), ZERO)
    overhead_high = prices.overhead_fraction * sum((line.high for line in kept), ZERO)
    says = f"{percent(prices.overhead_fraction)} of all the above"
    return (*kept, _rounded(CostLine("overhead", "Overhead", overhead_low, overhead_high, says), prices))


def _rounded(line: CostLine, prices: Prices) -> CostLine:
    return replace(line, low=to_coin(line.low, prices.coin), high=to_coin(line.high, prices.coin))


def _work_says(work: Spread, prices: Prices) -> str:
    hours = f"{spoken_minutes(work.middle)}, and four jobs in five under {spoken_minutes(work.p80)}"
    return f"{hours}, at {to_coin(prices.wage_per_hour, prices.coin)} an hour"


def _rent_says(cylinders: int, weeks: int, prices: Prices) -> str:
    many = "1 cylinder" if cylinders == 1 else f"{cylinders:,} cylinders"
    long = "1 week" if weeks == 1 else f"{weeks:,} weeks"
    return f"{many} for {long}, at {to_coin(prices.cylinder.rent_per_week, prices.coin)} a week"


def _gas(stuff: Materials, prices: Prices) -> tuple[Decimal, Decimal]:
    if stuff.helium_m3 == 0.0:
        return ZERO, ZERO
    share = decimal_of(stuff.helium_m3 / stuff.cylinder_gives_m3)
    return share * prices.cylinder.price, max(share, Decimal(stuff.cylinders)) * prices.cylinder.price


def _bought(to_buy: Sequence[ToBuy], prices: Prices) -> Decimal:
    return sum((max(ZERO, item.packs * item.pack_price - _in_stock_cost(item, prices)) for item in to_buy), ZERO)


def _in_stock_cost(item: ToBuy, prices: Prices) -> Decimal:
    """What the materials' lines charge already for the quantity that is short."""
    if item.what == "latex":
        return item.quantity * latex_each(item.key, prices)
    if item.what == "sheet":
        return item.quantity * sheet_each(item.key, prices)
    return item.quantity * hardware_each(item.label, prices)


def _buy_says(to_buy: Sequence[ToBuy], prices: Prices) -> str:
    return "; ".join(_pack_says(item, prices) for item in to_buy)


def _pack_says(item: ToBuy, prices: Prices) -> str:
    """What is bought and what it comes to, so that the line can be reckoned again by hand."""
    packs = "1 pack" if item.packs == 1 else f"{item.packs:,} packs"
    goods = f"{packs} of {item.pack_size:,}" if item.pack_size > 1 else f"{item.packs:,} ×"
    pays, counted_above = item.packs * item.pack_price, to_coin(_in_stock_cost(item, prices), prices.coin)
    less = f", less {counted_above} that stands above" if counted_above else ""
    return f"{goods} {item.label}".rstrip() + f", {to_coin(pays, prices.coin)}{less}"


def piece_weight(
    needs: PieceNeeds,
    spares_of: Callable[[int | None], float],
    helium_share: float,
    minutes: float,
    gas_low: Decimal,
    prices: Prices,
) -> Decimal:
    """What a piece bears of the price, relative to the others: its own materials, helium and middle hours. `spares_of`
    gives a stock number's share of spares."""
    latex = ZERO
    for need in needs.latex:
        latex += need.quantity * latex_each(need.key, prices) * (1 + decimal_of(spares_of(need.key)))
    sheets = sum((need.quantity * sheet_each(need.key, prices) for need in needs.sheets), ZERO)
    hardware = sum((need.quantity * hardware_each(need.name, prices) for need in needs.hardware), ZERO)
    wage = decimal_of(minutes) / 60 * prices.wage_per_hour
    return latex + sheets + hardware + wage + decimal_of(helium_share) * gas_low
