"""All events and shifts of one day of the studio, as rows with time bars."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from itertools import combinations

from django.utils import timezone

from jobs.crew.capacity import DayLoad, day_bounds, day_load, meeting, people_free
from jobs.crew.models import Absence, DayHold, Shift
from jobs.crew.words import away_words, times_words
from jobs.events.models import Event, Stage

QUARTERS = 4
LEAST_HOURS = 8


@dataclass(frozen=True)
class Axis:
    """The part of the day that is drawn, in whole hours that part into four."""

    starts: datetime
    ends: datetime

    @property
    def minutes(self) -> int:
        return self.at(self.ends)

    def at(self, moment: datetime) -> int:
        inside = min(max(moment, self.starts), self.ends)
        return round((inside - self.starts).total_seconds() / 60)

    @property
    def hour_lines(self) -> list[int]:
        return list(range(60, self.minutes, 60))

    @property
    def labels(self) -> list[str]:
        step = (self.ends - self.starts) / QUARTERS
        return [f"{timezone.localtime(self.starts + step * n):%H:%M}" for n in range(QUARTERS)]


@dataclass(frozen=True)
class Bar:
    x: int
    width: int


@dataclass(frozen=True)
class BoardShift:
    shift_id: int
    name: str
    task: str
    times: str
    bar: Bar
    clash: str


@dataclass(frozen=True)
class BoardEvent:
    event_id: int
    title: str
    stage: str
    venue: str
    times: str
    zone_note: str
    bar: Bar
    doors: Bar | None
    hold: str
    hold_state: str
    shifts: tuple[BoardShift, ...]

    @property
    def called_off(self) -> bool:
        return self.stage in {Stage.LOST, Stage.CANCELLED}


@dataclass(frozen=True)
class Board:
    day: date
    axis: Axis
    events: tuple[BoardEvent, ...]
    load: DayLoad
    twice: tuple[str, ...]
    free: tuple[str, ...]
    away: tuple[str, ...]

    @property
    def short_of_people(self) -> int:
        return max(self.load.people_out - (self.load.people - self.load.away), 0)

    @property
    def short_of_vans(self) -> int:
        return max(self.load.vans_out - self.load.vans, 0)


def board_of(day: date, now: datetime) -> Board:
    """In the studio's zone; an event whose venue lives by another is told so in its row."""
    zone = timezone.get_current_timezone()
    starts, ends = day_bounds(day, zone)
    load = day_load(day, now=now)
    shifts = list(load.shifts)
    events = _events(starts, ends, shifts, load.holds)
    absences = list(meeting(Absence.objects.select_related("member").filter(member__active=True), starts, ends))
    clashes = double_used(shifts, absences)
    axis = _axis(starts, ends, events, shifts)
    holds = {hold.event_id: hold for hold in load.holds}
    return Board(
        day=day,
        axis=axis,
        events=tuple(_row(event, axis, shifts, clashes, holds.get(event.pk), zone) for event in events),
        load=load,
        twice=tuple(dict.fromkeys(clashes.values())),
        free=_free(starts, ends, now),
        away=tuple(f"{a.member.name}, {away_words(a.starts, a.ends)}" for a in absences),
    )


def _events(starts: datetime, ends: datetime, shifts: Sequence[Shift], holds: Sequence[DayHold]) -> list[Event]:
    """Those that stand that day, and those that are worked for that day, such as in the workshop the day before."""
    worked = {shift.event_id for shift in shifts} | {hold.event_id for hold in holds}
    standing = Event.objects.filter(load_in__lt=ends, strike__gte=starts) | Event.objects.filter(pk__in=worked)
    return list(standing.exclude(stage=Stage.LOST).select_related("venue").order_by("load_in", "pk").distinct())


def double_used(shifts: Sequence[Shift], absences: Iterable[Absence]) -> dict[int, str]:
    """Shift -> why it cannot be. Saving refuses these; a day away or an event that was taken up again after it had
    been called off can still make them."""
    found: dict[int, str] = {}
    for one, other in combinations(shifts, 2):
        if one.member_id == other.member_id and one.starts < other.ends and other.starts < one.ends:
            words = f"{one.member.name} is on {one.event.title} and on {other.event.title} at once"
            found.setdefault(one.pk, words)
            found.setdefault(other.pk, words)
    for absence in absences:
        for shift in shifts:
            if shift.member_id == absence.member_id and shift.starts < absence.ends and absence.starts < shift.ends:
                found.setdefault(shift.pk, f"{shift.member.name} is away and on {shift.event.title}")
    return found


def _axis(starts: datetime, ends: datetime, events: Sequence[Event], shifts: Sequence[Shift]) -> Axis:
    """From the first hour in which anything happens to the last, in whole quarters of at least two hours."""
    marks = [at for e in events for at in (e.load_in, e.doors, e.ends, e.strike)]
    marks += [at for s in shifts for at in (s.starts, s.ends)]
    inside = [at for at in marks if starts <= at <= ends] or [starts + timedelta(hours=h) for h in (8, 20)]
    whole = round((ends - starts) / timedelta(hours=1))
    first = int((min(inside) - starts) / timedelta(hours=1))
    last = -((starts - max(inside)) // timedelta(hours=1))
    hours = -(-max(last - first, LEAST_HOURS) // QUARTERS) * QUARTERS
    first = max(min(first, whole - hours), 0)
    return Axis(starts + timedelta(hours=first), min(starts + timedelta(hours=first + hours), ends))


def _bar(axis: Axis, starts: datetime, ends: datetime) -> Bar:
    x = axis.at(starts)
    return Bar(x, max(axis.at(ends) - x, 2))


def _row(
    event: Event,
    axis: Axis,
    shifts: Sequence[Shift],
    clashes: dict[int, str],
    hold: DayHold | None,
    zone: tzinfo,
) -> BoardEvent:
    doors_inside = axis.starts <= event.doors < axis.ends
    return BoardEvent(
        event_id=event.pk,
        title=event.title,
        stage=event.stage,
        venue=event.venue.name,
        times=_event_times(event, zone),
        zone_note="" if str(event.zone) == str(zone) else f"their clock says doors {_clock(event.doors, event.zone)}",
        bar=_bar(axis, event.load_in, event.strike),
        doors=_bar(axis, event.doors, event.ends) if doors_inside or event.ends > axis.starts else None,
        hold=_hold_words(hold) if hold else "",
        hold_state="wait" if hold and hold.expires else "ok",
        shifts=tuple(
            BoardShift(
                shift.pk,
                shift.member.name,
                shift.get_task_display(),
                times_words(shift.starts, shift.ends, zone),
                _bar(axis, shift.starts, shift.ends),
                clashes.get(shift.pk, ""),
            )
            for shift in shifts
            if shift.event_id == event.pk
        ),
    )


def _clock(at: datetime, zone: tzinfo) -> str:
    return f"{timezone.localtime(at, zone):%H:%M}"


def _event_times(event: Event, zone: tzinfo) -> str:
    """With the days' names where it runs over midnight."""
    same = timezone.localtime(event.load_in, zone).date() == timezone.localtime(event.strike, zone).date()
    said = "%H:%M" if same else "%a %H:%M"
    moments = [("load-in", event.load_in), ("doors", event.doors), ("strike", event.strike)]
    return ", ".join(f"{what} {timezone.localtime(at, zone):{said}}" for what, at in moments)


def _hold_words(hold: DayHold) -> str:
    people = "1 person" if hold.people == 1 else f"{hold.people} people"
    vans = {0: "", 1: ", 1 van"}.get(hold.vans, f", {hold.vans} vans")
    until = f" held until {timezone.localtime(hold.expires):%a %H:%M}" if hold.expires else " promised"
    return f"{people}{vans}{until}"


def _free(starts: datetime, ends: datetime, now: datetime) -> tuple[str, ...]:
    """Whoever has nothing that day; holds take nobody by name, so they are counted beside this list."""
    return tuple(one.member.name for one in people_free(starts, ends, now=now) if one.free or one.kept)
