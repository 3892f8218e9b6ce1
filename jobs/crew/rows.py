from django.urls import reverse

from decor.studio.templatetags.desk import hours, plural
from jobs.crew.coverage import Coverage, coverage_of
from jobs.crew.models import Shift
from jobs.crew.words import span_words
from jobs.events.models import ENDED, Event, Stage
from jobs.events.rows import Row

PROMISED = (Stage.CONFIRMED, Stage.IN_PRODUCTION)
URGENT, SOON = 50, 15


def glance_row(event: Event) -> Row:
    """How the crew stands on one event, for its page."""
    shifts = list(Shift.objects.filter(event=event).select_related("member"))
    coverage = coverage_of(event, shifts)
    url = reverse("jobs:event-crew", args=[event.pk])
    state, words = _state(coverage)
    open_matter = state != "ok" and event.stage not in ENDED
    promised = event.stage in PROMISED
    return Row(
        what="Crew",
        stands=_stands(coverage),
        small=_small(event, shifts, coverage),
        state=state,
        state_words=words,
        url=url,
        act=(_act(coverage), url) if open_matter and (promised or shifts) else None,
        urgency=(URGENT if promised else SOON) if open_matter and (promised or shifts) else 0,
    )


def _stands(coverage: Coverage) -> str:
    wanted = coverage.wanted
    if wanted.people is None:
        return plural(coverage.people, "person,people") if coverage.people else "Nobody yet"
    time = f"{hours(wanted.person_minutes)} for " if wanted.person_minutes else ""
    return f"{time}{plural(wanted.people, 'person,people')}"


def _small(event: Event, shifts: list[Shift], coverage: Coverage) -> str:
    if not shifts:
        return "nobody put on yet" if coverage.wanted.people is not None else ""
    names = ", ".join(dict.fromkeys(shift.member.name for shift in shifts))
    missing = "".join(f"; {line.what.lower()}: {line.says}" for line in coverage.missing)
    first = span_words(min(s.starts for s in shifts), max(s.ends for s in shifts), event.zone)
    return f"{names}; {first}{missing}"


def _state(coverage: Coverage) -> tuple[str, str]:
    if not coverage.people:
        return "none", "Not yet"
    if coverage.short:
        return "warn", f"{coverage.short} more"
    if coverage.missing:
        return "warn", f"No {coverage.missing[0].what.lower()}"
    return "ok", "Fits"


def _act(coverage: Coverage) -> str:
    if coverage.people and not coverage.short and coverage.missing:
        return f"Name a {coverage.missing[0].what.lower()}"
    more = coverage.short if coverage.people else coverage.wanted.people or 0
    return f"Put {plural(more, 'person,people')} on it" if more else "Put people on it"
