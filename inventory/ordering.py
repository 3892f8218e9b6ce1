"""Orders to suppliers: written, sent, put off, cancelled. What comes of them is received in receiving.py.

A draft counts for nothing. Once sent, each line is a lot that is expected: from then on it is in every answer about
what is free, marked "if it arrives"."""

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import NamedTuple

from django.db import transaction
from django.db.models import Count, Q
from django.utils import timezone

from decor.studio.models import Studio
from inventory.models import Item, Lot, Order, OrderLine
from inventory.rising import stock_rose
from inventory.stocking import stock_lowered

MOST_PACKS = 100_000
MOST_LINES = 200
MOST_NOTE = 200
DUE_UNKNOWN_DAYS = 5
"""Of an order whose items say nothing (studio default, no source)."""


class TooManyPacks(ValueError):
    """More of an item than an order may hold."""

    def __init__(self, item_id: int) -> None:
        super().__init__(f"packs: an order holds no more than {MOST_PACKS:,} packs of an item")
        self.item_id = item_id


class NotNow(ValueError):
    """The order is no longer as it was on the page, or no longer in a state for this."""


def number_next() -> str:
    """B-0001, then one more; whoever asks holds the studio's row, so that two at once can't get the same."""
    list(Studio.objects.select_for_update().order_by("pk")[:1])
    last = Order.objects.order_by("-pk").values_list("number", flat=True).first()
    return f"B-{(int(last.split('-')[1]) if last else 0) + 1:04d}"


def stamp(order: Order) -> str:
    """What an order holds, as a short word: while it is the same, nobody changed it or received of it."""
    lines = [*order.lines.order_by("pk").values_list("pk", "item_id", "packs")]
    lots = [*Lot.objects.filter(order_line__order=order).order_by("pk").values_list("pk", "quantity", "received")]
    told = repr((str(order.state), order.due_on, lines, lots))
    return hashlib.sha256(told.encode()).hexdigest()[:16]


def order_locked(order: Order, *states: str, seen: str = "") -> Order:
    """The same object, locked and as the database has it. Raises NotNow when it is in none of the states, or when
    `seen` is not its stamp any more."""
    order.refresh_from_db(from_queryset=Order.objects.select_for_update(no_key=True))
    if order.state not in states:
        raise NotNow(f"{order.number} is {order.get_state_display().lower()} by now. Nothing was changed.")
    if seen and seen != stamp(order):
        raise NotNow(f"Somebody changed {order.number} meanwhile. See how it stands now; nothing of yours was saved.")
    return order


def _check_packs(packs: Mapping[int, int]) -> None:
    if not packs:
        raise ValueError("packs must name at least one item")
    if len(packs) > MOST_LINES:
        raise ValueError(f"packs must not name more than {MOST_LINES} items")
    for item_id, number in packs.items():
        if isinstance(number, bool) or not 1 <= number <= MOST_PACKS:
            raise ValueError(f"packs: item {item_id} needs from 1 to {MOST_PACKS:,} packs")


@transaction.atomic
def orders_draft(
    *, packs: Mapping[int, int], what_for: Mapping[int, list[dict[str, object]]] | None = None
) -> list[Order]:
    """A draft for each supplier of these items, {item id: packs}; what has no supplier goes on one of its own."""
    _check_packs(packs)
    items = Item.objects.in_bulk(packs)
    if missing := packs.keys() - items.keys():
        raise ValueError(f"packs: there is no item {min(missing)}")
    groups: dict[str, list[Item]] = defaultdict(list)
    for item in items.values():
        groups[item.supplier].append(item)
    made = []
    for supplier in sorted(groups, key=lambda name: (not name, name)):
        order = Order.objects.create(number=number_next(), supplier=supplier)
        OrderLine.objects.bulk_create(
            _line(order, item, packs[item.pk], (what_for or {}).get(item.pk, []))
            for item in sorted(groups[supplier], key=lambda item: (item.kind, item.name))
        )
        made.append(order)
    return made


class Written(NamedTuple):
    """`begun` are the orders that came to be, `added` those that stood as drafts before."""

    begun: list[Order]
    added: list[Order]


@transaction.atomic
def drafts_add(*, packs: Mapping[int, int], what_for: Mapping[int, list[dict[str, object]]] | None = None) -> Written:
    """{item id: packs}, each into the open draft of its supplier, or into a new one where there is none. Raises
    TooManyPacks, and then nothing is written."""
    items = Item.objects.in_bulk(packs)
    if missing := packs.keys() - items.keys():
        raise ValueError(f"packs: there is no item {min(missing)}")
    number_next()  # holds the studio's row, so that nobody else begins an order meanwhile
    before = set(Order.objects.filter(state=Order.State.DRAFT).values_list("pk", flat=True))
    orders: dict[int, Order] = {}
    for item in sorted(items.values(), key=lambda item: (not item.supplier, item.supplier, item.kind, item.name)):
        order = draft_add(item=item, packs=packs[item.pk], what_for=(what_for or {}).get(item.pk, []))
        orders[order.pk] = order
    begun = [order for order in orders.values() if order.pk not in before]
    return Written(begun, [order for order in orders.values() if order.pk in before])


class Drafted(NamedTuple):
    """Packs of an item in an order that is written and not sent."""

    order_id: int
    number: str
    packs: int


def drafts_of(item_ids: Iterable[int]) -> dict[int, tuple[Drafted, ...]]:
    """{item id: where it is written already}, in one query; the draft that was begun last comes first."""
    rows = OrderLine.objects.filter(item__in=list(item_ids), order__state=Order.State.DRAFT).order_by("-order_id")
    found: dict[int, list[Drafted]] = defaultdict(list)
    for item_id, order_id, number, packs in rows.values_list("item_id", "order_id", "order__number", "packs"):
        found[item_id].append(Drafted(order_id, number, packs))
    return {item_id: tuple(lines) for item_id, lines in found.items()}


def draft_open(item: Item) -> Order | None:
    """Where more of it would go: of several drafts to its supplier that can be put together the first; else one that
    names it already, else the last one with room."""
    drafts = Order.objects.filter(state=Order.State.DRAFT, supplier__iexact=item.supplier).order_by("-pk")
    counted = list(drafts.annotate(holds=Count("lines"), names=Count("lines", filter=Q(lines__item=item.pk))))
    if len(counted) > 1 and _together([*reversed(counted)]) is not None:
        return counted[-1]
    named = [order for order in counted if order.names]
    roomy = [order for order in counted if order.holds < MOST_LINES]
    return next(iter([*named, *roomy]), None)


@transaction.atomic
def draft_add(*, item: Item, packs: int, what_for: Iterable[dict[str, object]] = ()) -> Order:
    """So many packs more in the draft to its supplier, or in a new one. Whoever adds holds the studio's row, so that
    two at once neither begin two drafts nor write over each other's packs."""
    _check_packs({item.pk: packs})
    number = number_next()
    order = draft_open(item)
    if order is not None:
        # Somebody may send it this moment; then a draft of its own is begun.
        order.refresh_from_db(from_queryset=Order.objects.select_for_update(no_key=True))
    if order is None or order.state != Order.State.DRAFT:
        order = Order.objects.create(number=number, supplier=item.supplier)
    drafts_join(order=order)
    line = order.lines.filter(item=item.pk).first() or _line(order, item, 0, [])
    if line.pack_size != item.pack_size:
        # It is ordered in packs as they are sold now.
        line.packs = -(-line.quantity // item.pack_size)
        line.pack_size, line.pack_price = item.pack_size, item.pack_price
    line.packs += packs
    if line.packs > MOST_PACKS:
        raise TooManyPacks(item.pk)
    line.what_for = _told(line.what_for, what_for)
    line.save()
    return order


def _told(*what_for: Iterable[dict[str, object]]) -> list[dict[str, object]]:
    """Each event once, as it was told last."""
    return list({(str(one["label"]), one.get("day")): one for some in what_for for one in some}.values())


class Together(NamedTuple):
    """What the first of several drafts would be with all of them."""

    lines: list[OrderLine]
    note: str


def _together(drafts: Sequence[Order]) -> Together | None:
    """None where one order can't hold all of it, or where nobody is named and each may be meant for another."""
    if not drafts[0].supplier:
        return None
    lines: dict[int, OrderLine] = {}
    for line in OrderLine.objects.filter(order__in=drafts).select_related("item").order_by("order_id", "pk"):
        mine = lines.setdefault(line.item_id, line)
        if mine is not line:
            pieces, item = mine.quantity + line.quantity, line.item
            if mine.pack_size != line.pack_size:
                # As they are sold now, no fewer pieces.
                mine.pack_size, mine.pack_price = item.pack_size, item.pack_price
            mine.packs = -(-pieces // mine.pack_size)
            mine.what_for = _told(mine.what_for, line.what_for)
    note = "; ".join(dict.fromkeys(draft.note for draft in drafts if draft.note))
    fits = len(lines) <= MOST_LINES and all(line.packs <= MOST_PACKS for line in lines.values())
    return Together([*lines.values()], note) if fits and len(note) <= MOST_NOTE else None


def drafts_join(*, order: Order) -> None:
    """Puts later drafts to the same supplier into this one, so that it is written to once. They came to be two because
    two suppliers turned out to be one, or one draft was full. Whoever calls holds the studio's row and the order's."""
    drafts = Order.objects.select_for_update(no_key=True).filter(state=Order.State.DRAFT, pk__gt=order.pk)
    later = list(drafts.filter(supplier__iexact=order.supplier).order_by("pk"))
    whole = _together([order, *later]) if later else None
    if whole is None:
        return
    kept = [line.pk for line in whole.lines]
    OrderLine.objects.filter(order__in=later).exclude(pk__in=kept).delete()
    for line in whole.lines:
        line.order = order
        line.save()
    order.note = whole.note
    order.save(update_fields=["note"])
    # Their numbers are not given again.
    Order.objects.filter(pk__in=[one.pk for one in later]).update(
        state=Order.State.CANCELLED, note=f"put together with {order.number}"
    )


def _line(order: Order, item: Item, packs: int, what_for: list[dict[str, object]]) -> OrderLine:
    return OrderLine(
        order=order, item=item, packs=packs, pack_size=item.pack_size, pack_price=item.pack_price, what_for=what_for
    )


@transaction.atomic
def order_change(*, order: Order, packs: Mapping[int, int], note: str = "", seen: str = "") -> Order:
    """Makes a draft hold just this, {item id: packs}. Lines that stay keep their price and what they are for."""
    _check_packs(packs)
    order_locked(order, Order.State.DRAFT, seen=seen)
    there = {line.item_id: line for line in order.lines.all()}
    new = Item.objects.in_bulk(packs.keys() - there.keys())
    if missing := packs.keys() - there.keys() - new.keys():
        raise ValueError(f"packs: there is no item {min(missing)}")
    order.lines.exclude(item__in=list(packs)).delete()
    for item_id, number in packs.items():
        if item_id in there:
            OrderLine.objects.filter(pk=there[item_id].pk).update(packs=number)
    OrderLine.objects.bulk_create(_line(order, item, packs[item.pk], []) for item in new.values())
    order.note = note[:MOST_NOTE]
    order.save(update_fields=["note"])
    return order


@transaction.atomic
def draft_drop(*, order: Order) -> None:
    """A draft that nobody sent leaves no trace but its number, so that none is given twice."""
    order_locked(order, Order.State.DRAFT)
    order.state = Order.State.CANCELLED
    order.save(update_fields=["state"])


def due_usually(lines: Iterable[OrderLine], *, today: date) -> date:
    """The longest lead time of its items, in calendar days."""
    return today + timedelta(days=max((line.item.lead_days for line in lines), default=DUE_UNKNOWN_DAYS))


def _check_due(due_on: date, today: date) -> None:
    if due_on < today:
        raise ValueError("due_on must not be past")


@transaction.atomic
def order_send(*, order: Order, due_on: date, now: datetime | None = None, seen: str = "") -> Order:
    """From now on its lines are expected on `due_on`. More stock never breaks a promise, so no item is locked."""
    now = now or timezone.now()
    _check_due(due_on, timezone.localdate(now))
    order_locked(order, Order.State.DRAFT, seen=seen)
    lines = list(order.lines.select_related("item").order_by("pk"))
    if not lines:
        raise NotNow(f"{order.number} holds nothing yet.")
    order.state, order.sent, order.due_on = Order.State.SENT, now, due_on
    order.save(update_fields=["state", "sent", "due_on"])
    Lot.objects.bulk_create(
        Lot(
            item_id=line.item_id,
            quantity=line.quantity,
            arrives_on=due_on,
            received=False,
            unit_cost=round(line.pack_price / line.pack_size, 4),
            note=f"order {order.number}",
            order_line=line,
        )
        for line in lines
    )
    stock_rose(item_ids={line.item_id for line in lines})
    return order


def expected_lots(order: Order) -> list[Lot]:
    return list(Lot.objects.filter(order_line__order=order, received=False).select_related("item").order_by("pk"))


@transaction.atomic
def order_put_off(*, order: Order, due_on: date, even_if_short: bool = False, seen: str = "") -> Order:
    """Another day for all that is still to come. Raises PromisesBroken for promises that counted on the old one."""
    _check_due(due_on, timezone.localdate())
    order_locked(order, Order.State.SENT, seen=seen)
    lots = expected_lots(order)
    with stock_lowered(item_ids={lot.item_id for lot in lots}, even_if_short=even_if_short):
        Lot.objects.filter(pk__in=[lot.pk for lot in lots]).update(arrives_on=due_on)
        order.due_on = due_on
        order.save(update_fields=["due_on"])
    # It may come sooner, or have been late and count again.
    stock_rose(item_ids={lot.item_id for lot in lots})
    return order


@transaction.atomic
def order_cancel(*, order: Order, even_if_short: bool = False, seen: str = "") -> Order:
    """What has not come is expected no longer; what came stays. Raises PromisesBroken for promises that count on it."""
    order_locked(order, Order.State.SENT, seen=seen)
    lots = expected_lots(order)
    with stock_lowered(item_ids={lot.item_id for lot in lots}, even_if_short=even_if_short):
        Lot.objects.filter(pk__in=[lot.pk for lot in lots]).delete()
        came = Lot.objects.filter(order_line__order=order, received=True).exists()
        order.state = Order.State.DONE if came else Order.State.CANCELLED
        order.save(update_fields=["state"])
    return order


def total_of(lines: Iterable[OrderLine]) -> Decimal:
    return sum((line.cost for line in lines), Decimal(0))
