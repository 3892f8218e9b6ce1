"""What a crew member sees under Today: their own coming shifts and nobody else's."""

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.utils import timezone

from decor.studio.models import User
from decor.studio.templatetags.desk import day_words
from jobs.crew.capacity import CALLED_OFF
from jobs.crew.models import Shift
from jobs.crew.skills import WORDS
from jobs.crew.words import times_words


@dataclass(frozen=True)
class ComingShift:
    event_id: int
    title: str
    venue: str
    day: str
    times: str
    task: str
    note: str
    called_off: str
    soon: str


FIELDS = (
    "event_id",
    "event__title",
    "event__stage",
    "event__venue__name",
    "event__venue__time_zone",
    "starts",
    "ends",
    "task",
    "note",
)


def crew_today(user: User, now: datetime) -> list[ComingShift]:
    """Those that are not over, the next one first, in their venues' time."""
    rows = Shift.objects.filter(member__user=user, ends__gt=now).order_by("starts", "pk").values(*FIELDS)
    return [_coming(row, now) for row in rows]


def _coming(row: dict, now: datetime) -> ComingShift:
    zone = ZoneInfo(row["event__venue__time_zone"])
    starts = timezone.localtime(row["starts"], zone)
    return ComingShift(
        event_id=row["event_id"],
        title=row["event__title"],
        venue=row["event__venue__name"],
        day=day_words(starts, year=starts.year != timezone.localtime(now, zone).year),
        times=times_words(row["starts"], row["ends"], zone),
        task=WORDS[row["task"]],
        note=row["note"],
        called_off=row["event__stage"] if row["event__stage"] in CALLED_OFF else "",
        soon=_soon(starts.date(), timezone.localtime(now, zone).date()),
    )


def _soon(day: date, today: date) -> str:
    return {0: "Today", 1: "Tomorrow"}.get((day - today).days, "Under way" if day < today else "")
