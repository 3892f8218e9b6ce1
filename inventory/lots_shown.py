"""An item's lots in words: each delivery once, with what is left of it, sheets by the uses they still stand."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from decor.studio.templatetags.desk import money_words, plural
from inventory import availability, balance
from inventory.availability import Stock
from inventory.models import Item, Lot
from inventory.shown import Chip, day_words, short_day


@dataclass(frozen=True)
class Part:
    """So many of one delivery with so many uses left."""

    left: int
    words: str


@dataclass(frozen=True)
class LotLine:
    """One delivery, `left` of it in all. `order_id`: it is expected of that order."""

    lot: Lot
    left: int
    words: str
    small: tuple[str, ...]
    chip: Chip | None
    expected: bool
    parts: tuple[Part, ...] = ()
    order_id: int | None = None
    order_number: str = ""


def lot_lines(item: Item, stock: Stock, now: datetime, currency: str) -> list[LotLine]:
    """What is here first, then what is on order, each the newest first; in one query."""
    left, aside = _left(stock, now)
    lots = Lot.objects.filter(item_id=stock.item_id).select_related("order_line__order")
    deliveries: dict[int, list[Lot]] = defaultdict(list)
    firsts = []
    for lot in lots.order_by("received", "-arrives_on", "pk"):
        deliveries[lot.split_from_id or lot.pk].append(lot)
        if lot.split_from_id is None:
            firsts.append(lot)
    there = {lot.pk: left.get(lot.pk, 0 if lot.received else lot.quantity) for of in deliveries.values() for lot in of}
    return [_line(lot, deliveries[lot.pk], there, aside, stock, now, currency) for lot in firsts]


def _left(stock: Stock, now: datetime) -> tuple[dict[int, int], dict[int, int]]:
    """{lot id: what is left of it} without what events that are over had, and {lot id: how many of these are set aside
    for events under way}, where they still lie until somebody ticks them as picked."""
    numbers, begun = [s.lot_id for s in stock.supplies], [d for d in stock.wear if d.starts <= now]
    if stock.returnable or not begun:
        return dict(zip(numbers, stock.left(now), strict=True)), {}
    over = [d for d in begun if d.ends <= now]
    there = balance.serve(stock.supplies, over).left
    free = balance.serve(stock.supplies, [*over, *(d for d in begun if d.ends > now)]).left
    aside = {lot: n - rest for lot, n, rest in zip(numbers, there, free, strict=True)}
    return dict(zip(numbers, there, strict=True)), aside


def _line(
    lot: Lot,
    delivery: Sequence[Lot],
    there: dict[int, int],
    aside: dict[int, int],
    stock: Stock,
    now: datetime,
    currency: str,
) -> LotLine:
    order = lot.order_line.order if lot.order_line and not lot.received else None
    left = sum(there[one.pk] for one in delivery)
    parts = _parts(delivery, there, stock.lasts) if lot.received else ()
    return LotLine(
        lot,
        left,
        _words(lot, left, now),
        tuple(
            filter(
                None,
                [
                    _past(lot, left, now),
                    _aside(left, aside.get(lot.pk, 0) if lot.received else 0),
                    _cost(lot, currency),
                    lot.note,
                ],
            )
        ),
        _chip(lot, now),
        expected=not lot.received,
        parts=parts,
        order_id=order.pk if order else None,
        order_number=order.number if order else "",
    )


def _parts(delivery: Sequence[Lot], there: dict[int, int], lasts: int | None) -> tuple[Part, ...]:
    """Of what wears out, how many stand how many uses; the most first."""
    if not lasts:
        return ()
    by_uses: dict[int, int] = defaultdict(int)
    for lot in delivery:
        by_uses[lasts if lot.uses_left is None else lot.uses_left] += there[lot.pk]
    return tuple(
        Part(n, f"with {plural(uses, 'use,uses')} left" + (", never used" if uses == lasts else ""))
        for uses, n in sorted(by_uses.items(), reverse=True)
        if n
    )


def _words(lot: Lot, left: int, now: datetime) -> str:
    overdue = not lot.received and lot.arrives_on < availability.utc_day(now)
    words = f"{'came' if lot.received else 'was due' if overdue else 'due'} {day_words(lot.arrives_on)}"
    if left != lot.quantity:
        words = f"of {lot.quantity:,}, {words}"
    if lot.use_by:
        words += f", use by {short_day(lot.use_by)}"
    if lot.batch:
        words += f", batch {lot.batch}"
    return words


def _past(lot: Lot, left: int, now: datetime) -> str:
    if lot.received and left and lot.use_by and lot.use_by < availability.utc_day(now):
        return "past its use, so it is not promised to anybody"
    return ""


def _aside(left: int, aside: int) -> str:
    """all of them for events under way, not ticked as picked; 40 of them for …"""
    if not aside:
        return ""
    return f"{'all' if aside == left else f'{aside:,}'} of them for events under way, not ticked as picked"


def _cost(lot: Lot, currency: str) -> str:
    places = 2 if lot.unit_cost == round(lot.unit_cost, 2) else 4
    return f"{money_words(lot.unit_cost, currency, places=places)} each" if lot.unit_cost else ""


def _chip(lot: Lot, now: datetime) -> Chip | None:
    today = availability.utc_day(now)
    if not lot.received:
        return ("no", "Late") if lot.arrives_on < today else ("wait", "On order")
    return ("no", "Past use") if lot.use_by and lot.use_by < today else None
