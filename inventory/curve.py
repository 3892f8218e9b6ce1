"""The step line of one item's coming weeks, ready to be drawn: numbers of an SVG, no colour."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils import timezone

from inventory.availability import Stock
from inventory.balance import Level

WIDTH, HEIGHT = 326, 168
LEFT, RIGHT, TOP, BOTTOM = 44.0, 320.0, 26.0, 138.0


@dataclass(frozen=True)
class Box:
    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True)
class Label:
    x: float
    y: float
    anchor: str
    words: str


@dataclass(frozen=True)
class Curve:
    width: int
    height: int
    left: float
    right: float
    path: str
    zero_y: float
    shortages: list[Box]
    across: list[Label]
    up: list[Label]
    short_label: Label | None
    sentence: str


def curve_of(stock: Stock, now: datetime, *, weeks: int) -> Curve:
    ends = now + timedelta(weeks=weeks)
    return draw(stock.levels(now, ends), now, ends)


def draw(levels: list[Level], starts: datetime, ends: datetime) -> Curve:
    top, low = max(1, *(n for _, n in levels)), min(0, *(n for _, n in levels))

    def x(moment: datetime) -> float:
        return round(LEFT + (RIGHT - LEFT) * ((moment - starts) / (ends - starts)), 1)

    def y(level: float) -> float:
        return round(BOTTOM - (BOTTOM - TOP) * ((level - low) / (top - low)), 1)

    steps = [f"M{x(levels[0][0])} {y(levels[0][1])}"]
    steps += [f"H{x(moment)}V{y(level)}" for moment, level in levels[1:]]
    until = [moment for moment, _ in levels[1:]] + [ends]
    shortages = [
        Box(x(begin), y(0), max(2.0, round(x(end) - x(begin), 1)), round(y(level) - y(0), 1))
        for (begin, level), end in zip(levels, until, strict=True)
        if level < 0
    ]
    return Curve(
        width=WIDTH,
        height=HEIGHT,
        left=LEFT,
        right=RIGHT,
        path="".join(steps) + f"H{RIGHT}",
        zero_y=y(0),
        shortages=shortages,
        across=_days(starts, ends),
        up=_amounts(top, low, y),
        short_label=_short_label(levels, x),
        sentence=_sentence(levels),
    )


def _days(starts: datetime, ends: datetime) -> list[Label]:
    """Five days from end to end: more would run into each other on a phone."""
    labels = []
    for quarter, anchor in enumerate(["start", "middle", "middle", "middle", "end"]):
        moment = timezone.localtime(starts + (ends - starts) * quarter / 4)
        at = round(LEFT + (RIGHT - LEFT) * quarter / 4, 1)
        labels.append(Label(at, HEIGHT - 8, anchor, f"{moment.day} {moment:%b}"))
    return labels


def _amounts(top: int, low: int, y) -> list[Label]:
    amounts = [top, 0]
    # Its own label only where it does not run into the nought's.
    if y(low) - y(0) > 14:
        amounts.append(low)
    return [Label(LEFT - 8, y(n) + 4, "end", f"{n:,}".replace("-", "−")) for n in amounts]


def _worst(levels: list[Level]) -> Level | None:
    moment, level = min(levels, key=lambda point: point[1])
    return (moment, level) if level < 0 else None


def _short_label(levels: list[Level], x) -> Label | None:
    worst = _worst(levels)
    if worst is None:
        return None
    at = x(worst[0])
    anchor = "start" if at < LEFT + 70 else "end" if at > RIGHT - 70 else "middle"
    return Label(at, TOP - 12, anchor, f"{-worst[1]:,} short on {_day(worst[0])}")


def _sentence(levels: list[Level]) -> str:
    worst, last = _worst(levels), levels[-1][1]
    if worst:
        return f"{levels[0][1]:,} now; {-worst[1]:,} short on {_day(worst[0])}."
    lowest = min(levels, key=lambda point: point[1])
    if len(levels) == 1:
        return f"{last:,} all the time."
    return f"{levels[0][1]:,} now; at least {lowest[1]:,}, from {_day(lowest[0])}; {last:,} at the end."


def _day(moment: datetime) -> str:
    moment = timezone.localtime(moment)
    return f"{moment.day} {moment:%B}"
