"""The sums of the ledger: what lies in the store, what is out with events. Nothing else says what is on hand."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from django.db import connection
from django.db.models import Max, Q, Sum
from django.utils import timezone

from decor.studio.models import User
from inventory.models import Lot, LotSum, Movement, Reservation

OPEN = (Reservation.State.HOLD, Reservation.State.CONFIRMED)


ADDED_UP_EVERY = 64
"""Lines of the whole ledger; then the lot that is written to is added up."""
MOST_IDS = 10_000
SUMS = """
SELECT lot.item_id, lot.id,
    COALESCE(summed.store, 0) + COALESCE((
        SELECT SUM(line.store) FROM inventory_movement line
        WHERE line.lot_id = lot.id AND line.id > COALESCE(summed.upto, 0)), 0),
    COALESCE(summed.out, 0) + COALESCE((
        SELECT SUM(line.out) FROM inventory_movement line
        WHERE line.lot_id = lot.id AND line.id > COALESCE(summed.upto, 0)), 0)
FROM inventory_lot lot LEFT JOIN inventory_lotsum summed ON summed.lot_id = lot.id
WHERE lot.item_id IN ({items})
"""


class Sums(NamedTuple):
    item_id: int
    store: int
    out: int


class Moved(NamedTuple):
    """What one reservation did with one item: `taken` off the store and not put back, `picked` in all, `out` now."""

    taken: int
    picked: int
    out: int


@dataclass(frozen=True)
class Act:
    """Who moves something, when and why: the signature under each line."""

    by: User | None = None
    at: datetime | None = None
    why: str = ""


NOBODY = Act()


def sums(item_ids: Iterable[int]) -> dict[int, Sums]:
    """{lot id: what is there of it}; lots of which nothing is left are not in it."""
    ids = sorted(set(item_ids))
    found: dict[int, Sums] = {}
    for first in range(0, len(ids), MOST_IDS):
        some = ids[first : first + MOST_IDS]
        with connection.cursor() as cursor:
            cursor.execute(SUMS.format(items=", ".join(["%s"] * len(some))), some)
            found |= {lot: Sums(item, store, out) for item, lot, store, out in cursor.fetchall() if store or out}
    return found


def add_up(lot_ids: Iterable[int]) -> None:
    """Adds these lots' lines up to the last one, for the next who asks. Whoever calls holds their items' locks: no line
    of theirs may be on its way meanwhile."""
    lines = Movement.objects.filter(lot__in=set(lot_ids)).order_by().values("lot_id")
    for row in list(lines.annotate(there=Sum("store"), away=Sum("out"), last=Max("pk"))):
        summed = {"store": row["there"], "out": row["away"], "upto": row["last"]}
        LotSum.objects.update_or_create(lot_id=row["lot_id"], defaults=summed)


def on_hand(item_ids: Iterable[int]) -> dict[int, int]:
    """{item id: pieces in the store now}, usable or not."""
    ids = set(item_ids)
    found = dict.fromkeys(ids, 0)
    for one in sums(ids).values():
        found[one.item_id] += one.store
    return found


def on_hand_by_lot(item_id: int) -> dict[int, int]:
    return {lot_id: one.store for lot_id, one in sums([item_id]).items() if one.store}


def moved(item_ids: Iterable[int], reservation_ids: Iterable[int]) -> dict[tuple[int, int], Moved]:
    """{(reservation id, item id): what was moved for it}."""
    picked = Q(kind=Movement.Kind.PICKED)
    rows = (
        Movement.objects.filter(reservation__in=set(reservation_ids), item__in=set(item_ids))
        .order_by()
        .values_list("reservation_id", "item_id")
        .annotate(in_store=Sum("store"), all_picked=Sum("out", filter=picked, default=0), away=Sum("out"))
    )
    return {(r, item): Moved(-store, all_picked, away) for r, item, store, all_picked, away in rows}


def moved_for(reservation: Reservation) -> dict[int, Moved]:
    items = Movement.objects.filter(reservation=reservation).order_by().values_list("item_id", flat=True).distinct()
    found = moved(items, [reservation.pk])
    return {item_id: one for (_, item_id), one in found.items()}


def out_with(reservation: Reservation) -> dict[int, int]:
    """{item id: pieces out with it}, only what is out."""
    return {item_id: one.out for item_id, one in moved_for(reservation).items() if one.out}


def taken_by(reservation: Reservation) -> dict[int, int]:
    """{item id: pieces that it took off the store and did not bring back}."""
    return {item_id: one.taken for item_id, one in moved_for(reservation).items() if one.taken}


def out_by_lot(reservation: Reservation, item_id: int) -> dict[int, int]:
    rows = Movement.objects.filter(reservation=reservation, item=item_id).order_by().values_list("lot_id")
    return {lot: away for lot, away in rows.annotate(away=Sum("out")) if away}


def begun_and_lapsed(now: datetime) -> tuple[list[int], list[int]]:
    """Reservations for which something was picked and that are not over; holds that have lapsed."""
    named = Reservation.objects.order_by().values_list("pk", "begun")
    begun = named.filter(begun=True, state__in=OPEN)
    lapsed = named.filter(begun=False, state=Reservation.State.HOLD, expires__lte=now)
    # Not one or the other in one condition: for that both databases read all that is confirmed.
    rows = list(begun.union(lapsed, all=True))
    return [pk for pk, has_begun in rows if has_begun], [pk for pk, has_begun in rows if not has_begun]


def movement_write(
    *, lot: Lot, kind: str, act: Act, store: int = 0, out: int = 0, reservation: Reservation | None = None
) -> Movement:
    """Whoever calls holds the item's lock."""
    line = Movement(
        lot=lot,
        item_id=lot.item_id,
        reservation=reservation,
        kind=kind,
        store=store,
        out=out,
        at=act.at or timezone.now(),
        by=act.by,
        why=act.why[:200],
    )
    line.save()
    if line.pk % ADDED_UP_EVERY == 0:
        add_up([lot.pk])
    return line


def stored_by_item(lots: dict[int, Sums]) -> dict[int, dict[int, int]]:
    found: dict[int, dict[int, int]] = defaultdict(dict)
    for lot_id, one in lots.items():
        if one.store:
            found[one.item_id][lot_id] = one.store
    return found
