"""What speaks against one person's shift, said before it is saved."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from django.utils import timezone

from decor.studio.templatetags.desk import day_words
from jobs.crew.capacity import live_shifts, meeting
from jobs.crew.models import Absence, Member, Shift
from jobs.crew.skills import WORDS
from jobs.crew.words import away_words, span_words
from jobs.events.models import ENDED, Event

LONGEST_SHIFT = timedelta(hours=16)
STRIKE_MAY_BEGIN_WITHIN = timedelta(hours=12)


@dataclass(frozen=True)
class Clash:
    """`no` can't be saved; `warn` asks for a tick; `off` is only worth knowing."""

    kind: Literal["place", "away", "ended", "gone", "long", "skill", "span"]
    weight: Literal["no", "warn", "off"]
    says: str
    event_id: int | None = None


def clashes_for(
    *, event: Event, member: Member, task: str, starts: datetime, ends: datetime, shift: Shift | None = None
) -> list[Clash]:
    """The worst first. `shift` is the one being changed: it does not clash with itself. Times are told in the
    event's own zone, as they are entered."""
    found = [
        *_ended(event, member),
        *_elsewhere(event, member, starts, ends, shift),
        *_away(event, member, starts, ends),
        *_length(starts, ends),
        *_skill(member, task),
        *_span(event, starts, ends),
    ]
    return sorted(found, key=lambda clash: ["no", "warn", "off"].index(clash.weight))


def _ended(event: Event, member: Member) -> list[Clash]:
    found = []
    if event.stage in ENDED:
        found.append(Clash("ended", "no", f"{event.title} is {event.stage}: nobody can be put on it any more."))
    if not member.active:
        found.append(Clash("gone", "no", f"{member.name} no longer works here."))
    return found


def _elsewhere(event: Event, member: Member, starts: datetime, ends: datetime, shift: Shift | None) -> list[Clash]:
    others = meeting(live_shifts().select_related("event__venue").filter(member=member), starts, ends)
    if shift is not None:
        others = others.exclude(pk=shift.pk)
    return [
        Clash("place", "no", f"{member.name} is {_where(other, event)}: nobody is in two places.", other.event_id)
        for other in others
    ]


def _where(other: Shift, event: Event) -> str:
    span = span_words(other.starts, other.ends, event.zone)
    if other.event_id == event.pk:
        return f"already on this event, {other.get_task_display().lower()}, {span}"
    return f"on {other.event.title} at {other.event.venue.name}, {span}"


def _away(event: Event, member: Member, starts: datetime, ends: datetime) -> list[Clash]:
    days = meeting(Absence.objects.filter(member=member), starts, ends)
    # Days away are kept in the studio's zone, and read as whole days only there.
    return [Clash("away", "no", f"{member.name} is away {away_words(a.starts, a.ends)}.") for a in days]


def _length(starts: datetime, ends: datetime) -> list[Clash]:
    if ends - starts <= LONGEST_SHIFT:
        return []
    return [Clash("long", "warn", f"That is over {LONGEST_SHIFT // timedelta(hours=1)} hours without a break.")]


def _skill(member: Member, task: str) -> list[Clash]:
    if task in member.skills:
        return []
    return [Clash("skill", "warn", f"{member.name} has no tick at “{WORDS[task]}”.")]


def _span(event: Event, starts: datetime, ends: datetime) -> list[Clash]:
    if starts < event.load_in:
        return [Clash("span", "off", f"Begins before load-in, {_moment(event.load_in, event)}.")]
    if starts < event.strike < ends:
        return [Clash("span", "off", f"Goes on past the start of the strike, {_moment(event.strike, event)}.")]
    if starts > event.strike + STRIKE_MAY_BEGIN_WITHIN:
        return [Clash("span", "off", f"Begins long after the strike, {_moment(event.strike, event)}.")]
    return []


def _moment(at: datetime, event: Event) -> str:
    local = timezone.localtime(at, event.zone)
    return f"{day_words(local)} {local:%H:%M}"
