"""Days and times as people say them, and a venue's local times as moments."""

import re
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

MONTHS = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"]
NOON = time(12)
LONGEST = timedelta(days=60)
FARTHEST_YEARS = 5
FIRST_YEAR, MOST_YEAR = 1970, 9000
"""Days outside are slips of the finger, and near the calendar's ends no time zone can be reckoned."""


def day_from(text: str, today: date) -> date:
    """2027-06-13, 13.6.2027, 13/6/27, 13 jun, Sat 13 June 2027, june 13, today, tomorrow. The day comes before
    the month; without a year it is the next such day. Raises ValueError."""
    words = re.sub(r"[.,/\-]", " ", text.strip().lower()).split()
    words = [w for w in words if w[:3] not in {"mon", "tue", "wed", "thu", "fri", "sat", "sun"}]
    if words in (["today"], ["tomorrow"]):
        return today + timedelta(days=words == ["tomorrow"])
    parts = [_month_or_number(w) for w in words]
    if not 2 <= len(parts) <= 3:
        raise ValueError("text must name a day and a month")
    if words[0].isdigit() and len(words[0]) == 4:
        parts.reverse()
    day, month, *year = parts if words[0][0].isdigit() else [parts[1], parts[0], *parts[2:]]
    if max(parts) > MOST_YEAR:
        raise ValueError("text must name a day of the calendar")
    if year:
        return date(year[0] + 2000 if year[0] < 100 else year[0], month, day)
    return _next_such(day, month, today)


def _month_or_number(word: str) -> int:
    if word[:3] in MONTHS:
        return MONTHS.index(word[:3]) + 1
    return int(re.sub(r"(?<=\d)(st|nd|rd|th)$", "", word))


def _next_such(day: int, month: int, today: date) -> date:
    """29 February may be up to eight years off."""
    for year in range(today.year, today.year + 9):
        try:
            found = date(year, month, day)
        except ValueError:
            continue
        if found >= today:
            return found
    raise ValueError("text must name a day that exists")


def time_from(text: str) -> time:
    """18:30, 18.30, 18h30, 1830, 6 pm, 6:30pm, noon, midnight. A bare 1 to 12 could be either half of the
    day, so it is refused. Raises ValueError."""
    text = text.strip().lower().replace(" ", "")
    if text in {"noon", "midnight"}:
        return NOON if text == "noon" else time(0)
    found = re.fullmatch(r"(\d{1,2})(?:[:.h]?(\d{2}))?(?::\d{2}(?:\.\d+)?)?h?(am|pm|a\.m\.|p\.m\.)?", text)
    if not found:
        raise ValueError("text must be a time such as 18:30")
    hour, minute, half = int(found[1]), int(found[2] or 0), (found[3] or "")[:1]
    if half:
        if not 1 <= hour <= 12:
            raise ValueError("text must be a time such as 6:30 pm")
        hour = hour % 12 + (12 if half == "p" else 0)
    elif found[2] is None and 1 <= hour <= 12:
        raise ValueError("text must say which half of the day")
    return time(hour, minute)


class Refused(ValueError):
    """A time that cannot be; `field` is the one to put right."""

    def __init__(self, field: str, words: str, *, twice: bool = False) -> None:
        super().__init__(words)
        self.field, self.words, self.twice = field, words, twice


@dataclass(frozen=True)
class Wanted:
    """As entered, local to the venue. A day that is None follows from the times; `second` tells which of two is
    meant when clocks go back."""

    date: date
    load_in: time
    doors: time
    ends: time
    strike: time
    load_in_date: date | None = None
    ends_date: date | None = None
    strike_date: date | None = None
    second: bool | None = None


@dataclass(frozen=True)
class Span:
    """Four moments in UTC, in order."""

    load_in: datetime
    doors: datetime
    ends: datetime
    strike: datetime


def dated(wanted: Wanted) -> Wanted:
    """With each day filled in. An end before noon and before doors is the small hours of the next day; a later
    one is more likely a slip. A strike earlier on the clock than the end is always the next day."""
    load_in_date = wanted.load_in_date or wanted.date
    ends_date = wanted.ends_date or wanted.date
    if wanted.ends_date is None and wanted.ends <= wanted.doors and wanted.ends <= NOON:
        ends_date += timedelta(days=1)
    strike_date = wanted.strike_date or ends_date + timedelta(days=wanted.strike < wanted.ends)
    return replace(wanted, load_in_date=load_in_date, ends_date=ends_date, strike_date=strike_date)


def span_of(wanted: Wanted, zone: ZoneInfo) -> Span:
    """Raises Refused with the field to put right."""
    full = dated(wanted)
    days = {"load_in": full.load_in_date, "doors": full.date, "ends": full.ends_date, "strike": full.strike_date}
    at = {name: moment(name, day, getattr(full, name), zone, second=full.second) for name, day in days.items()}
    span = Span(**at)
    _in_order(span, full)
    return span


def _in_order(span: Span, full: Wanted) -> None:
    if span.doors < span.load_in:
        raise Refused(
            "load_in",
            f"Load-in is after doors open at {full.doors:%H:%M}. If the crew comes the day before, give that day.",
        )
    if span.ends <= span.doors:
        hint = "" if full.ends_date != full.date else " If it ends on a later day, give that day."
        raise Refused("ends", f"It ends before doors open at {full.doors:%H:%M}.{hint}")
    if span.strike < span.ends:
        raise Refused("strike", f"The strike starts before it ends at {full.ends:%H:%M}.")
    if span.strike - span.load_in > LONGEST:
        raise Refused("strike", f"From load-in to strike is over {LONGEST.days} days. Check the days.")


def moment(field: str, day: date, at: time, zone: ZoneInfo, *, second: bool | None = None) -> datetime:
    """A local time as a moment in UTC. In the spring some local times do not exist, in the autumn some come
    twice; both are said rather than guessed. Raises Refused."""
    if not FIRST_YEAR <= day.year <= MOST_YEAR:
        raise Refused(field, f"{day.year} can't be the year. Check the day.")
    local = datetime.combine(day, at, tzinfo=zone)
    back = local.astimezone(UTC).astimezone(zone)
    if back.replace(tzinfo=None) != local.replace(tzinfo=None):
        raise Refused(
            field,
            f"Clocks go forward on {day.day} {day:%B}, so there is no {at:%H:%M} that day. The next time is "
            f"{back:%H:%M}.",
        )
    if local.replace(fold=1).utcoffset() != local.utcoffset():
        if second is None:
            raise Refused(
                field,
                f"Clocks go back on {day.day} {day:%B}, so {at:%H:%M} comes twice. Say below which one you mean.",
                twice=True,
            )
        local = local.replace(fold=int(second))
    return local.astimezone(UTC)


def wanted_of(span: Span, zone: ZoneInfo) -> Wanted:
    """The other way round, for changing what was booked."""
    local = {name: getattr(span, name).astimezone(zone) for name in ("load_in", "doors", "ends", "strike")}
    days = {f"{name}_date": at.date() for name, at in local.items() if name != "doors"}
    times = {name: at.time().replace(tzinfo=None, fold=0) for name, at in local.items()}
    # Only where a time really comes twice does anybody have to be asked which one it was.
    twice = [at for at in local.values() if at.replace(fold=0).utcoffset() != at.replace(fold=1).utcoffset()]
    real = [at for at in twice if _exists(at)]
    return Wanted(date=local["doors"].date(), **times, **days, second=bool(real[0].fold) if real else None)


def _exists(at: datetime) -> bool:
    return at.astimezone(UTC).astimezone(at.tzinfo).replace(tzinfo=None) == at.replace(tzinfo=None)


def to_plain(wanted: Wanted) -> dict[str, str]:
    """For a draft: ISO text, without what was left to follow from the times."""
    plain = {
        name: value.isoformat(timespec="minutes") if isinstance(value, time) else value.isoformat()
        for name, value in vars(wanted).items()
        if isinstance(value, date | time)
    }
    return plain if wanted.second is None else {**plain, "second": "second" if wanted.second else "first"}


def from_plain(plain: dict[str, str]) -> Wanted:
    """Raises KeyError or ValueError when something is missing or is no date or time."""
    days = {n: date.fromisoformat(plain[n]) for n in ("load_in_date", "ends_date", "strike_date") if plain.get(n)}
    times = {n: time.fromisoformat(plain[n]) for n in ("load_in", "doors", "ends", "strike")}
    second = {"first": False, "second": True}.get(plain.get("second", ""))
    return Wanted(date=date.fromisoformat(plain["date"]), **times, **days, second=second)


def left_open(wanted: Wanted) -> Wanted:
    """Without the days that follow from the times anyway, so that a form shows only what was really chosen."""
    bare = replace(wanted, load_in_date=None, ends_date=None, strike_date=None)
    for name in ("load_in_date", "ends_date", "strike_date"):
        if getattr(dated(bare), name) != getattr(wanted, name):
            bare = replace(bare, **{name: getattr(wanted, name)})
    return bare
