"""Crew and clock: how many people, and the day backwards from doors."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from decor.calc.figures import Bar, TaskLine, counted, spoken_minutes
from decor.calc.pieces.needs import Place
from decor.calc.work.conditions import Conditions
from decor.calc.work.labour import AFTER, DRIVE, INFLATE, STAGES, TASK_KINDS, spread_at, together
from decor.calc.work.rates import Rates
from decor.calc.work.transport import Trips

_PLACES: tuple[Place, ...] = ("workshop", "road", "venue")


@dataclass(frozen=True)
class Day:
    """People suggested, and the bars before doors; `fits` is False when the venue's part is
    longer than load-in to doors, or than a working day where load-in is not known."""

    people: int
    bars: tuple[Bar, ...]
    elapsed_min: float
    spare_min: float
    venue_min: float
    fits: bool
    people_says: str
    says: str

    def first_inflating_min(self, place: str) -> float | None:
        """Offset from doors at which inflating begins at a place, None where nothing is inflated there."""
        starts = [bar.start_offset_min for bar in self.bars if bar.label == INFLATE and bar.place == place]
        return min(starts) if starts else None


@dataclass(frozen=True)
class _Step:
    label: str
    place: Place
    minutes: float


def plan_day(lines: Sequence[TaskLine], trips: Trips, conditions: Conditions, rates: Rates) -> Day:
    """The smallest crew with which the workshop's part fits a working day and the venue's part fits the time
    between load-in and doors, and when each part of the day begins.

    All times on the clock are such that four jobs in five stand in time: the middle times, stretched alike by the
    spread of their sum. Parts follow one another, with everybody at each. Where load-in is known, the venue's part
    begins then; otherwise all stands `rates.ready_before_doors_min` before doors. The crew is never larger than
    `rates.most_people`, unless a task needs more at once.
    """
    least = max((line.people for line in lines), default=1)
    window_min = rates.workday_min if conditions.load_in_to_doors_min is None else conditions.load_in_to_doors_min
    most = max(least, rates.most_people)
    for people in range(least, most + 1):
        steps = _steps(lines, people, trips, conditions, rates)
        at_venue = _minutes(steps, "venue")
        if at_venue <= window_min and _minutes(steps, "workshop") <= rates.workday_min:
            break
    fits = at_venue <= window_min
    bars = _bars(steps, at_venue, fits=fits, conditions=conditions, rates=rates)
    spare_min = -bars[-1].end_offset_min if bars else 0.0
    return Day(
        people=people,
        bars=bars,
        elapsed_min=sum(step.minutes for step in steps),
        spare_min=spare_min,
        venue_min=at_venue,
        fits=fits,
        people_says=_people_says(people, least, _minutes(steps, "workshop"), at_venue, rates),
        says=_day_says(bars, at_venue, spare_min),
    )


def _steps(
    lines: Sequence[TaskLine], people: int, trips: Trips, conditions: Conditions, rates: Rates
) -> tuple[_Step, ...]:
    """The parts of the day in order, each with its stretched minutes on the clock."""
    drive_min = trips.legs_before_doors * conditions.drive_minutes
    raw: dict[tuple[Place, str], float] = {}
    for line in lines:
        stage = TASK_KINDS[line.kind].stage
        if stage not in (AFTER, DRIVE):
            raw[line.place, stage] = raw.get((line.place, stage), 0.0) + line.minutes_middle / people
    if drive_min > 0:
        raw["road", DRIVE] = drive_min
    order = sorted(raw, key=lambda key: (_PLACES.index(key[0]), _stage_at(key)))
    joint = together([(raw[key], spread_at(key[0], rates)) for key in order], rates.spread_together)
    total = sum(raw.values())
    stretch = joint.p80 / total if total else 1.0
    return tuple(_Step(stage, place, raw[place, stage] * stretch) for place, stage in order)


def _stage_at(key: tuple[Place, str]) -> int:
    """Order within a place: at the venue everything is carried in before anything is opened."""
    place, stage = key
    return -1 if place == "venue" and stage == "Carry in" else STAGES.index(stage)


def _minutes(steps: Sequence[_Step], place: str) -> float:
    return sum(step.minutes for step in steps if step.place == place)


def _bars(
    steps: Sequence[_Step], at_venue: float, *, fits: bool, conditions: Conditions, rates: Rates
) -> tuple[Bar, ...]:
    if conditions.load_in_to_doors_min is None:
        end = -rates.ready_before_doors_min
    else:
        end = at_venue - conditions.load_in_to_doors_min if fits else 0.0
    bars: list[Bar] = []
    for step in reversed(steps):
        bars.append(Bar(step.label, step.place, end - step.minutes, end))
        end -= step.minutes
    return tuple(reversed(bars))


def _people_says(people: int, least: int, workshop_min: float, venue_min: float, rates: Rates) -> str:
    days = math.ceil(workshop_min / rates.workday_min - 1e-9)
    if people == least and least > 1:
        why = f"{least} must work together"
    elif days > 1:
        why = "the most that are put on one job"
    else:
        why = "the fewest with whom the day fits"
    spread = f", that is {days} working days," if days > 1 else ""
    return (
        f"{counted(people, 'person', 'people')}: {why}; {spoken_minutes(workshop_min)} in the workshop{spread} and "
        f"{spoken_minutes(venue_min)} at the venue"
    )


def _day_says(bars: Sequence[Bar], venue_min: float, spare_min: float) -> str:
    if not bars:
        return "Nothing to do before doors"
    start = spoken_minutes(-bars[0].start_offset_min)
    return (
        f"Begin {start} before doors; {spoken_minutes(venue_min)} at the venue leave {spoken_minutes(spare_min)} to "
        "spare. Four days in five go at least as fast"
    )
