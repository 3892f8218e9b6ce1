"""When an estimate's work falls on the clock, and how many people and vans it takes then."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from jobs.crew.capacity import CALLED
from jobs.crew.skills import crew_skills

ONE_GO = timedelta(hours=24)
"""Work and strike within this are one span; otherwise the crew is free between them."""

TAKING_DOWN = frozenset({"strike", "dispose"})


@dataclass(frozen=True)
class Workday:
    """`spans` are half-open: the first holds the way up, the last the strike; they are one where the event is
    short. `away` is when the van leaves, None where nothing is driven."""

    spans: tuple[tuple[datetime, datetime], ...]
    people: int
    skills: tuple[str, ...]
    vans: int
    person_minutes: int
    away: datetime | None
    drive_min: float
    venue_min: float

    @property
    def starts(self) -> datetime:
        return self.spans[0][0]


def workday_of(result: Mapping[str, Any], *, doors: datetime, strike: datetime) -> Workday:
    bars, people = result["day_backwards"], max(1, result["people"])
    starts = doors + timedelta(minutes=min(bar["start_offset_min"] for bar in bars))
    down_min = sum(task["minutes_p80"] for task in result["tasks"] if task["kind"] in TAKING_DOWN) / people
    # A minute at least, as a span must not be empty.
    ends = strike + timedelta(minutes=max(1.0, down_min))
    drive = next((bar for bar in bars if bar["place"] == "road"), None)
    return Workday(
        spans=((starts, ends),) if ends - starts <= ONE_GO else ((starts, doors), (strike, ends)),
        people=people,
        skills=tuple(crew_skills(result["skills"])),
        vans=1 if drive else 0,
        person_minutes=round(result["person_minutes_middle"]),
        away=doors + timedelta(minutes=drive["start_offset_min"]) if drive else None,
        drive_min=drive["end_offset_min"] - drive["start_offset_min"] if drive else 0.0,
        venue_min=sum(b["end_offset_min"] - b["start_offset_min"] for b in bars if b["place"] == "venue"),
    )


def called(missing: tuple[str, ...]) -> str:
    """Whom one misses first: a job without a lead is none, whoever else could come."""
    return CALLED["lead" if "lead" in missing else missing[0]]
