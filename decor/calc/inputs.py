"""What an estimate is worked out from, and the key under which the same input is the same estimate."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field, fields, is_dataclass
from decimal import Decimal
from typing import Any

from decor.calc.pieces.needs import FILLS, BuiltAt, Fill, Measures
from decor.calc.work.conditions import Conditions
from decor.calc.work.price import Prices, ToBuy
from decor.calc.work.rates import Rates

FORMULAS = 6
"""Raised whenever the same input would give other figures, so that stored estimates are worked out anew."""


@dataclass(frozen=True)
class PieceInput:
    """A piece of the event: `count` alike pieces with the same measures and fill."""

    title: str
    measures: Measures
    count: int = 1
    fill: Fill = "air"

    def __post_init__(self) -> None:
        if isinstance(self.count, bool) or self.count < 1:
            raise ValueError("count must be 1 or more")
        if self.fill not in FILLS:
            raise ValueError("fill must be air or helium")
        if not isinstance(self.measures, Measures):
            raise ValueError("measures must be those of a kind of piece")

    @property
    def built_at(self) -> BuiltAt:
        """Where it is inflated and loaded, as its measures say."""
        return self.measures.built_at


@dataclass(frozen=True)
class EstimateInput:
    """Everything that the figures follow from: same input, same estimate.

    `burst` is (stock number, share of those used that burst, 0…1) of balloons of which enough are known; all others
    get the studio's usual share of spares.
    """

    pieces: tuple[PieceInput, ...]
    rates: Rates = field(default_factory=Rates)
    conditions: Conditions = field(default_factory=Conditions)
    prices: Prices = field(default_factory=Prices)
    to_buy: tuple[ToBuy, ...] = ()
    burst: tuple[tuple[int, float], ...] = ()

    def __post_init__(self) -> None:
        if not self.pieces:
            raise ValueError("pieces must hold at least one piece")
        if not all(0.0 <= share < 1.0 for _, share in self.burst):
            raise ValueError("burst must hold shares from 0 up to, not including, 1")


def input_key(given: EstimateInput) -> str:
    """SHA-256 of the input in one canonical form, as 64 hex digits; equal inputs have equal keys.

    5 and 5.0 are the same, and so are Decimal("1.5") and Decimal("1.50"). The formulas' version is part of it.
    """
    text = json.dumps(
        {"formulas": FORMULAS, "given": _canonical(given)}, sort_keys=True, separators=(",", ":"), ensure_ascii=True
    )
    return hashlib.sha256(text.encode()).hexdigest()


def _canonical(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        named = {item.name: _canonical(getattr(value, item.name)) for item in fields(value)}
        return {"is": f"{type(value).__module__}.{type(value).__qualname__}", **named}
    if isinstance(value, tuple | list):
        return [_canonical(item) for item in value]
    if isinstance(value, Decimal):
        return {"decimal": format(value.normalize() + 0, "f")}
    if isinstance(value, float) and value.is_integer():
        return int(value)
    if value is None or isinstance(value, str | bool | int | float):
        return value
    raise ValueError(f"given: a {type(value).__name__} has no canonical form")
