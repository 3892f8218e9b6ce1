"""What an estimate says: figures, each with a sentence of what it came from."""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass
from decimal import Decimal
from typing import Any

from decor.calc.pieces.needs import BuiltAt, Fill, Place, Shape
from decor.calc.work.price import CostLine, Quote


@dataclass(frozen=True)
class PieceFigures:
    """One line of the event: its `count` alike pieces together, but width, height and depth of one.

    `weight_kg` is one piece's own; `person_minutes` are middle minutes of its own work, without shared work such
    as the drive.
    """

    title: str
    count: int
    fill: Fill
    built_at: BuiltAt
    width_m: float
    height_m: float
    depth_m: float
    weight_kg: float
    balloons: int
    sections: int
    hang_points: int
    person_minutes: float
    says: str


@dataclass(frozen=True)
class LatexLine:
    """Balloons of one stock item at one sized diameter: `needed` + `spares` = `quantity`."""

    key: int | None
    nominal_in: float
    shape: Shape
    sized_diameter_m: float
    needed: int
    spares: int
    quantity: int
    says: str


@dataclass(frozen=True)
class SheetLine:
    key: int | None
    quantity: int
    says: str


@dataclass(frozen=True)
class HardwareLine:
    name: str
    quantity: int
    says: str


@dataclass(frozen=True)
class JoinLine:
    edges: int
    tabs: int
    says: str


@dataclass(frozen=True)
class GasFigures:
    """Air and helium: volumes at the venue; `air_fill_min` is one nozzle's running time.

    `helium_m3` is free gas at the venue's pressure and temperature, the loss included; `cylinder_gives_m3` is what
    one cylinder gives there. `hours_to_last` is from the helium's first balloon to the event's end.
    """

    air_m3: float
    air_fill_min: float
    helium_m3: float
    cylinders: int
    cylinder_gives_m3: float
    hours_to_last: float
    says: str


@dataclass(frozen=True)
class TaskLine:
    """Work of one kind at one place, over all pieces.

    `rate_says` is the studio's rate in words; `minutes_middle` and `minutes_p80` are person-minutes, with set-up.
    """

    kind: str
    label: str
    place: Place
    people: int
    units: float
    unit: str
    rate_says: str
    setup_min: float
    minutes_middle: float
    minutes_p80: float
    says: str


@dataclass(frozen=True)
class Bar:
    """A stretch of the day backwards, in minutes from doors: before doors is negative."""

    label: str
    place: Place
    start_offset_min: float
    end_offset_min: float


@dataclass(frozen=True)
class Van:
    """Trips to the venue; `fraction` is how full the trips are, taken together."""

    trips: int
    fraction: float
    room_m3: float
    says: str


@dataclass(frozen=True)
class Problem:
    """Why the plan does not work as entered: a key for the program, a sentence for people."""

    key: str
    says: str


@dataclass(frozen=True)
class Estimate:
    """Materials, gas, times, crew, cost and price of an event.

    The client may see `quote_low`, `quote_high` and the pieces; never `costs`. Crew never see any of these three.
    """

    input_key: str
    pieces: tuple[PieceFigures, ...]
    latex: tuple[LatexLine, ...]
    latex_says: str
    sheets: tuple[SheetLine, ...]
    joins: JoinLine
    hardware: tuple[HardwareLine, ...]
    gas: GasFigures
    tasks: tuple[TaskLine, ...]
    person_minutes_middle: float
    person_minutes_p80: float
    work_says: str
    people: int
    elapsed_minutes: float
    people_says: str
    day_backwards: tuple[Bar, ...]
    spare_before_doors_min: float
    day_says: str
    van: Van
    skills: tuple[str, ...]
    weight_kg: float
    weight_says: str
    costs: tuple[CostLine, ...]
    quote_low: Quote
    quote_high: Quote
    price_says: str
    cautions: tuple[str, ...]
    problems: tuple[Problem, ...]

    @property
    def price_from(self) -> Decimal:
        """With tax: middle hours and stock in hand."""
        return self.quote_low.total

    @property
    def price_to(self) -> Decimal:
        """With tax: the 80 % hours, and all that must be bought."""
        return self.quote_high.total

    @property
    def balloons(self) -> int:
        """Balloons of all sizes and colours, spares included."""
        return sum(line.quantity for line in self.latex)


def spoken_minutes(minutes: float) -> str:
    """A time as people say it, to the minute.

    >>> spoken_minutes(680.2), spoken_minutes(40), spoken_minutes(120)
    ('11 h 20', '40 min', '2 h')
    """
    whole = round(minutes)
    hours, rest = divmod(whole, 60)
    if hours == 0:
        return f"{rest} min"
    return f"{hours} h {rest:02d}" if rest else f"{hours} h"


def percent(share: float | Decimal) -> str:
    """A share of 1 in per cent.

    >>> percent(0.04), percent(Decimal("0.0550"))
    ('4 %', '5.5 %')
    """
    return f"{float(share) * 100:.3g} %"


def counted(number: int, one: str, many: str) -> str:
    """A number with its word.

    >>> counted(1, "sheet", "sheets"), counted(2400, "sheet", "sheets")
    ('1 sheet', '2,400 sheets')
    """
    return f"{number:,} {one if number == 1 else many}"


def to_json(estimate: Estimate) -> dict[str, Any]:
    """The estimate as plain lists, texts and numbers; amounts of money as text. Adds `price_from`, `price_to`."""
    plain = _plain(estimate)
    assert isinstance(plain, dict)
    return plain | {
        "price_from": str(estimate.price_from),
        "price_to": str(estimate.price_to),
        "balloons": estimate.balloons,
    }


def _plain(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return {item.name: _plain(getattr(value, item.name)) for item in fields(value)}
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    return str(value) if isinstance(value, Decimal) else value
