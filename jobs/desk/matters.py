"""What is still open about many events at once, in a handful of queries however many there are."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils import timezone

from decor.studio.templatetags.desk import plural
from inventory.models import Reservation
from inventory.unpromised import Weighed
from jobs.crew.models import Shift
from jobs.designs.kinds import all_kinds
from jobs.designs.models import Piece
from jobs.desk.unmet import Beyond, beyond_now
from jobs.estimates.models import Estimate
from jobs.events.models import ENDED, Event, Stage
from jobs.proofs.models import Proof

OPEN, PROMISED = (Stage.ENQUIRY, Stage.QUOTED), (Stage.CONFIRMED, Stage.IN_PRODUCTION)
SETTLE_FROM = 20
"""Below this, a matter is only told; from here on it waits for the planner."""
CREW_BY = timedelta(days=14)


@dataclass(frozen=True)
class Matter:
    state: str
    words: str
    urgency: int
    of_hold: bool = False


@dataclass
class Line:
    """An event as a list shows it; `chip` is the most urgent of its open matters."""

    event: Event
    pieces: str
    matters: list[Matter]

    @property
    def doors(self) -> datetime:
        return timezone.localtime(self.event.doors, self.event.zone)

    @property
    def chip(self) -> Matter | None:
        return self.matters[0] if self.matters else None

    @property
    def to_settle(self) -> list[Matter]:
        return [m for m in self.matters if m.urgency >= SETTLE_FROM]


def lines_of(events: Sequence[Event], now: datetime, weighed: Sequence[Weighed] | None = None) -> list[Line]:
    """`events` come with their venue and reservation; `weighed` is what all events that wait lack, if it is at hand."""
    ids = [event.pk for event in events]
    pieces: dict[int, list[tuple[str, int]]] = defaultdict(list)
    for event_id, kind, count in Piece.objects.filter(event__in=ids).values_list("event_id", "kind", "count"):
        pieces[event_id].append((kind, count))
    # Newest last, so that it is the one that stays.
    proofs = {p.event_id: p for p in Proof.objects.filter(event__in=ids).defer("payload").order_by("version")}
    crewed = set(Shift.objects.filter(event__in=ids).values_list("event_id", flat=True))
    priced = set(
        Estimate.objects.filter(event__in=ids, finished__isnull=False).order_by().values_list("event_id", flat=True)
    )
    beyond = beyond_now(ids, now=now, weighed=weighed)
    lines = []
    for event in events:
        found = [
            _beyond(beyond.get(event.pk)),
            _hold(event, event.reservation, now),
            _proof(event, proofs.get(event.pk), now),
            _crew(event, now, crewed=event.pk in crewed),
            _plan(pieces=bool(pieces[event.pk]), priced=event.pk in priced or event.pk in proofs),
            _over(event, now),
        ]
        known = [] if event.stage in ENDED else sorted(filter(None, found), key=lambda m: -m.urgency)
        lines.append(Line(event, pieces_words(pieces[event.pk]), known))
    return lines


def pieces_words(pieces: list[tuple[str, int]]) -> str:
    """picture panel, 2 columns of clusters"""
    counts: dict[str, int] = defaultdict(int)
    for kind, count in pieces:
        counts[kind] += count
    words = []
    for key, kind in all_kinds().items():
        if number := counts.get(key):
            words.append(kind.NAME.lower() if number == 1 else f"{number} {kind.PLURAL.lower()}")
    return ", ".join(words)


def _hold(event: Event, promise: Reservation | None, now: datetime) -> Matter | None:
    if promise is None or promise.state == Reservation.State.RELEASED:
        return Matter("warn", "Stock not held", 75) if event.stage in PROMISED else None
    if promise.state in (Reservation.State.CONFIRMED, Reservation.State.SETTLED):
        return None
    if promise.expires <= now:
        return Matter("warn", "Hold lapsed", 60, of_hold=True)
    until = timezone.localtime(promise.expires, event.zone)
    soon = promise.expires - now < timedelta(days=1)
    words = f"On hold to {until:%H:%M}" if soon else f"On hold to {until:%a} {until.day}"
    return Matter("wait", words, 62 if soon else 30, of_hold=True)


def _beyond(stands: Beyond | None) -> Matter | None:
    """It needs more than is promised to it."""
    if stands is None:
        return None
    lacking = list(stands.lacking.values())
    if not lacking:
        return Matter("wait", "Free now: promise it", 68)
    # A chip is short; the event's own page names them.
    words = f"{lacking[0]:,} missing" if len(lacking) == 1 else f"{len(lacking)} things missing"
    return Matter("warn", words, 73)


def _proof(event: Event, proof: Proof | None, now: datetime) -> Matter | None:
    if proof is None or event.stage not in OPEN:
        return None
    if proof.state == Proof.State.APPROVED:
        return Matter("wait", "Approved: confirm", 80)
    if proof.state == Proof.State.CHANGE:
        return Matter("warn", "Change asked for", 70)
    if proof.state == Proof.State.DECLINED:
        return Matter("no", "Declined", 65)
    if proof.valid_until < timezone.localtime(now, event.zone).date():
        return Matter("no", "Offer ran out", 50)
    return Matter("off", "No answer", 10)


def _crew(event: Event, now: datetime, *, crewed: bool) -> Matter | None:
    if crewed or event.stage not in PROMISED:
        return None
    near = event.load_in - now < CREW_BY
    return Matter("no" if near else "warn", "Nobody on it", 72 if near else 25)


def _plan(*, pieces: bool, priced: bool) -> Matter | None:
    if not pieces:
        return Matter("none", "No pieces yet", 24)
    return None if priced else Matter("none", "No price yet", 22)


def _over(event: Event, now: datetime) -> Matter | None:
    if event.strike > now:
        return None
    return Matter("warn", "Over: say how it ended" if event.stage in OPEN else "Over: close it", 40)


def things_words(matters: Sequence[object]) -> str:
    return plural(len(matters), "thing to settle,things to settle")
