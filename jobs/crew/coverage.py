"""Does an event have the people and the skills that it asks for?"""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils import timezone

from jobs.crew.models import DayHold, Shift
from jobs.crew.skills import crew_skills
from jobs.estimates.models import Estimate
from jobs.events.models import Event

LOOKED_FOR = [("lead", "Lead"), ("drive", "Driver"), ("rig", "Rigger")]


@dataclass(frozen=True)
class Cover:
    """One line of the summary: a kind of the chip, its word, and who it is."""

    what: str
    skill: str
    state: str
    state_words: str
    says: str


@dataclass(frozen=True)
class Wanted:
    """How many people, with which skills, for how many minutes; people None where nobody has worked it out."""

    people: int | None
    skills: frozenset[str]
    person_minutes: int


@dataclass(frozen=True)
class Coverage:
    wanted: Wanted
    people: int
    lines: tuple[Cover, ...]

    @property
    def short(self) -> int:
        return max((self.wanted.people or 0) - self.people, 0)

    @property
    def missing(self) -> list[Cover]:
        return [line for line in self.lines if line.state in {"warn", "no"}]

    @property
    def complete(self) -> bool:
        return self.people > 0 and not self.short and not self.missing


def wanted_of(event: Event) -> Wanted:
    """What the hold asks for, else what the newest finished estimate says."""
    hold = DayHold.objects.filter(event=event).first()
    if hold:
        return Wanted(hold.people, frozenset(crew_skills(hold.skills)), hold.person_minutes)
    parts = ("result__people", "result__skills", "result__person_minutes_middle")
    found = Estimate.objects.filter(event=event, result__isnull=False).values_list(*parts).first()
    if found is None or found[0] is None:
        return Wanted(None, frozenset(), 0)
    return Wanted(found[0], frozenset(crew_skills(found[1] or [])), round(found[2] or 0))


def coverage_of(event: Event, shifts: Sequence[Shift]) -> Coverage:
    wanted = wanted_of(event)
    lines = [_cover(skill, what, shifts, wanted) for skill, what in LOOKED_FOR]
    return Coverage(wanted, len({shift.member_id for shift in shifts}), (*lines, _strike(event, shifts)))


def _strike(event: Event, shifts: Sequence[Shift]) -> Cover:
    """Told, never urged: shifts up to doors come first, and whoever takes it down is often settled last."""
    there = _names(shift for shift in shifts if shift.starts <= event.strike < shift.ends)
    at = f"{timezone.localtime(event.strike, event.zone):%H:%M}"
    if there:
        return Cover("Strike", "", "ok", "There", there)
    return Cover("Strike", "", "none", "Not yet", f"nobody is there at {at}")


def _cover(skill: str, what: str, shifts: Sequence[Shift], wanted: Wanted) -> Cover:
    """Somebody put on for it counts, and so does somebody there who can; but who leads must have been said."""
    named = _names(shift for shift in shifts if shift.task == skill)
    if named:
        return Cover(what, skill, "ok", "Named", named)
    able = _names(shift for shift in shifts if skill in shift.member.skills)
    needed = skill == "lead" or skill in wanted.skills
    if able and skill != "lead":
        return Cover(what, skill, "ok", "Can", f"{able}, with another task")
    if able:
        return Cover(what, skill, "warn", "Not named", f"nobody leads yet; {able} could")
    if needed and shifts:
        return Cover(what, skill, "warn", "Missing", "nobody on this event")
    return Cover(what, skill, "none", "Not yet" if needed else "Not asked", "nobody on this event")


def _names(shifts: Sequence[Shift]) -> str:
    return ", ".join(dict.fromkeys(shift.member.name for shift in shifts))
