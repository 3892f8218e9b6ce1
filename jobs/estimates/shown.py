"""A finished estimate as its page shows it: figures in people's words, each with what it came from."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.utils import timezone
from django.utils.safestring import SafeString

from decor.calc.figures import percent
from decor.calc.work.cautions import CAUTIONS
from decor.studio.templatetags.desk import hours, money_words
from jobs.designs.catalogue import Catalogue
from jobs.designs.lengths import diameter_words
from jobs.estimates.drawing import day_backwards
from jobs.estimates.models import Estimate
from jobs.events.models import Event

PLACES = {"workshop": "workshop", "venue": "venue", "road": "on the road"}


@dataclass(frozen=True)
class BalloonLine:
    rgb: str
    colour: str
    size: str
    needed: int
    spares: int
    quantity: int
    says: str


@dataclass(frozen=True)
class Shown:
    price_from: Decimal
    price_to: Decimal
    currency: str
    cost_from: Decimal
    cost_to: Decimal
    margin_from: Decimal
    margin_to: Decimal
    margin_words: str
    result: dict[str, Any]
    hours: str
    balloons: list[BalloonLine]
    sheets: list[tuple[str, int, str]]
    gas: str
    places: dict[str, str]
    picture: SafeString
    cautions: list[str]
    conditions: str


def shown(estimate: Estimate, event: Event, catalogue: Catalogue) -> Shown:
    result, inputs = estimate.result, estimate.inputs
    assert result is not None
    conditions, prices = inputs["conditions"], inputs["prices"]
    low, high = (sum((Decimal(line[end]) for line in result["costs"]), Decimal(0)) for end in ("low", "high"))
    return Shown(
        price_from=Decimal(result["price_from"]),
        price_to=Decimal(result["price_to"]),
        currency=prices["currency"],
        cost_from=low,
        cost_to=high,
        margin_from=Decimal(result["quote_low"]["net"]) - low,
        margin_to=Decimal(result["quote_high"]["net"]) - high,
        margin_words=percent(Decimal(prices["margin_fraction"])),
        result=result,
        hours=hours_words(result),
        balloons=[_balloons(line, catalogue) for line in result["latex"]],
        sheets=[_sheets(line, catalogue) for line in result["sheets"]],
        gas=_gas(result["gas"]),
        places=PLACES,
        picture=day_backwards(result["day_backwards"], doors=event.doors, zone=event.zone),
        cautions=[CAUTIONS[key] for key in result["cautions"]],
        conditions=f"{conditions['altitude_m']:,.0f} m above the sea, {conditions['temperature_k'] - 273.15:.0f} °C",
    )


def hours_words(result: dict[str, Any]) -> str:
    """11 h 20, at most 13 h: the middle, and what four jobs in five stay under."""
    return f"{unbroken(result['person_minutes_middle'])}, at most {unbroken(result['person_minutes_p80'])}"


def unbroken(minutes: float) -> str:
    """A time that no line ends in the middle of."""
    return hours(minutes).replace(" ", "\u00a0")


def price_words(low: Decimal, high: Decimal, currency: str) -> str:
    """€1,350 to 1,620: in whole units, rounded up, so that nobody is told less than it may cost."""
    first, last = whole_up(low), whole_up(high)
    if first == last:
        return money_words(first, currency, places=0)
    return f"{money_words(first, currency, places=0)} to {last:,}"


def whole_up(amount: Decimal) -> Decimal:
    return amount.to_integral_value(rounding="ROUND_CEILING")


def moment_words(at: datetime, beside: datetime, zone: Any) -> str:
    local, other = timezone.localtime(at, zone), timezone.localtime(beside, zone)
    return f"{local:%H:%M}" if local.date() == other.date() else f"{local:%a %H:%M}"


def _balloons(line: dict[str, Any], catalogue: Catalogue) -> BalloonLine:
    item = catalogue.balloon(line["key"])
    sized = diameter_words(line["sized_diameter_m"], catalogue.units)
    shape = "" if line["shape"] == "round" else f" {line['shape']}"
    return BalloonLine(
        rgb=item.rgb if item else "",
        colour=item.words if item else "colour still open",
        size=f"{line['nominal_in']:g} in{shape}, sized to {sized}",
        needed=line["needed"],
        spares=line["spares"],
        quantity=line["quantity"],
        says=line["says"],
    )


def _sheets(line: dict[str, Any], catalogue: Catalogue) -> tuple[str, int, str]:
    sheet = catalogue.sheet(line["key"])
    return (sheet.name if sheet else "sheet", line["quantity"], line["says"])


def _gas(gas: dict[str, Any]) -> str:
    """The figures alone; the sentence beside them says where they come from."""
    parts = []
    if gas["air_m3"]:
        parts.append(f"{hours(gas['air_fill_min'])} of one nozzle")
    if gas["helium_m3"]:
        word = "cylinder" if gas["cylinders"] == 1 else "cylinders"
        parts.append(f"{gas['helium_m3']:.2f} m³ of helium, {gas['cylinders']} {word}")
    return "; ".join(parts)
