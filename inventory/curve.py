"""The step line of one item's coming weeks, ready to be drawn: numbers of an SVG, no colour. What is on order is told
apart: the line is what there is without it, dashes are what there is if it arrives."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from django.utils import timezone

from inventory.availability import Stock
from inventory.balance import Level

WIDTH, HEIGHT = 326, 168
LEFT, RIGHT, TOP, BOTTOM = 44.0, 320.0, 26.0, 138.0
WEEKS = (4, 8, 26)
USUAL_WEEKS = 8


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
    """`path` is what is there for certain, `path_if` the same with what is on order, empty where nothing is due.
    `shortages` remain whatever arrives, `shortages_if` hurt only if it does not."""

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
    path_if: str = ""
    shortages_if: tuple[Box, ...] = ()


def curve_of(stock: Stock, now: datetime, *, weeks: int) -> Curve:
    ends = now + timedelta(weeks=weeks)
    levels = stock.levels(now, ends)
    due = [s for s in stock.supplies if s.expected and s.arrives < ends]
    if not due:
        return draw(levels, now, ends)
    certain = replace(stock, supplies=[s for s in stock.supplies if not s.expected])
    return draw(levels, now, ends, certain.levels(now, ends))


def draw(levels: list[Level], starts: datetime, ends: datetime, certain: list[Level] | None = None) -> Curve:
    """`levels` count on what is on order; `certain` do without it, where something is on order."""
    shown = [*levels, *(certain or [])]
    top, low = max(1, *(n for _, n in shown)), min(0, *(n for _, n in shown))

    def x(moment: datetime) -> float:
        return round(LEFT + (RIGHT - LEFT) * ((moment - starts) / (ends - starts)), 1)

    def y(level: float) -> float:
        return round(BOTTOM - (BOTTOM - TOP) * ((level - low) / (top - low)), 1)

    sure = levels if certain is None else certain
    return Curve(
        width=WIDTH,
        height=HEIGHT,
        left=LEFT,
        right=RIGHT,
        path=_steps(sure, x, y),
        zero_y=y(0),
        shortages=_below(levels, ends, x, y),
        across=_days(starts, ends),
        up=_amounts(top, low, y),
        short_label=_short_label(levels, certain, x),
        sentence=_sentence(levels) + ("" if certain is None else _without(levels, certain)),
        path_if="" if certain is None else _steps(levels, x, y),
        shortages_if=() if certain is None else tuple(_below(certain, ends, x, y)),
    )


Scale = Callable[[float], float]
Across = Callable[[datetime], float]


def _steps(levels: Sequence[Level], x: Across, y: Scale) -> str:
    steps = [f"M{x(levels[0][0])} {y(levels[0][1])}"]
    steps += [f"H{x(moment)}V{y(level)}" for moment, level in levels[1:]]
    return "".join(steps) + f"H{RIGHT}"


def _below(levels: Sequence[Level], ends: datetime, x: Across, y: Scale) -> list[Box]:
    until = [moment for moment, _ in levels[1:]] + [ends]
    return [
        Box(x(begin), y(0), max(2.0, round(x(end) - x(begin), 1)), round(y(level) - y(0), 1))
        for (begin, level), end in zip(levels, until, strict=True)
        if level < 0
    ]


def _days(starts: datetime, ends: datetime) -> list[Label]:
    """Five days from end to end: more would run into each other on a phone."""
    labels = []
    for quarter, anchor in enumerate(["start", "middle", "middle", "middle", "end"]):
        moment = timezone.localtime(starts + (ends - starts) * quarter / 4)
        at = round(LEFT + (RIGHT - LEFT) * quarter / 4, 1)
        labels.append(Label(at, HEIGHT - 8, anchor, f"{moment.day} {moment:%b}"))
    return labels


def _amounts(top: int, low: int, y: Scale) -> list[Label]:
    amounts = [top, 0]
    # Its own label only where it does not run into the nought's.
    if y(low) - y(0) > 14:
        amounts.append(low)
    return [Label(LEFT - 8, y(n) + 4, "end", f"{n:,}".replace("-", "−")) for n in amounts]


def _worst(levels: Sequence[Level]) -> Level | None:
    moment, level = min(levels, key=lambda point: point[1])
    return (moment, level) if level < 0 else None


def _short_label(levels: Sequence[Level], certain: Sequence[Level] | None, x: Across) -> Label | None:
    worst = _worst(levels)
    if worst is not None:
        words = f"{-worst[1]:,} short on {_day(worst[0])}"
    elif certain is not None and (worst := _worst(certain)):
        words = f"without it {-worst[1]:,} short"
    else:
        return None
    at = x(worst[0])
    anchor = "start" if at < LEFT + 70 else "end" if at > RIGHT - 70 else "middle"
    return Label(at, TOP - 12, anchor, words)


def _sentence(levels: Sequence[Level]) -> str:
    spells, now, last = _spells(levels), levels[0][1], levels[-1][1]
    if spells:
        first = "" if now < 0 else f"{now:,} now; "
        told = " and ".join(f"{-level:,} short on {_day(moment)}" for moment, level in spells[:2])
        if len(spells) > 2:
            moment, worst = min(spells, key=lambda point: point[1])
            told = f"short {len(spells)} times, most on {_day(moment)}: {-worst:,}"
        return f"{first}{told}." if first else f"{told[:1].upper()}{told[1:]}."
    lowest = min(levels, key=lambda point: point[1])
    if len(levels) == 1:
        return f"{last:,} all the time."
    if lowest[1] == last or len(levels) == 2:
        return f"{now:,} now; {last:,} from {_day(lowest[0] if lowest[1] == last else levels[1][0])} on."
    if lowest[1] == now:
        return f"{now:,} now, never fewer; {last:,} at the end."
    return f"{now:,} now; at least {lowest[1]:,}, from {_day(lowest[0])}; {last:,} at the end."


def _spells(levels: Sequence[Level]) -> list[Level]:
    """Each time that something is short, at its worst."""
    spells: list[Level] = []
    before = 0
    for moment, level in levels:
        if level < 0 and before < 0:
            spells[-1] = min(spells[-1], (moment, level), key=lambda point: point[1])
        elif level < 0:
            spells.append((moment, level))
        before = level
    return spells


def _without(levels: Sequence[Level], certain: Sequence[Level]) -> str:
    """The same without what is on order."""
    worst = _worst(certain)
    if worst:
        again = "" if _worst(levels) else "Only if what is on order arrives: "
        return f" {again}without it {-worst[1]:,} short on {_day(worst[0])}."
    lowest, last = min(n for _, n in certain), certain[-1][1]
    least = "" if lowest == last else f"{lowest:,} at the least, "
    return f" Without what is on order {least}{last:,} at the end."


def _day(moment: datetime) -> str:
    moment = timezone.localtime(moment)
    return f"{moment.day} {moment:%B}"
