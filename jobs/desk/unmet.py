"""What an event needs beyond what is promised to it: noted when a promise could not follow, told to the store, and
weighed anew wherever it is told."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Exists, OuterRef
from django.urls import reverse
from django.utils import timezone

from inventory import unpromised
from inventory.models import Item, Reservation, ReservationLine
from inventory.unpromised import Need, Weighed
from jobs.desk.models import Unmet
from jobs.estimates.needs import StockNeed
from jobs.events.models import Event, Stage

FOLLOWING = (Stage.ENQUIRY, Stage.QUOTED, Stage.CONFIRMED, Stage.IN_PRODUCTION)

Lines = Mapping[int, int]
Others = Mapping[int, Iterable[int]]


def alive(event: Event) -> bool:
    """Whether a promise counts for it and still follows what it needs."""
    promise = event.reservation
    if promise is None or event.stage not in FOLLOWING:
        return False
    if promise.state == Reservation.State.HOLD:
        return promise.expires is not None and promise.expires > timezone.now()
    return bool(promise.state == Reservation.State.CONFIRMED)


def unmet_note(*, event: Event, beyond: Lines, others: Others | None = None) -> None:
    """`beyond` is all that is needed more than is promised, whether it is free just now or not; none of it takes an
    earlier note away. `others` are items that would serve as well, by the item that is named."""
    if not beyond:
        Unmet.objects.filter(event=event).delete()
        return
    names = Item.objects.in_bulk(beyond)
    lines = [
        {"item": pk, "name": names[pk].name, "more": more, "or": sorted(set((others or {}).get(pk, ())) - {pk})}
        for pk, more in sorted(beyond.items())
    ]
    row = Unmet.objects.filter(event=event).first()
    if row is None:
        Unmet.objects.create(event=event, beyond=lines)
    elif row.beyond != lines:
        # Not otherwise: the store follows often, and `since` is when this came to be.
        row.beyond, row.since = lines, timezone.now()
        row.save()


def beyond(wanted: Iterable[tuple[int, int]], held: Lines) -> dict[int, int]:
    return {pk: n - held.get(pk, 0) for pk, n in wanted if n > held.get(pk, 0)}


def others_of(needs: Iterable[StockNeed]) -> dict[int, list[int]]:
    """{item id: all that serve where it does}, of what is promised without being named."""
    kinds = [need for need in needs if need.what != "latex" and not need.named]
    return {choice.id: [other.id for other in need.choices] for need in kinds for choice in need.choices}


def waiting() -> list[Unmet]:
    """Of events whose promise counts, the nearest event first."""
    rows = Unmet.objects.filter(event__stage__in=FOLLOWING, event__reservation__isnull=False)
    rows = rows.select_related("event__reservation", "event__venue")
    rows = rows.annotate(some=Exists(ReservationLine.objects.filter(reservation=OuterRef("event__reservation"))))
    return [row for row in rows.order_by("event__reservation__starts", "event__reservation") if alive(row.event)]


def needs() -> list[Need]:
    """For the store: of every event that has a promise and needs something beside it."""
    return _needs(waiting())


def _needs(rows: Iterable[Unmet]) -> list[Need]:
    rows = list(rows)
    ids = {line["item"] for row in rows for line in row.beyond}
    items = Item.objects.filter(active=True).in_bulk(ids) if ids else {}
    lines = [(row, line) for row in rows for line in row.beyond if line["item"] in items]
    return [_need(row.event, items[line["item"]], line["more"], bare=not row.some) for row, line in lines]


def _need(event: Event, item: Item, more: int, *, bare: bool) -> Need:
    promise = event.reservation
    assert promise is not None
    return Need(
        item.pk,
        more,
        promise.starts,
        promise.ends,
        f"{event.number} {event.title}",
        reverse("jobs:event-stock", args=[event.pk]),
        promise.state == Reservation.State.HOLD,
        promise.pk,
        item.name,
        bare=bare,
    )


@dataclass(frozen=True)
class Beyond:
    """How what an event needs beyond its promise stands at a moment."""

    told: tuple[Weighed, ...]

    @property
    def lacking(self) -> dict[int, int]:
        return {one.need.item_id: one.lacks for one in self.told if one.lacks}

    @property
    def spoken_for(self) -> dict[int, int]:
        return {one.need.item_id: one.spoken_for for one in self.told if one.spoken_for}

    @property
    def lacks(self) -> str:
        """2 of Pole; 12 of white, 5 in"""
        return "; ".join(f"{one.lacks:,} of {one.need.name}" for one in self.told if one.lacks)

    @property
    def more(self) -> str:
        """All of it, free or not: 6 more of Pole."""
        return "; ".join(f"{one.need.quantity:,} more of {one.need.name}" for one in self.told)

    @property
    def in_part(self) -> bool:
        """Whether a hold has all that was free for it: none of what it needs beyond that is there."""
        return all(one.need.on_hold and one.lacks == one.need.quantity for one in self.told)

    @property
    def bare(self) -> bool:
        """Nothing of all that it needs was free, so nothing is held yet."""
        return all(one.need.bare for one in self.told)

    @property
    def kept(self) -> str:
        if self.bare:
            return "nothing is held yet"
        return "what was free is held" if self.in_part else "what was promised before is kept"

    @property
    def says(self) -> str:
        if self.lacks:
            return f"Missing: {self.lacks}. {self.kept[:1].upper()}{self.kept[1:]}."
        return f"It needs {self.more} than is promised, and all of that is free now."


def beyond_now(
    event_ids: Iterable[int], *, now: datetime | None = None, weighed: Iterable[Weighed] | None = None
) -> dict[int, Beyond]:
    """{event id: how it stands}, only of events that need something beyond a promise that counts. `weighed` is what the
    store said of all that wait, where it is at hand."""
    wanted, now = set(event_ids), now or timezone.now()
    rows = waiting() if wanted else []
    promises = {row.event.reservation_id: row.event_id for row in rows if row.event_id in wanted}
    if not promises:
        return {}
    found: dict[int, list[Weighed]] = {}
    for one in unpromised.weighed(now=now) if weighed is None else weighed:
        if one.need.promise in promises:
            found.setdefault(promises[one.need.promise], []).append(one)
    return {event_id: Beyond(tuple(told)) for event_id, told in found.items()}
