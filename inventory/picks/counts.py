"""Counting the store bin by bin: what lies where, when it was last counted, and what was moved since."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime

from django.db.models import F, Max, OuterRef, Subquery, Sum
from django.db.models.functions import Coalesce
from django.utils import timezone

from decor.studio.models import User
from inventory import ledger, places, whose
from inventory.models import Count, Item, Movement, Reservation, ReservationLine
from inventory.shown import capital, day_words

K = Movement.Kind
EVER = datetime(1, 1, 2, tzinfo=UTC)
MOST_PARTS = 6
"""More kinds of movement than this are read in the item's ledger (studio default)."""
STORE_WORDS = {
    K.RECEIVED: ("came in", "taken off again"),
    K.PICKED: ("put back", "picked"),
    K.BACK: ("came back", "taken out again"),
    K.THROWN: ("put back", "thrown away"),
    K.COUNTED: ("more by a count", "fewer by a count"),
    K.CORRECTED: ("more by a correction", "fewer by a correction"),
}
GONE_WORDS = {K.USED: "used", K.BURST: "burst", K.THROWN: "thrown away", K.LOST: "lost", K.WORN: "worn out"}


@dataclass(frozen=True)
class CountBin:
    """`item_id` is one of those that lie there, and so the bin's address. `last` is the oldest last count."""

    name: str
    item_id: int
    items: int
    last: str
    never: int

    @property
    def words(self) -> str:
        return self.name or "Without a place"


@dataclass(frozen=True)
class CountRow:
    item: Item
    said: int
    rgb: str
    last: str
    since: str

    @property
    def words(self) -> str:
        return capital(self.item.name)


def countable(user: User, now: datetime) -> Iterable[int] | None:
    """Which items this person may count: crew those of their own events; None for all."""
    if user.is_staff_role:
        return None
    lines = ReservationLine.objects.filter(counts=True, reservation__state=Reservation.State.CONFIRMED)
    rows = list(lines.values_list("reservation_id", "item_id"))
    mine = whose.openable(user, [reservation for reservation, _ in rows])
    return {item for reservation, item in rows if reservation in mine}


def _items(user: User, now: datetime) -> list[Item]:
    ids = countable(user, now)
    items = Item.objects.filter(active=True)
    return list((items if ids is None else items.filter(pk__in=ids)).order_by("name"))


def count_bins(user: User, now: datetime) -> list[CountBin]:
    """In the order of the walk."""
    order, by_bin = places.walk_order(), {}
    for item in _items(user, now):
        by_bin.setdefault(item.bin.casefold(), []).append(item)
    ids = [item.pk for items in by_bin.values() for item in items]
    counted = Count.objects.filter(item__in=ids).order_by().values_list("item_id")
    last = dict(counted.annotate(newest=Max("at")))
    bins = []
    for items in by_bin.values():
        times = [last[item.pk] for item in items if item.pk in last]
        words = f"counted {day_words(min(times))}" if times else ""
        never = len(items) - len(times)
        bins.append(CountBin(items[0].bin, min(item.pk for item in items), len(items), words, never))
    return sorted(bins, key=lambda one: places.place_on_the_way(one.name, order))


def count_rows(item: Item, user: User, now: datetime) -> list[CountRow]:
    """All that lies in the bin of this item."""
    found = [one for one in _items(user, now) if one.bin.casefold() == item.bin.casefold()]
    return rows_of(found)


def rows_of(items: list[Item]) -> list[CountRow]:
    ids = [item.pk for item in items]
    said, since, last = ledger.on_hand(ids), _since(ids), _last(ids)
    colours = dict(Item.objects.filter(pk__in=ids, latex__isnull=False).values_list("pk", "latex__rgb"))
    return [
        CountRow(item, said[item.pk], colours.get(item.pk, ""), last.get(item.pk, ""), since.get(item.pk, ""))
        for item in items
    ]


def _last(ids: list[int]) -> dict[int, str]:
    """{item id: "300 on Sat 3 May by Olive Marsh"}"""
    found = {}
    newest = Count.objects.filter(item=OuterRef("item")).order_by("-at", "-pk").values("pk")[:1]
    for one in Count.objects.filter(item__in=ids, pk=Subquery(newest)).select_related("by"):
        who = f" by {one.by}" if one.by else ""
        local = timezone.localtime(one.at)
        found[one.item_id] = f"{one.found:,} on {day_words(one.at)}, {local:%H:%M}{who}"
    return found


def _since(ids: list[int]) -> dict[int, str]:
    """{item id: what its ledger says since its last count}"""
    last = Count.objects.filter(item=OuterRef("item")).order_by("-at", "-pk").values("at")[:1]
    rows = (
        Movement.objects.filter(item__in=ids, at__gt=Coalesce(Subquery(last), EVER))
        .order_by(F("reservation__starts").asc(nulls_first=True), "kind")
        .values_list("item_id", "kind", "reservation__label", "reservation__starts")
        .annotate(in_store=Sum("store"), away=Sum("out"))
    )
    parts: dict[int, list[str]] = {}
    for item_id, kind, label, _, in_store, away in rows:
        if words := movement_words(kind, in_store, away, label or ""):
            parts.setdefault(item_id, []).append(words)
    return {item: _joined(words) for item, words in parts.items()}


def _joined(parts: list[str]) -> str:
    more = len(parts) - MOST_PARTS
    shown = ", ".join(parts[:MOST_PARTS])
    return f"{shown} and {more} more, in its ledger" if more > 0 else shown


def movement_words(kind: str, in_store: int, away: int, label: str) -> str:
    """12 picked for Harbour fair; 3 burst at Harbour fair; 100 came in. Nothing where it came to nothing."""
    if in_store and kind in STORE_WORDS:
        words = f"{abs(in_store):,} {STORE_WORDS[K(kind)][in_store < 0]}"
        return f"{words} {'for' if kind == K.PICKED else 'from'} {label}" if label else words
    if away and kind in GONE_WORDS:
        back = " after all" if away > 0 else ""
        return f"{abs(away):,} {'not ' if back else ''}{GONE_WORDS[K(kind)]}{back} at {label}"
    return ""
