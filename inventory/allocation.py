"""From which lots a promise is served: the oldest that still keeps first, a colour from one lot where that can be.

Batches of latex differ in shade, and a picture shows it: a whole amount from one younger lot is worth more than the
last handfuls of two older ones. But no choice may leave a promise short that another choice would keep.
"""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Sum

from inventory import availability, balance, ledger
from inventory.availability import Stock
from inventory.balance import Demand, Supply
from inventory.models import Lot, Movement, Reservation, ReservationLine


@dataclass(frozen=True)
class LotShare:
    lot_id: int
    quantity: int


def lots_for(
    *,
    reservation: Reservation,
    now: datetime,
    item_ids: set[int] | None = None,
    stock: Mapping[int, Stock] | None = None,
    lines: list[ReservationLine] | None = None,
) -> dict[int, list[LotShare]]:
    """{item id: what to take from which lot} for what is still to be picked, as far as there is any. `stock` is what
    `stock_of` gave for these items from `now` on, and `lines` the reservation's that count, if they are at hand."""
    lines = list(reservation.lines.filter(counts=True)) if lines is None else lines
    wanted = {line.item_id: line for line in lines if item_ids is None or line.item_id in item_ids}
    if not wanted:
        return {}
    stock = availability.stock_of(wanted, now=now, starts=now) if stock is None else stock
    store = ledger.stored_by_item(ledger.sums(wanted))
    gone = ledger.moved(wanted, [reservation.pk])
    used_lots = lots_picked(reservation)
    found = {}
    for item_id, line in wanted.items():
        moved = gone.get((reservation.pk, item_id))
        rest = line.quantity - (moved.picked if moved else 0)
        here = store.get(item_id, {})
        found[item_id] = _shares(stock[item_id], line, rest, now, used_lots[item_id], here) if rest > 0 else []
    return found


def lots_picked(reservation: Reservation) -> Mapping[int, set[int]]:
    """{item id: the lots from which some was picked for it}, without what was put back."""
    found: dict[int, set[int]] = defaultdict(set)
    rows = Movement.objects.filter(reservation=reservation, kind=Movement.Kind.PICKED).order_by()
    for item_id, lot_id, away in rows.values_list("item_id", "lot_id").annotate(away=Sum("out")):
        if away > 0:
            found[item_id].add(lot_id)
    return found


def _shares(
    stock: Stock, line: ReservationLine, rest: int, now: datetime, begun: set[int], store: Mapping[int, int]
) -> list[LotShare]:
    here = [s for s in stock.supplies if store.get(s.lot_id) and s.arrives <= now and s.spoils > now]
    keeps = [s for s in here if s.spoils >= line.ends] or here
    order = sorted(keeps, key=lambda s: (s.spoils, s.arrives, s.uses or 0, s.lot_id))
    if stock.returnable:
        # The least worn first: so the pieces wear alike, and none is worn out while another is new.
        order.sort(key=lambda s: -(s.uses or stock.lasts or 0))
        return _in_turn(order, store, rest)
    for lot in sorted(order, key=lambda s: s.lot_id not in begun):
        if store[lot.lot_id] >= rest and not _hurts(stock, line, lot, rest):
            return [LotShare(lot.lot_id, rest)]
    return _in_turn(order, store, rest)


def _in_turn(order: list[Supply], store: Mapping[int, int], rest: int) -> list[LotShare]:
    shares = []
    for lot in order:
        taken = min(rest, store[lot.lot_id])
        if taken:
            shares.append(LotShare(lot.lot_id, taken))
            rest -= taken
    return shares


def _hurts(stock: Stock, line: ReservationLine, lot: Supply, quantity: int) -> bool:
    """Whether taking it all from this lot leaves other promises with less than they have."""
    others = [d for d in stock.wear if d.line_id != line.pk]
    mine = [Demand(quantity, d.starts, d.ends, d.line_id) for d in stock.wear if d.line_id == line.pk]
    before = sum(balance.serve(stock.supplies, [*others, *mine]).lacking)
    rest = [s._replace(quantity=s.quantity - quantity) if s.lot_id == lot.lot_id else s for s in stock.supplies]
    return sum(balance.serve(rest, others).lacking) > before


def lots_named(shares: Mapping[int, list[LotShare]]) -> dict[int, Lot]:
    return Lot.objects.in_bulk({share.lot_id for found in shares.values() for share in found})
