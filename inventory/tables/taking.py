"""A checked list taken over: new items with their opening stock, changed fields of those that are there."""

from collections.abc import Callable, Iterable
from datetime import date
from decimal import Decimal
from itertools import islice
from typing import Any
from zoneinfo import ZoneInfo

from django.db import connection
from django.db.models import Model
from django.utils import timezone

from decor.studio.models import Studio
from inventory.models import ImportRow, Item, Latex, Lot, StockImport
from inventory.rising import stock_rose
from inventory.services import items_lock
from inventory.tables.checking import FREE_UNDER_PROMISE
from inventory.tables.known import MODELS, chunks, promised

STEP = 1000
OPENING_NOTE = "opening stock"
RAISING = {"active", "purpose", "returnable", "uses"}
"""Fields by which there may be more of an item on a day, or it serves for something else."""
_OF_ITEM = {field.name for field in Item._meta.local_concrete_fields}


def take_rows(*, batch: StockImport, unchanged: Callable[[], bool], changed_words: str) -> None:
    """Inside a transaction. Raises ValueError, and then nothing of it may stay."""
    rows = ImportRow.objects.filter(batch=batch)
    changing = rows.filter(state=ImportRow.State.CHANGED)
    touched = list(changing.values_list("item", flat=True))
    for part in chunks(pk for pk in touched if pk is not None):
        items_lock(item_ids=part)
    # Only now: what is locked can't change between this look and the writing.
    if not unchanged():
        raise ValueError(changed_words)
    fields_write(((row.item, row.data["changes"]) for row in changing.iterator(STEP)), new=1)
    fresh = rows.filter(state=ImportRow.State.NEW).order_by("number").iterator(STEP)
    while some := list(islice(fresh, STEP)):
        _items_make(some)


def fields_write(changes: Iterable[tuple[int | None, dict[str, list[Any]]]], *, new: int) -> None:
    """For each item its fields, from one side of a pair to the other; `new` says which side is written."""
    waiting = [(pk, {name: pair[new] for name, pair in pairs.items()}) for pk, pairs in changes if pk is not None]
    _check_promises(waiting)
    colours = _names_let_go(waiting)
    kinds: dict[int, str] = {}
    for part in chunks(pk for pk, _ in waiting):
        kinds |= dict(Item.objects.filter(pk__in=part).values_list("pk", "kind"))
    for pk, values in waiting:
        if pk in colours:
            values = {"colour": colours[pk], **values}
        _update(Item, pk, {name: value for name, value in values.items() if name in _OF_ITEM})
        _update(MODELS[kinds[pk]], pk, {name: value for name, value in values.items() if name not in _OF_ITEM})
    stock_rose(item_ids=[pk for pk, values in waiting if RAISING & values.keys()])


def _names_let_go(waiting: list[tuple[int, dict[str, Any]]]) -> dict[int, str]:
    """Two rows may swap their names: all let go of theirs before any takes its new one. Gives the colours that
    balloons had, for a colour is half of their name."""
    renamed = [pk for pk, values in waiting if "name" in values]
    colours: dict[int, str] = {}
    for part in chunks(renamed):
        colours |= dict(Latex.objects.filter(pk__in=part).values_list("pk", "colour"))
    for pk in renamed:
        Item.objects.filter(pk=pk).update(name=f"~{pk}")
        Latex.objects.filter(pk=pk).update(colour=f"~{pk}")
    return colours


def _update(model: type[Model], pk: int, values: dict[str, Any]) -> None:
    if values:
        model._default_manager.filter(pk=pk).update(**values)


def _check_promises(waiting: list[tuple[int, dict[str, Any]]]) -> None:
    """What comes back, and what is offered, can't change under a promise that came since the dry run."""
    freed = [pk for pk, values in waiting if any(name in values for name in FREE_UNDER_PROMISE)]
    held = promised(freed, timezone.now())
    if held:
        names = ", ".join(Item.objects.filter(pk__in=list(held)[:5]).values_list("name", flat=True))
        raise ValueError(f"Promised meanwhile, so whether they come back or are in use can't change: {names}.")


def _items_make(rows: list[ImportRow]) -> None:
    items = [_item(row) for row in rows]
    Item.objects.bulk_create(items, batch_size=STEP)
    lots, today = [], _today()
    for row, item in zip(rows, items, strict=True):
        if opening := row.data.get("opening"):
            cost = round(Decimal(item.pack_price) / item.pack_size, 4)
            lots.append(Lot(item=item, quantity=opening, arrives_on=today, unit_cost=cost, note=OPENING_NOTE))
    for kind, model in MODELS.items():
        pairs = [(row, item) for row, item in zip(rows, items, strict=True) if row.kind == kind]
        _halves_make(model, [_half(model, item.pk, row.data["values"]) for row, item in pairs])
    Lot.objects.bulk_create(lots, batch_size=STEP)
    stock_rose(item_ids=[lot.item_id for lot in lots])
    _rows_point([(item.pk, row.pk) for row, item in zip(rows, items, strict=True)])


def _today() -> date:
    """In the studio's zone, which a worker does not stand in by itself."""
    studio = Studio.objects.order_by("pk").first()
    return timezone.localdate(timezone=ZoneInfo(studio.time_zone) if studio else None)


def _item(row: ImportRow) -> Item:
    values = {name: value for name, value in row.data["values"].items() if name in _OF_ITEM}
    return Item(kind=row.kind, **values)


def _half(model: type[Any], pk: int, values: dict[str, Any]) -> Model:
    own = {name: value for name, value in values.items() if name not in _OF_ITEM}
    half: Model = model(item_ptr_id=pk, **own)
    return half


def _halves_make(model: type[Any], halves: list[Model]) -> None:
    """The kind's own halves of items whose common halves are there already. Django makes no such rows in bulk and one
    by one they would hold the database for twice as long, so its own way of inserting is called."""
    fields = model._meta.local_concrete_fields
    size = min(STEP, connection.ops.bulk_batch_size(fields, halves)) if halves else 1
    for start in range(0, len(halves), size):
        model._base_manager._insert(halves[start : start + size], fields=fields, using=connection.alias)


def _rows_point(pairs: list[tuple[int, int]]) -> None:
    """At the items that they made. Much faster than the statements that a bulk update writes."""
    table = connection.ops.quote_name(ImportRow._meta.db_table)
    with connection.cursor() as cursor:
        cursor.executemany(f"UPDATE {table} SET item = %s WHERE id = %s", pairs)
