"""Who works, when they can't, and who is where."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from decor.studio.models import User
from decor.studio.versions import Changed, save_unchanged
from jobs.crew.capacity import live_shifts, meeting
from jobs.crew.clashes import Clash, clashes_for
from jobs.crew.models import Absence, DayHold, Member, Shift
from jobs.crew.skills import ORDER, crew_skills
from jobs.crew.words import span_words
from jobs.events.models import Event


def works_on(user: User, event_id: int) -> bool:
    """Whether this person has a shift on the event."""
    return Shift.objects.filter(event=event_id, member__user=user).exists()


def works_for(user: User, reservation_ids: set[int]) -> set[int]:
    """Those promises for whose events this person has a shift."""
    own = Shift.objects.filter(event__reservation__in=reservation_ids, member__user=user)
    return set(own.values_list("event__reservation_id", flat=True))


class Clashes(Exception):
    """What stood against a shift or an absence at the moment of saving."""

    def __init__(self, clashes: Sequence[Clash]) -> None:
        super().__init__(" ".join(clash.says for clash in clashes))
        self.clashes = list(clashes)

    @property
    def hard(self) -> list[Clash]:
        return [clash for clash in self.clashes if clash.weight == "no"]


@transaction.atomic
def member_add(
    *,
    name: str,
    phone: str = "",
    skills: Iterable[str] = (),
    wage_per_hour: Decimal | None = None,
    user: User | None = None,
) -> Member:
    if not name.strip():
        raise ValueError("name must not be empty")
    return Member.objects.create(
        name=name.strip(), phone=phone, skills=crew_skills(skills), wage_per_hour=wage_per_hour, user=user
    )


@transaction.atomic
def member_change(*, member: Member, version: int) -> Member:
    """`member` carries the new values. Raises Changed."""
    member.skills = crew_skills(member.skills)
    fields = ["name", "phone", "skills", "wage_per_hour", "user", "active"]
    save_unchanged(member, version=version, fields=fields)
    return member


@transaction.atomic
def absence_add(*, member: Member, starts: datetime, ends: datetime, note: str = "") -> Absence:
    """Raises Clashes naming each shift that stands in the way, ValueError naming `ends`."""
    _check_order(starts, ends)
    _lock(member)
    shifts = meeting(live_shifts().select_related("event__venue").filter(member=member), starts, ends)
    if shifts:
        raise Clashes([_shift_in_the_way(shift) for shift in shifts])
    return Absence.objects.create(member=member, starts=starts, ends=ends, note=note)


def _shift_in_the_way(shift: Shift) -> Clash:
    span = span_words(shift.starts, shift.ends, shift.event.zone)
    words = f"{shift.member.name} is on {shift.event.title}, {span}. Take them off that shift first."
    return Clash("place", "no", words, shift.event_id)


def absence_remove(*, absence: Absence) -> None:
    absence.delete()


@transaction.atomic
def shift_add(
    *,
    event: Event,
    member: Member,
    task: str,
    starts: datetime,
    ends: datetime,
    note: str = "",
    anyway: bool = False,
) -> Shift:
    """Raises Clashes: what can't be in any case, and, unless `anyway`, what should not. ValueError names `ends`
    or `task`."""
    shift = Shift(event=event, member=member, task=task, starts=starts, ends=ends, note=note)
    _check_shift(shift, anyway=anyway)
    shift.save()
    return shift


@transaction.atomic
def shift_change(*, shift: Shift, version: int, anyway: bool = False) -> Shift:
    """`shift` carries the new values. Raises Clashes, Changed, ValueError."""
    _check_shift(shift, anyway=anyway)
    save_unchanged(shift, version=version, fields=["member", "task", "starts", "ends", "note"])
    return shift


def _check_shift(shift: Shift, *, anyway: bool) -> None:
    _check_order(shift.starts, shift.ends)
    if shift.task not in ORDER:
        raise ValueError(f"task: there is no task called {shift.task}")
    # Two planners who put one person in two places at once meet here: the second waits, and then sees the first's.
    member = _lock(shift.member)
    event = Event.objects.select_related("venue").get(pk=shift.event_id)
    against = [
        clash
        for clash in clashes_for(
            event=event,
            member=member,
            task=shift.task,
            starts=shift.starts,
            ends=shift.ends,
            shift=shift if shift.pk else None,
        )
        if clash.weight == "no" or (clash.weight == "warn" and not anyway)
    ]
    if against:
        raise Clashes(against)


@transaction.atomic
def shift_remove(*, shift: Shift, version: int) -> None:
    """Raises Changed when somebody changed or took it away meanwhile."""
    gone, _ = Shift.objects.filter(pk=shift.pk, version=version).delete()
    if not gone:
        raise Changed(Shift.objects.filter(pk=shift.pk).first() or shift)


def _lock(member: Member) -> Member:
    return Member.objects.select_for_update().get(pk=member.pk)


def _check_order(starts: datetime, ends: datetime) -> None:
    if ends <= starts:
        raise ValueError("ends must be after starts")


@transaction.atomic
def day_hold_set(
    *,
    event: Event,
    starts: datetime,
    ends: datetime,
    people: int,
    skills: Iterable[str],
    vans: int,
    person_minutes: int,
    expires: datetime | None,
) -> DayHold:
    """What the event counts against the day, in place of what it counted before. `expires` None is confirmed.
    Raises ValueError naming the argument."""
    _check_order(starts, ends)
    for name, value in (("people", people), ("vans", vans), ("person_minutes", person_minutes)):
        if value < 0:
            raise ValueError(f"{name} must be 0 or more")
    hold, _ = DayHold.objects.update_or_create(
        event=event,
        defaults={
            "starts": starts,
            "ends": ends,
            "people": people,
            "skills": crew_skills(skills),
            "vans": vans,
            "person_minutes": person_minutes,
            "expires": expires,
        },
    )
    return hold


@transaction.atomic
def day_hold_confirm(*, event: Event) -> DayHold | None:
    """It no longer lapses. None where the event never held anything."""
    hold = DayHold.objects.select_for_update().filter(event=event).first()
    if hold is not None:
        hold.expires = None
        hold.save(update_fields=["expires"])
    return hold


def day_hold_drop(*, event: Event) -> None:
    DayHold.objects.filter(event=event).delete()
