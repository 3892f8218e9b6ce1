"""The worst of what an answer stands on, as one sentence that a decorator would say on the phone."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from decor.studio.templatetags.desk import day_words
from jobs.crew.capacity import Staffing
from jobs.desk.stock import order_words, short_words
from jobs.desk.workday import Workday, called
from jobs.estimates.needs import StockLine
from jobs.events.times import Span

WORST = {"ok": 0, "warn": 1, "no": 2}
CAN = "You can take it"


@dataclass(frozen=True)
class Finding:
    kind: str
    says: str


def verdict_of(
    *,
    result: dict[str, Any],
    lines: Sequence[StockLine],
    crew: Sequence[Staffing],
    vans: int,
    work: Workday,
    span: Span,
    now: datetime,
    no_balloon: Sequence[str] = (),
) -> Finding:
    """Of equally bad ones the first in this order: time, people, van, stock."""
    found = [
        *_time(result, work, span, now),
        *_people(crew),
        *_vans(vans, work),
        *_missing(lines),
        *_bought(lines),
        *_colours(no_balloon),
        *_built(result),
    ]
    return max(found, key=lambda finding: WORST[finding.kind], default=Finding("ok", CAN))


def _time(result: dict[str, Any], work: Workday, span: Span, now: datetime) -> Iterator[Finding]:
    if span.doors <= now:
        yield Finding("no", "You can't: that day is past")
    elif work.starts < now:
        yield Finding("no", "You can't: the work would have to have begun already")
    for problem in result["problems"]:
        if problem["key"] != "van-door":
            yield Finding("no", f"You can't: {_in_a_sentence(problem['says'])}")


def _in_a_sentence(says: str) -> str:
    """ "The work takes" becomes "the work takes"; a piece's own title keeps its capital."""
    return says[:1].lower() + says[1:] if says.startswith("The ") else says


def _people(crew: Sequence[Staffing]) -> Iterator[Finding]:
    for at, staff in enumerate(crew):
        when = "that day" if at == 0 else "for the strike"
        if staff.missing:
            yield Finding("no", f"You can't: no {called(staff.missing)} {when}")
        elif staff.free < staff.asked:
            yield Finding("no", f"You can't: {staff.free} of {staff.asked} people {when}")
        elif not staff.fits:
            yield Finding("no", f"You can't: no {staff.asked} people {when} with all the skills it takes")


def _vans(vans: int, work: Workday) -> Iterator[Finding]:
    if work.vans > vans:
        yield Finding("no", "You can't: no van that day")


def _missing(lines: Sequence[StockLine]) -> Iterator[Finding]:
    for line in lines:
        if line.late and line.order_by is None:
            yield Finding("no", f"You can't: we have no {line.need.all_of_them}")
        elif line.late:
            yield Finding("no", f"You can't: {short_words(line)} short, and {order_words(line)} can't come in time")


def _bought(lines: Sequence[StockLine]) -> Iterator[Finding]:
    buy = [line for line in lines if line.order_by is not None and not line.late]
    if buy:
        first = min(line.order_by for line in buy if line.order_by is not None)
        words = [order_words(line) for line in buy]
        many = len(words) > 1 or buy[0].packs > 1
        what = words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
        yield Finding("warn", f"You can, if {what} {'are' if many else 'is'} ordered by {day_words(first)}")


def _colours(no_balloon: Sequence[str]) -> Iterator[Finding]:
    if no_balloon:
        colours = " or ".join(no_balloon)
        yield Finding("warn", f"You can, if they take another colour: we have no {colours} in the size it needs")


def _built(result: dict[str, Any]) -> Iterator[Finding]:
    for problem in result["problems"]:
        if problem["key"] == "van-door":
            title = problem["says"].split(":", 1)[0]
            yield Finding("warn", f"You can, if {title} is built at the venue: it is too large for the van's door")
