"""A list taken back: what it changed is as it was, what it made is gone; all of it, or nothing and why."""

from collections.abc import Iterable
from typing import Any

from django.db import connection
from django.db.models import ProtectedError, QuerySet
from django.db.models.deletion import Collector

from inventory.models import Count, ImportRow, Item, Lot, Movement, OrderLine, ReservationLine, StockImport
from inventory.services import items_lock
from inventory.tables.columns import BY_NAME, same
from inventory.tables.known import MODELS, Values, chunks, values_by_id
from inventory.tables.taking import OPENING_NOTE, STEP, fields_write
from inventory.tables.uses import used_elsewhere

MOST_TOLD = 8


def undo_rows(*, batch: StockImport) -> None:
    """Inside a transaction. Raises ValueError that says what stands in the way; then nothing of it may stay."""
    rows = ImportRow.objects.filter(batch=batch)
    made = [pk for pk in rows.filter(state=ImportRow.State.NEW).values_list("item", flat=True) if pk is not None]
    changed = list(rows.filter(state=ImportRow.State.CHANGED))
    made = sorted(set(made) & set(_there(made)))
    for part in chunks([*made, *(row.item for row in changed if row.item is not None)]):
        items_lock(item_ids=part)
    if hindrances := [*_changed_since(changed), *_used(made)]:
        more = len(hindrances) - MOST_TOLD
        told = " ".join(hindrances[:MOST_TOLD]) + (f" And {more:,} more." if more > 0 else "")
        raise ValueError(f"Nothing was taken back. {told}")
    fields_write(((row.item, row.data["changes"]) for row in changed), new=0)
    _items_remove(made)


def _there(ids: Iterable[int]) -> list[int]:
    return [pk for part in chunks(ids) for pk in Item.objects.filter(pk__in=part).values_list("pk", flat=True)]


def _changed_since(rows: list[ImportRow]) -> list[str]:
    now = values_by_id() if rows else {}
    return [words for row in rows if (words := _differs(row, now.get(row.item or 0)))]


def _differs(row: ImportRow, values: Values | None) -> str:
    if values is None:
        return f"{row.name} is not here any more."
    for name, (_, new) in row.data["changes"].items():
        if not same(name, values[name], type(values[name])(new) if values[name] is not None and new else new):
            return f"{BY_NAME[name].heading} of {values['name']} was changed again since."
    return ""


def _used(made: list[int]) -> list[str]:
    used: dict[int, str] = {}
    for part in chunks(made):
        for words, ids in _uses(part):
            for pk in ids:
                used.setdefault(pk, words)
    names = {
        pk: name for part in chunks(used) for pk, name in Item.objects.filter(pk__in=part).values_list("pk", "name")
    }
    return [f"{names[pk]} {words}." for pk, words in used.items()]


def _uses(part: list[int]) -> Iterable[tuple[str, Iterable[int]]]:
    yield "is promised, or was", ReservationLine.objects.filter(item__in=part).values_list("item", flat=True)
    yield "is on an order", OrderLine.objects.filter(item__in=part).values_list("item", flat=True)
    yield "was counted since", Count.objects.filter(item__in=part).values_list("item", flat=True)
    later = Lot.objects.filter(item__in=part).exclude(note=OPENING_NOTE, received=True, order_line=None)
    yield "has lots that came since", later.values_list("item", flat=True)
    moved = Movement.objects.filter(item__in=part).exclude(kind=Movement.Kind.RECEIVED)
    yield "was moved in the store since", moved.values_list("item", flat=True)
    yield "is used in a design", used_elsewhere(part)


def _items_remove(made: list[int]) -> None:
    """With its one line of the ledger: nothing but this list ever moved a piece of it, and the list stays on record."""
    for part in chunks(made, STEP):
        Movement.objects.filter(item__in=part).take_back_import()
        Lot.objects.filter(item__in=part).delete()
        try:
            for model in MODELS.values():
                _half_remove(model.objects.filter(pk__in=part))
            Item.objects.filter(pk__in=part).delete()
        except ProtectedError as held:
            first = next(iter(held.protected_objects))
            raise ValueError(f"Nothing was taken back. Something still needs what it made: {first}.") from None


def _half_remove(halves: QuerySet[Any]) -> None:
    """The kind's own halves first: from a whole item down, each one's other half would be asked for by itself."""
    collector = Collector(using=connection.alias)
    collector.collect(halves, keep_parents=True)
    collector.delete()
