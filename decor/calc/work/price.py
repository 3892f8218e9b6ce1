"""Money: what a job costs, what it is priced at, and how the price falls on its lines.

Rounding, once and for all, always to the currency's smallest coin and half up: each cost line is rounded, and the
job's cost is their sum; the price before tax is rounded once, and its lines are cut from that figure so that they
add to it exactly; tax is reckoned on the whole price rather than line by line; so lines + tax = total, always.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Literal

from decor.calc.physics.gas import cylinder_free_gas_m3

Bought = Literal["latex", "sheet", "hardware"]


@dataclass(frozen=True)
class SheetCost:
    """What a sheet type costs, and for how many uses it stands; each use bears its share."""

    key: int | None
    price: Decimal
    uses: int = 1

    def __post_init__(self) -> None:
        _at_least_zero("price", self.price)
        if self.uses < 1:
            raise ValueError("uses must be 1 or more")

    @property
    def share(self) -> Decimal:
        """The cost of one use."""
        return self.price / self.uses


@dataclass(frozen=True)
class Cylinder:
    """The helium cylinder that the studio buys or hires, as filled: by default 50 litres at 200 bar (gauge), 15 °C.
    `price` is that of a filling; `rent_per_week` that of the cylinder, 0 for one of the studio's own."""

    water_volume_m3: float = 0.05
    gauge_pressure_pa: float = 200e5
    temperature_k: float = 288.15
    residual_gauge_pa: float = 5e5
    price: Decimal = Decimal("0")
    rent_per_week: Decimal = Decimal("0")

    def __post_init__(self) -> None:
        _at_least_zero("price", self.price)
        _at_least_zero("rent_per_week", self.rent_per_week)
        self.free_gas_m3(101_325.0, 288.15)

    def free_gas_m3(self, pressure_pa: float, temperature_k: float) -> float:
        """What it gives at the venue's pressure and temperature [m³]."""
        return cylinder_free_gas_m3(
            water_volume_m3=self.water_volume_m3,
            gauge_pressure_pa=self.gauge_pressure_pa,
            temperature_k=self.temperature_k,
            residual_gauge_pa=self.residual_gauge_pa,
            delivered_pressure_pa=pressure_pa,
            delivered_temperature_k=temperature_k,
        )


@dataclass(frozen=True)
class Prices:
    """The studio's money settings; fractions are of 1 (0.21 is 21 %), amounts in its currency.

    `latex_each` is the cost of a balloon by stock number, `latex_otherwise` for all others;
    `hardware_each` the cost of one use of a thing by its name, 0 where it is not named. `margin_fraction` is the
    part of the *price* that is left after all costs, not a mark-up on them. `coin` is the smallest coin.
    """

    latex_each: tuple[tuple[int, Decimal], ...] = ()
    latex_otherwise: Decimal = Decimal("0.15")
    sheets: tuple[SheetCost, ...] = ()
    sheet_otherwise: Decimal = Decimal("0")
    hardware_each: tuple[tuple[str, Decimal], ...] = ()
    cylinder: Cylinder = field(default_factory=Cylinder)
    wage_per_hour: Decimal = Decimal("20")
    travel_per_km: Decimal = Decimal("0.50")
    overhead_fraction: Decimal = Decimal("0.15")
    margin_fraction: Decimal = Decimal("0.30")
    tax_fraction: Decimal = Decimal("0.20")
    deposit_fraction: Decimal = Decimal("0.30")
    currency: str = "EUR"
    coin: Decimal = Decimal("0.01")

    def __post_init__(self) -> None:
        for name in ("latex_otherwise", "sheet_otherwise", "wage_per_hour", "travel_per_km", "overhead_fraction"):
            _at_least_zero(name, getattr(self, name))
        for _, amount in self.latex_each:
            _at_least_zero("latex_each", amount)
        for _, amount in self.hardware_each:
            _at_least_zero("hardware_each", amount)
        if not 0 <= self.margin_fraction < Decimal("0.95"):
            raise ValueError("margin_fraction must be at least 0 and below 0.95")
        for name in ("tax_fraction", "deposit_fraction"):
            if not 0 <= getattr(self, name) <= 1:
                raise ValueError(f"{name} must be between 0 and 1")
        if self.coin <= 0:
            raise ValueError("coin must be above 0")


@dataclass(frozen=True)
class ToBuy:
    """A shortage: `quantity` of a stock item that is not in the store, sold in packs of `pack_size`."""

    key: int | None
    quantity: int
    pack_size: int
    pack_price: Decimal
    what: Bought = "latex"
    label: str = ""

    def __post_init__(self) -> None:
        if self.quantity < 1:
            raise ValueError("quantity must be 1 or more")
        if self.pack_size < 1:
            raise ValueError("pack_size must be 1 or more")
        _at_least_zero("pack_price", self.pack_price)

    @property
    def packs(self) -> int:
        """Whole packs that cover the shortage."""
        return -(-self.quantity // self.pack_size)


@dataclass(frozen=True)
class CostLine:
    """One cost to the studio: `low` with middle hours and stock in hand, `high` with the 80 % hours and all bought."""

    kind: str
    label: str
    low: Decimal
    high: Decimal
    says: str = ""


@dataclass(frozen=True)
class PriceLine:
    """One line of what the client pays, before tax."""

    title: str
    amount: Decimal


@dataclass(frozen=True)
class Quote:
    """A price: its lines add to `net`, and `net` + `tax` = `total` = `deposit` + `balance`."""

    lines: tuple[PriceLine, ...]
    net: Decimal
    tax: Decimal
    total: Decimal
    deposit: Decimal
    balance: Decimal


def _at_least_zero(name: str, amount: Decimal) -> None:
    if not (amount.is_finite() and amount >= 0):
        raise ValueError(f"{name} must be 0 or more")


def to_coin(amount: Decimal, coin: Decimal = Decimal("0.01")) -> Decimal:
    """An amount in whole coins, half a coin up.

    >>> to_coin(Decimal("2.345"))
    Decimal('2.35')
    """
    return (amount / coin).quantize(Decimal(1), rounding=ROUND_HALF_UP) * coin


def allocate(total: Decimal, weights: tuple[Decimal, ...], coin: Decimal = Decimal("0.01")) -> tuple[Decimal, ...]:
    """A total cut into parts by weight, in whole coins, that add to it exactly.

    The coins left over after rounding down go to the largest remainders, the first of equals first. All weights 0
    share alike. Raises ValueError naming `weights` when there are none or one is negative, or `total` when it is
    negative or not in whole coins.

    >>> allocate(Decimal("100.00"), (Decimal(1), Decimal(1), Decimal(1)))
    (Decimal('33.34'), Decimal('33.33'), Decimal('33.33'))
    """
    if not weights or any(weight < 0 for weight in weights):
        raise ValueError("weights must hold at least one figure, and none below 0")
    if total < 0 or total % coin:
        raise ValueError("total must be 0 or more, in whole coins")
    shares = weights if sum(weights) > 0 else tuple(Decimal(1) for _ in weights)
    coins = int(total / coin)
    # Fractions, as a decimal quotient rounded up would hand out a coin that is not there.
    whole_share = Fraction(sum(shares))
    exact = [coins * Fraction(share) / whole_share for share in shares]
    whole = [math.floor(part) for part in exact]
    first = sorted(range(len(exact)), key=lambda at: (whole[at] - exact[at], at))
    for at in first[: coins - sum(whole)]:
        whole[at] += 1
    return tuple(part * coin for part in whole)


def quote(cost: Decimal, titles: tuple[str, ...], weights: tuple[Decimal, ...], prices: Prices) -> Quote:
    """The price of a job that costs `cost` (overhead included), on one line for each title.

    Net = cost / (1 - margin). Raises ValueError naming `cost` when it is negative, or as `allocate` does.
    """
    _at_least_zero("cost", cost)
    net = to_coin(cost / (1 - prices.margin_fraction), prices.coin)
    return quote_of_net(net, titles, weights, prices)


def quote_of_net(net: Decimal, titles: tuple[str, ...], weights: tuple[Decimal, ...], prices: Prices) -> Quote:
    """A given price before tax, in whole coins, cut into lines, taxed and split into deposit and balance."""
    amounts = allocate(net, weights, prices.coin)
    tax = to_coin(net * prices.tax_fraction, prices.coin)
    total = net + tax
    deposit = to_coin(total * prices.deposit_fraction, prices.coin)
    return Quote(
        lines=tuple(PriceLine(title, amount) for title, amount in zip(titles, amounts, strict=True)),
        net=net,
        tax=tax,
        total=total,
        deposit=deposit,
        balance=total - deposit,
    )
