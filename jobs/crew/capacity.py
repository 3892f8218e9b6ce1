"""Who and what is free at a time, given shifts, days away, and the holds that have not lapsed.

A hold names no people, only how many and with which skills. It is counted by finding it a team among those who
could come; shifts that already stand on its event are part of that team.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta, tzinfo

from django.db.models import Q, QuerySet
from django.utils import timezone

from decor.studio.models import Studio
from jobs.crew.models import Absence, DayHold, Member, Shift
from jobs.crew.skills import crew_skills
from jobs.crew.teams import Need, find_teams
from jobs.crew.words import away_words, times_words
from jobs.events.models import Event, Stage

CALLED_OFF = (Stage.LOST, Stage.CANCELLED)


@dataclass(frozen=True)
class MemberFree:
    """`why` says what stands against it; empty when free. `kept` marks somebody who is only promised to a hold."""

    member: Member
    skills: frozenset[str]
    free: bool
    why: str = ""
    kept: bool = False


@dataclass(frozen=True)
class Busy:
    member_id: int
    starts: datetime
    ends: datetime
    why: str
    event_id: int | None = None

    def meets(self, starts: datetime, ends: datetime) -> bool:
        return self.starts < ends and self.ends > starts


@dataclass(frozen=True)
class OpenHold:
    """What a hold still asks for, after those who already have a shift on its event."""

    event: Event
    starts: datetime
    ends: datetime
    people: int
    skills: frozenset[str]


@dataclass(frozen=True)
class Staffing:
    """`free` people of `of` can be promised at the tightest moment; `missing` are skills that cannot."""

    asked: int
    free: int
    of: int
    missing: tuple[str, ...]
    fits: bool
    skilled: dict[str, int] = field(default_factory=dict)

    @property
    def says(self) -> str:
        """3 of 5 people free, 2 can rig"""
        text = f"{self.free} of {self.of} people free"
        missing = [f"no {CALLED[name]} that day" for name in self.missing]
        able = [f"{count} can {ABLE[name]}" for name, count in self.skilled.items() if name not in self.missing]
        return ", ".join([text, *missing, *able])


CALLED = {"lead": "lead", "drive": "driver", "rig": "rigger", "load": "loader", "inflate": "inflator"}
ABLE = {"lead": "lead", "drive": "drive", "rig": "rig", "load": "load panels", "inflate": "inflate"}


def live_holds(now: datetime) -> QuerySet[DayHold]:
    """Confirmed ones and those that have not lapsed, of events that were not called off."""
    standing = Q(expires__isnull=True) | Q(expires__gt=now)
    return DayHold.objects.filter(standing).exclude(event__stage__in=CALLED_OFF).select_related("event")


def live_shifts() -> QuerySet[Shift]:
    return Shift.objects.exclude(event__stage__in=CALLED_OFF).select_related("event", "member")


def meeting(rows: QuerySet, starts: datetime, ends: datetime) -> QuerySet:
    """Half-open: what ends when this begins does not meet it."""
    return rows.filter(starts__lt=ends, ends__gt=starts)


def people_free(
    starts: datetime,
    ends: datetime,
    *,
    exclude_event: Event | None = None,
    now: datetime | None = None,
    zone: tzinfo | None = None,
) -> list[MemberFree]:
    """Every member who works here, with what stands against the whole span. Those whom other events' holds need
    are not free either; as holds name nobody, whoever can do least besides is counted for them.

    Raises ValueError naming `ends` when it is not after `starts`."""
    crowd = Crowd.between(starts, ends, exclude_event=exclude_event, now=now, zone=zone)
    kept = crowd.kept()
    return [
        MemberFree(
            member,
            crowd.skills_of[member.pk],
            free=member.pk not in crowd.against and member.pk not in kept,
            why=crowd.against.get(member.pk) or (f"kept for {kept[member.pk]}" if member.pk in kept else ""),
            kept=member.pk in kept,
        )
        for member in crowd.members
    ]


def staffing(
    starts: datetime,
    ends: datetime,
    *,
    people: int,
    skills: Iterable[str] = (),
    exclude_event: Event | None = None,
    now: datetime | None = None,
) -> Staffing:
    """Whether a team of so many, with each of these skills among them, can still be promised for the whole span
    beside every hold, at each moment of it. One person may bring several skills.

    Raises ValueError naming `ends`, `people` or `skills`."""
    if people < 0:
        raise ValueError("people must be 0 or more")
    wanted = crew_skills(skills)
    crowd = Crowd.between(starts, ends, exclude_event=exclude_event, now=now)
    free = next((n for n in range(len(crowd.could), 0, -1) if crowd.fits(n, ())), 0)
    missing = tuple(skill for skill in wanted if not crowd.fits(1, (skill,)))
    skilled = {skill: sum(skill in crowd.skills_of[m] for m in crowd.could) for skill in wanted}
    return Staffing(people, free, len(crowd.members), missing, crowd.fits(people, wanted), skilled)


@dataclass(frozen=True)
class Crowd:
    """Everything that a question about one span stands on, read once."""

    starts: datetime
    ends: datetime
    members: Sequence[Member]
    skills_of: dict[int, frozenset[str]]
    busy: Sequence[Busy]
    holds: Sequence[OpenHold]
    against: dict[int, str]

    @classmethod
    def between(
        cls,
        starts: datetime,
        ends: datetime,
        *,
        exclude_event: Event | None,
        now: datetime | None,
        zone: tzinfo | None = None,
    ) -> "Crowd":
        if ends <= starts:
            raise ValueError("ends must be after starts")
        members = list(Member.objects.filter(active=True))
        holds = open_holds(starts, ends, now=now or timezone.now(), exclude_event=exclude_event)
        # A hold may reach beyond the span asked about, and its team must be free for all of it.
        first, last = min([starts, *(h.starts for h in holds)]), max([ends, *(h.ends for h in holds)])
        busy = busy_between(first, last, exclude_event=exclude_event, zone=zone)
        against: dict[int, str] = {}
        for one in busy:
            if one.meets(starts, ends):
                against.setdefault(one.member_id, one.why)
        skills = {member.pk: frozenset(crew_skills(member.skills)) for member in members}
        return cls(starts, ends, members, skills, busy, holds, against)

    @property
    def could(self) -> frozenset[int]:
        return frozenset(self.skills_of) - frozenset(self.against)

    def _need(self, hold: OpenHold) -> Need:
        away = {one.member_id for one in self.busy if one.meets(hold.starts, hold.ends)}
        return Need(hold.people, hold.skills, frozenset(self.skills_of) - away)

    def _moments(self) -> list[list[OpenHold]]:
        """The holds that stand at once, at each moment when one begins: nowhere between are there more."""
        begins = sorted({self.starts, *(hold.starts for hold in self.holds if hold.starts > self.starts)})
        return [[hold for hold in self.holds if hold.starts <= at < hold.ends] for at in begins]

    def fits(self, people: int, skills: Iterable[str]) -> bool:
        ours = Need(people, frozenset(skills), self.could)
        return all(
            find_teams([*(self._need(hold) for hold in holds), ours], self.skills_of) is not None
            for holds in self._moments()
        )

    def kept(self) -> dict[int, str]:
        """Whom the holds take of those who could come, at the moment when they take most."""
        most: dict[int, str] = {}
        for holds in self._moments():
            taken = {m: event for m, event in self._taken(holds).items() if m in self.could}
            most = max(most, taken, key=len)
        return most

    def _taken(self, holds: Sequence[OpenHold]) -> dict[int, str]:
        """Where not all holds can be met any more, as many as can, the earliest first."""
        met: list[OpenHold] = []
        teams: list[frozenset[int]] = []
        for hold in holds:
            found = find_teams([self._need(h) for h in (*met, hold)], self.skills_of, last=self.could)
            if found is not None:
                met, teams = [*met, hold], found
        return {m: hold.event.title for hold, team in zip(met, teams, strict=True) for m in team}


def busy_between(
    starts: datetime, ends: datetime, *, exclude_event: Event | None = None, zone: tzinfo | None = None
) -> list[Busy]:
    """Shifts and days away that meet the span, the earliest first. Times in `zone`, by default the studio's."""
    shifts = meeting(live_shifts(), starts, ends)
    if exclude_event is not None:
        shifts = shifts.exclude(event=exclude_event)
    found = [
        Busy(s.member_id, s.starts, s.ends, f"on {s.event.title} {times_words(s.starts, s.ends, zone)}", s.event_id)
        for s in shifts
    ]
    found += [
        Busy(a.member_id, a.starts, a.ends, f"away {away_words(a.starts, a.ends)}")
        for a in meeting(Absence.objects.all(), starts, ends)
    ]
    return sorted(found, key=lambda one: (one.starts, one.member_id))


def open_holds(
    starts: datetime, ends: datetime, *, now: datetime, exclude_event: Event | None = None
) -> list[OpenHold]:
    """What other events' holds still ask for; those with everybody on a shift ask for nobody."""
    holds = meeting(live_holds(now), starts, ends).order_by("starts", "pk")
    if exclude_event is not None:
        holds = holds.exclude(event=exclude_event)
    holds = list(holds)
    shifts = list(Shift.objects.filter(event__in=[hold.event_id for hold in holds]).select_related("member"))
    found = [_still_open(hold, [s for s in shifts if s.event_id == hold.event_id]) for hold in holds]
    return [hold for hold in found if hold.people or hold.skills]


def _still_open(hold: DayHold, shifts: Sequence[Shift]) -> OpenHold:
    there = {s.member for s in shifts if s.starts < hold.ends and s.ends > hold.starts}
    brought = {skill for member in there for skill in crew_skills(member.skills)} | {s.task for s in shifts}
    skills = frozenset(crew_skills(hold.skills)) - brought
    return OpenHold(hold.event, hold.starts, hold.ends, max(hold.people - len(there), 0), skills)


def vans_free(
    starts: datetime, ends: datetime, *, exclude_event: Event | None = None, now: datetime | None = None
) -> int:
    """The studio's vans less the most that are promised at once within the span. Below 0 when more are promised
    than there are. Raises ValueError naming `ends` when it is not after `starts`."""
    if ends <= starts:
        raise ValueError("ends must be after starts")
    holds = meeting(live_holds(now or timezone.now()), starts, ends)
    if exclude_event is not None:
        holds = holds.exclude(event=exclude_event)
    return _vans() - _most_at_once([(max(h.starts, starts), h.ends, h.vans) for h in holds])


def _vans() -> int:
    return Studio.objects.order_by("pk").values_list("vans", flat=True).first() or 0


def _most_at_once(spans: Sequence[tuple[datetime, datetime, int]]) -> int:
    return max((sum(n for s, e, n in spans if s <= at < e) for at, _, _ in spans), default=0)


@dataclass(frozen=True)
class DayLoad:
    """One day of the studio: `people_out` and `vans_out` are the most at once, `people_out` with those on shifts
    and those whom holds still ask for; `person_minutes` is the work of all events held or confirmed that day."""

    day: date
    people: int
    away: int
    people_out: int
    vans: int
    vans_out: int
    person_minutes: int
    holds: tuple[DayHold, ...]
    shifts: tuple[Shift, ...]


def day_bounds(day: date, zone: tzinfo | None = None) -> tuple[datetime, datetime]:
    """Local midnight to local midnight: 23 or 25 hours when clocks change."""
    zone = zone or timezone.get_current_timezone()
    return (
        datetime.combine(day, time.min, tzinfo=zone),
        datetime.combine(day + timedelta(days=1), time.min, tzinfo=zone),
    )


def day_load(day: date, *, now: datetime | None = None, zone: tzinfo | None = None) -> DayLoad:
    now = now or timezone.now()
    starts, ends = day_bounds(day, zone)
    holds = tuple(meeting(live_holds(now), starts, ends).order_by("starts", "pk"))
    shifts = tuple(meeting(live_shifts(), starts, ends))
    spans = [(max(s.starts, starts), s.ends, 1) for s in shifts]
    spans += [(max(h.starts, starts), h.ends, h.people) for h in open_holds(starts, ends, now=now)]
    return DayLoad(
        day=day,
        people=Member.objects.filter(active=True).count(),
        away=meeting(Absence.objects.filter(member__active=True), starts, ends).values("member").distinct().count(),
        people_out=_most_at_once(spans),
        vans=_vans(),
        vans_out=_most_at_once([(max(h.starts, starts), h.ends, h.vans) for h in holds]),
        person_minutes=sum(h.person_minutes for h in holds),
        holds=holds,
        shifts=shifts,
    )
