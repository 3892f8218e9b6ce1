"""A promise follows the design: what a changed event needs more or less is reserved or given back at once, or what is
missing is said and the old promise is kept whole.

The pages of a design say it through `jobs.designs.changed`; strokes of the chart editor and finished estimates leave
it to the worker."""

import secrets
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from django.db import transaction
from django.utils import timezone

from decor.studio import commands
from decor.studio.background import Progress, job_request
from decor.studio.models import BackgroundJob
from inventory.models import Item, Reservation
from inventory.services import Shortage, reservation_change
from jobs.crew.models import DayHold
from jobs.crew.services import day_hold_set
from jobs.designs.editor import commands as editor
from jobs.designs.models import Piece
from jobs.designs.sheets import keeping
from jobs.desk.models import Unmet
from jobs.desk.unmet import alive, beyond, beyond_now, others_of, unmet_note
from jobs.desk.workday import workday_of
from jobs.estimates import services as estimates
from jobs.estimates.inputs import background_now, event_input
from jobs.estimates.models import Estimate
from jobs.estimates.needs import hold_lines, needs_of_input
from jobs.events.models import Event
from jobs.events.services import event_lock
from jobs.events.shelf import StockSpan

KIND = "promise"
ESTIMATED = "estimated"
"""The job in which stock and hours follow an estimate that was worked out."""
WAITING = "waiting"
"""The job in which all that wait are followed (jobs/desk/waiting.py)."""
MOST_TRIES = 4
MOST_NAMED = 4
"""Balloons of so many colours are named one by one."""
CANNOT = "What it needs now can't be worked out; what was promised before is kept."
SOON = "The store follows in a moment."
BUSY = "Somebody else is changing this event; what is reserved follows with their change."

Lines = dict[int, int]


@dataclass(frozen=True)
class Followed:
    """`more` and `fewer` are {item id: pieces}; with `missing` nothing else was changed. `bare`: nothing was promised
    before."""

    more: Lines
    fewer: Lines
    missing: Lines
    on_hold: bool = False
    bare: bool = False

    @property
    def says(self) -> str:
        names = Item.objects.in_bulk([*self.more, *self.fewer, *self.missing])
        if self.missing:
            verb = "is" if sum(self.missing.values()) == 1 else "are"
            kept = "nothing is held yet" if self.bare else "what was promised before is kept"
            return f"{_listed(self.missing, names, 'of')} {verb} missing; {kept}."
        kept = "held" if self.on_hold else "reserved"
        words = f"Kept for it: {_listed(self.more, names, 'more')} {kept}." if self.more else ""
        if self.fewer:
            are = "is" if sum(self.fewer.values()) == 1 else "are"
            words += f" {_listed(self.fewer, names, 'of')} {are} free for others again."
        return words.strip()


def _listed(lines: Lines, names: dict[int, Item], word: str) -> str:
    """Each by its name; balloons of many colours, as a photograph takes them, in one sum."""
    balloons = {pk: number for pk, number in lines.items() if names[pk].kind == Item.Kind.LATEX}
    together = balloons if len(balloons) > MOST_NAMED else {}
    said = [f"{n:,} {word} {names[pk].name}" for pk, n in sorted(lines.items()) if pk not in together]
    if together:
        more = " more" if word == "more" else ""
        said.insert(0, f"{sum(together.values()):,}{more} balloons of {len(together)} colours")
    return "; ".join(said)


def followed_words(event_id: int) -> tuple[str, bool]:
    """For the page that changed the design: what that did to the promise, and whether all is well."""
    event = _promised(event_id)
    if event is None:
        return "", True
    try:
        done = event_follow(event=event)
    except ValueError:
        return CANNOT, False
    return (done.says, not done.missing) if done else (BUSY, True)


def standing_words(event_id: int) -> tuple[str, str]:
    """Beside a chart that is being painted: whether the promise lags behind."""
    event = _promised(event_id)
    if event is None:
        return "", ""
    jobs = BackgroundJob.objects.filter(state__in=(BackgroundJob.State.QUEUED, BackgroundJob.State.RUNNING))
    if jobs.filter(kind=KIND, subject_id=event_id).exists():
        return "wait", SOON
    stands = beyond_now([event_id]).get(event_id)
    if stands is None:
        return "", ""
    if stands.lacks:
        return "warn", stands.says
    return "wait", SOON if jobs.filter(kind=WAITING).exists() else stands.says


def _promised(event_id: int) -> Event | None:
    """The event while a promise counts for it."""
    event: Event | None = Event.objects.select_related("reservation", "venue").filter(pk=event_id).first()
    return event if event is not None and alive(event) else None


def event_follow(*, event: Event) -> Followed | None:
    """Makes the promise that which the design asks for now, over the span that it has. With a shortage the old one
    stays whole and what is needed beyond it is noted. Raises ValueError in words where the design can't be worked out;
    None where others change it faster than it can be followed."""
    for _ in range(MOST_TRIES):
        # Worked out before anything is locked: a large panel takes a while.
        seen = design_mark(event.pk)
        wanted, others = _wanted(event)
        with transaction.atomic():
            row = event_lock(event.pk)
            if not alive(row):
                Unmet.objects.filter(event=row).delete()
                return Followed({}, {}, {})
            if design_mark(event.pk) != seen:
                continue
            done = _changed(row, wanted, others)
        return _as_weighed(event, done) if done.missing else done
    return None


def _as_weighed(event: Event, done: Followed) -> Followed:
    """As every other page tells it from now on: what is free is counted for whoever waited for it before as well."""
    stands = beyond_now([event.pk]).get(event.pk)
    return replace(done, missing=stands.lacking) if stands and stands.lacking else done


def design_mark(event_id: int) -> tuple[Any, ...]:
    """Is another one as soon as a piece or its chart is."""
    rows = Piece.objects.filter(event=event_id).order_by("pk")
    return tuple(rows.values_list("pk", "version", "panel__version", "panel__plan"))


def _wanted(event: Event) -> tuple[Lines, dict[int, list[int]]]:
    """Nothing where the last piece was taken out. Beside it, what else would serve for an item that is named."""
    pieces = list(Piece.objects.filter(event=event).select_related("panel", "event__venue"))
    promise = event.reservation
    if not pieces or promise is None:
        return {}, {}
    background = background_now()
    needs = needs_of_input(event_input(event, background, pieces=pieces), background.catalogue, background.store)
    held = _lines(promise)
    span = StockSpan(promise.starts, promise.ends)
    lines = hold_lines(needs, span, now=timezone.now(), exclude=promise, partly=False, held=held)
    return dict(lines), others_of(needs)


def _changed(event: Event, wanted: Lines, others: dict[int, list[int]]) -> Followed:
    promise = event.reservation
    assert promise is not None
    before = _lines(promise)
    on_hold = promise.state == Reservation.State.HOLD
    if wanted == before:
        Unmet.objects.filter(event=event).delete()
        return Followed({}, {}, {}, on_hold)
    try:
        with transaction.atomic():
            reservation_change(
                reservation=promise, lines=list(wanted.items()), starts=promise.starts, ends=promise.ends
            )
    except Shortage as shortage:
        unmet_note(event=event, beyond=beyond(wanted.items(), before), others=others)
        missing = {line.item_id: line.short for line in shortage.lines}
        return Followed({}, {}, missing, on_hold, bare=not before)
    Unmet.objects.filter(event=event).delete()
    now = _lines(promise)
    more = {pk: n - before.get(pk, 0) for pk, n in now.items() if n > before.get(pk, 0)}
    fewer = {pk: n - now.get(pk, 0) for pk, n in before.items() if n > now.get(pk, 0)}
    return Followed(more, fewer, {}, on_hold)


def _lines(promise: Reservation) -> Lines:
    return dict(promise.lines.values_list("item_id", "quantity"))


def follow_later(*, event_id: int) -> None:
    """By the worker, soon. One that waits already will see this change as well."""
    if _promised(event_id) is None:
        return
    with transaction.atomic():
        if not job_waits(KIND, event_id):
            job_request(kind=KIND, subject_id=event_id, input_key=secrets.token_hex(16))


def job_waits(kind: str, subject_id: int) -> bool:
    """Whether one is queued that will see what this transaction writes. Those that are done go: an afternoon's strokes
    would leave hundreds of them."""
    states = (BackgroundJob.State.QUEUED, BackgroundJob.State.DONE)
    mine = BackgroundJob.objects.filter(kind=kind, subject_id=subject_id)
    # The queued one stays locked, or the worker might begin before this is committed, and not see it. One that
    # somebody else has locked is not waited for: whoever waits here holds items that the other may want.
    rows = mine.filter(state__in=states).select_for_update(skip_locked=True, no_key=True).values_list("pk", "state")
    there = list(rows)
    BackgroundJob.objects.filter(pk__in=[pk for pk, state in there if state == BackgroundJob.State.DONE]).delete()
    return any(state == BackgroundJob.State.QUEUED for _, state in there)


def follow_compute(event_id: int, progress: Progress) -> Callable[[], None]:
    """For the worker. All of it is done in the write: what is locked there must be read there."""
    return lambda: follow_quietly(event_id)


def follow_quietly(event_id: int) -> None:
    """A design that can't be worked out is said on its own pages; the old promise stands."""
    event = _promised(event_id)
    if event is None:
        return
    try:
        event_follow(event=event)
    except ValueError:
        return


def chart_paint(told: commands.Command) -> dict[str, Any]:
    """A stroke of the chart editor; the promise follows a moment later. Raises what the editor raises."""
    answer = editor.chart_paint(told)
    event_id = Piece.objects.filter(panel=answer["panel"]).values_list("event_id", flat=True).first()
    if event_id is not None:
        follow_later(event_id=event_id)
    return answer


def estimate_compute(estimate_id: int, progress: Progress) -> Callable[[], None]:
    """The worker's estimate, after which stock and hours are those that it came to."""
    write = estimates.estimate_compute(estimate_id, progress)

    def write_and_follow() -> None:
        write()
        event_id = Estimate.objects.filter(pk=estimate_id).values_list("event_id", flat=True).first()
        if event_id is not None and _promised(event_id) is not None:
            # A job of its own: no trouble with a promise can cost the figures, and a worker that is lost between the
            # two leaves the second to the next one.
            job_request(kind=ESTIMATED, subject_id=estimate_id, input_key="follow")

    return write_and_follow


def estimated_compute(estimate_id: int, progress: Progress) -> Callable[[], None]:
    """For the worker, once the figures are there."""
    return lambda: estimate_follow(estimate_id=estimate_id)


def plan_compute(panel_id: int, progress: Progress) -> Callable[[], None]:
    """The worker's better sheet plan, which may take fewer sheets."""
    write = keeping.plan_compute(panel_id, progress)

    def write_and_follow() -> None:
        write()
        event_id = Piece.objects.filter(panel=panel_id).values_list("event_id", flat=True).first()
        if event_id is not None:
            follow_later(event_id=event_id)

    return write_and_follow


def estimate_follow(*, estimate_id: int) -> None:
    estimate = Estimate.objects.filter(pk=estimate_id, result__isnull=False).first()
    event = _promised(estimate.event_id) if estimate else None
    if estimate is None or estimate.result is None or event is None:
        return
    follow_quietly(event.pk)
    hold = DayHold.objects.filter(event=event).first()
    newest = estimates.newest_estimate(event)
    if hold is None or newest is None or newest.pk != estimate.pk:
        return
    work = workday_of(estimate.result, doors=event.doors, strike=event.strike)
    starts, ends = work.spans[0]
    day_hold_set(
        event=event,
        starts=starts,
        ends=ends,
        people=work.people,
        skills=work.skills,
        vans=work.vans,
        person_minutes=work.person_minutes,
        expires=hold.expires,
    )
