"""Buy list and orders in words."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from django.utils import timezone

from decor.studio.templatetags.desk import money_words, plural
from inventory.buying import BuyLine, OnOrder, WhatFor, by_supplier
from inventory.gap_words import name_of, rgb_of
from inventory.models import Lot, Order, OrderLine
from inventory.shown import Chip, day_words, short_day

MOST_NAMED = 6


@dataclass(frozen=True)
class BuyRow:
    """One line of the buy list. `packs` and `ticked` are what was typed, where something was; `error` stands beside."""

    line: BuyLine
    name: str
    rgb: str
    says: str
    small: tuple[str, ...]
    chip: Chip | None
    packs: str
    ticked: bool
    error: str = ""

    @property
    def pack_words(self) -> str:
        size = self.line.item.pack_size
        return f"packs of {size:,}" if size > 1 else "pieces"


@dataclass(frozen=True)
class BuyGroup:
    supplier: str
    rows: list[BuyRow]
    cost: Decimal
    small: str
    chip: Chip | None


@dataclass(frozen=True)
class Typed:
    """What somebody ticked and typed on the buy list; without any, the program's own proposal."""

    ticked: frozenset[str] = frozenset()
    packs: Mapping[str, str] = field(default_factory=dict)
    errors: Mapping[str, str] = field(default_factory=dict)


def buy_groups(lines: Sequence[BuyLine], today: date, currency: str, typed: Typed | None = None) -> list[BuyGroup]:
    return [
        _group(supplier, [_row(line, today, currency, typed) for line in of_it])
        for supplier, of_it in by_supplier(lines)
    ]


def _group(supplier: str, rows: list[BuyRow]) -> BuyGroup:
    needed = [row.line for row in rows if not row.line.low]
    cost = sum((row.line.buy.cost for row in rows), Decimal(0))
    late = sum(1 for line in needed if line.buy.too_late)
    coming = [line.buy.order_by for line in needed if not line.buy.too_late]
    chip: Chip | None = ("no", f"{late} too late") if late else None
    small = f"last day to order: {day_words(min(coming))}" if coming else ""
    return BuyGroup(supplier, rows, cost, small, chip)


def _row(line: BuyLine, today: date, currency: str, typed: Typed | None) -> BuyRow:
    # What is written already is not proposed twice; all of it is, where it is to be more after all.
    rest = line.buy.packs - line.drafted
    wanted = f"{rest if rest > 0 else line.buy.packs}"
    return BuyRow(
        line,
        name_of(line.item),
        rgb_of(line.item),
        _says(line),
        tuple(filter(None, [_when(line, today), _ordered(line.on_order), _drafted(line), _costs(line, currency)])),
        ("no", "Too late") if line.buy.too_late and not line.low else None,
        wanted if typed is None else typed.packs.get(line.key, wanted),
        rest > 0 if typed is None else line.key in typed.ticked,
        "" if typed is None else typed.errors.get(line.key, ""),
    )


def _says(line: BuyLine) -> str:
    if line.low:
        ours = "are yours" if line.item.returnable else "are free"
        return f"{line.there:,} {ours}, below its level of {line.item.reorder_level:,}"
    return f"{line.buy.short:,} short"


def _costs(line: BuyLine, currency: str) -> str:
    what = plural(line.buy.packs, "pack,packs") if line.item.pack_size > 1 else f"{line.buy.packs:,}"
    return f"{what}: {money_words(line.buy.cost, currency)}"


def _when(line: BuyLine, today: date) -> str:
    days = plural(line.item.lead_days, "day,days")
    if line.low:
        return f"no hurry; delivery takes {days}"
    if not line.buy.too_late:
        return f"order by {day_words(line.buy.order_by)}; delivery takes {days}"
    late, others = line.late_for, len(line.what_for) - len(line.late_for)
    words = f"too late for {names(late)}: delivery takes {days}"
    return f"{words}; in time for the {'other' if others == 1 else 'others'}" if others else words


def names(events: Iterable[WhatFor]) -> str:
    labels = list(dict.fromkeys(one.label for one in events))
    more = len(labels) - 3
    return ", ".join(labels[:3]) + (f" and {more} more" if more > 0 else "")


def _ordered(on: OnOrder) -> str:
    words = []
    if on.coming and on.due:
        words.append(f"{on.coming:,} are on order, due {short_day(on.due)}, and counted")
    if on.late and on.late_since:
        words.append(f"{on.late:,} were due on {short_day(on.late_since)} and are not here, so they don't count")
    return "; ".join(words)


def _drafted(line: BuyLine) -> str:
    if not line.drafted:
        return ""
    what = plural(line.drafted, "pack,packs") if line.item.pack_size > 1 else f"{line.drafted:,}"
    return f"{what} in an order that is not sent yet"


def for_words(one: WhatFor) -> str:
    words = f"{one.quantity:,} for {one.label}, {day_words(one.starts)}"
    return words + (", on hold" if one.on_hold else ", not promised yet" if one.is_open else "")


# Orders


@dataclass(frozen=True)
class OrderRow:
    order: Order
    says: str
    small: str
    chip: Chip


def order_rows(orders: Iterable[Order], lines: Mapping[int, list[OrderLine]], currency: str) -> list[OrderRow]:
    return [_order_row(order, lines.get(order.pk, []), currency) for order in orders]


def _order_row(order: Order, lines: list[OrderLine], currency: str) -> OrderRow:
    cost = sum((line.cost for line in lines), Decimal(0))
    small = f"{plural(len(lines), 'thing,things')}, {money_words(cost, currency)}; {_stands(order)}"
    return OrderRow(order, supplier_of(order), small, order_chip(order))


def supplier_of(order: Order) -> str:
    return order.supplier or "No supplier named"


def late(order: Order, today: date | None = None) -> bool:
    day = today or timezone.localdate()
    return order.state == Order.State.SENT and order.due_on is not None and order.due_on < day


def order_chip(order: Order) -> Chip:
    if late(order):
        return "no", "Late"
    if order.state == Order.State.SENT and order.due_on:
        return "wait", f"Due {short_day(order.due_on)}"
    return {"draft": ("none", "Not sent"), "done": ("ok", "Done"), "cancelled": ("off", "Cancelled")}[order.state]


def _stands(order: Order) -> str:
    if order.state == Order.State.SENT and order.sent and order.due_on:
        due = "was due" if late(order) else "due"
        return f"sent {short_day(order.sent)}, {due} {short_day(order.due_on)}"
    if order.sent:
        return f"sent {short_day(order.sent)}"
    return f"written {short_day(order.created)}"


@dataclass(frozen=True)
class LineShown:
    """`came` and `coming` are pieces, of an order that was sent."""

    line: OrderLine
    name: str
    rgb: str
    amount: str
    whats: tuple[str, ...]
    came: int
    coming: int
    packs: str
    error: str = ""

    @property
    def stands(self) -> str:
        if not self.coming:
            return f"{self.came:,} came" if self.came else "none came, none expected"
        return f"{self.came:,} came, {self.coming:,} to come" if self.came else f"{self.coming:,} to come"


def line_rows(
    lines: Iterable[OrderLine],
    lots: Iterable[Lot],
    typed: Mapping[int, str] | None = None,
    errors: Mapping[int, str] | None = None,
) -> list[LineShown]:
    came: dict[int | None, int] = {}
    coming: dict[int | None, int] = {}
    for lot in lots:
        where = came if lot.received else coming
        where[lot.order_line_id] = where.get(lot.order_line_id, 0) + lot.quantity
    return [
        LineShown(
            line,
            name_of(line.item),
            rgb_of(line.item),
            amount_words(line),
            tuple(kept_for(line)),
            came.get(line.pk, 0),
            coming.get(line.pk, 0),
            (typed or {}).get(line.item_id, str(line.packs)),
            (errors or {}).get(line.item_id, ""),
        )
        for line in lines
    ]


def amount_words(line: OrderLine) -> str:
    """2 packs of 100, 200 pieces; 6 pieces"""
    if line.pack_size == 1:
        return plural(line.packs, "piece,pieces")
    return f"{plural(line.packs, 'pack,packs')} of {line.pack_size:,}, {line.quantity:,} pieces"


def kept_for(line: OrderLine) -> list[str]:
    """What a line was bought for, as it was when it was written."""
    words = []
    for one in line.what_for:
        day = day_words(date.fromisoformat(one["day"])) if one.get("day") else ""
        words.append(f"{one['quantity']:,} for {one['label']}" + (f", {day}" if day else ""))
    return words
