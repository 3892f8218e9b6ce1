"""The stock as an import finds it: every item's values, who is called what, and a digest by which a change shows."""

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from itertools import islice
from typing import Any

from django.db.models import Sum

from inventory import availability
from inventory.models import Cylinder, Foil, Hardware, Item, Latex, Movement, ReservationLine, Sheet
from inventory.suggestions import bins_known, suppliers_known
from inventory.tables.columns import fields_of

MODELS: dict[str, type[Item]] = {
    Item.Kind.LATEX: Latex,
    Item.Kind.SHEET: Sheet,
    Item.Kind.HARDWARE: Hardware,
    Item.Kind.CYLINDER: Cylinder,
    Item.Kind.FOIL: Foil,
}
Values = dict[str, Any]
MANY = 5000
"""So many ids go into one question to the database at most."""


def chunks(ids: Iterable[int], size: int = MANY) -> Iterator[list[int]]:
    waiting = iter(sorted(set(ids)))
    while part := list(islice(waiting, size)):
        yield part


def values_by_id(kinds: Iterable[str] = MODELS) -> dict[int, Values]:
    """Every item's fields by its number, in the order of the list."""
    found: dict[int, Values] = {}
    for kind in kinds:
        names = ["pk", "kind", *(["name"] if kind == Item.Kind.LATEX else []), *fields_of(kind)]
        for values in MODELS[kind].objects.order_by("name", "pk").values(*names).iterator(chunk_size=2000):
            found[values["pk"]] = values
    return found


def on_hand_of_all() -> dict[int, int]:
    rows = Movement.objects.order_by().values_list("item_id").annotate(pieces=Sum("store"))
    return {item_id: pieces for item_id, pieces in rows if pieces}


def stock_key(values: dict[int, Values] | None = None) -> str:
    """Changes with any field of any item."""
    values = values_by_id() if values is None else values
    digest = hashlib.sha256()
    for pk in sorted(values):
        digest.update(repr(sorted(values[pk].items())).encode())
    return digest.hexdigest()


def identity(values: Values) -> tuple[Any, ...]:
    """What no two balloons may share."""
    return values["nominal_in"], values["shape"], values["colour"].casefold(), values["finish"]


def promised(ids: Iterable[int], now: datetime) -> set[int]:
    """Of these items, those that somebody was promised and that are not over."""
    found: set[int] = set()
    for part in chunks(ids):
        lines = ReservationLine.objects.filter(availability.live(now), item__in=part, ends__gt=now)
        found |= set(lines.order_by().values_list("item_id", flat=True))
    return found


@dataclass
class Known:
    items: dict[int, Values]
    on_hand: dict[int, int]
    suppliers: dict[str, str] = field(default_factory=dict)
    bins: dict[str, str] = field(default_factory=dict)
    by_name: dict[str, int] = field(default_factory=dict)
    by_identity: dict[tuple[Any, ...], int] = field(default_factory=dict)

    @classmethod
    def now(cls) -> "Known":
        known = cls(items=values_by_id(), on_hand=on_hand_of_all())
        known.suppliers = _one_way(suppliers_known())
        known.bins = _one_way(bins_known())
        for pk, values in known.items.items():
            known.by_name.setdefault(values["name"].casefold(), pk)
            if values["kind"] == Item.Kind.LATEX:
                known.by_identity.setdefault(identity(values), pk)
        return known


def _one_way(words: Iterable[str]) -> dict[str, str]:
    """By the word itself, and by what it is whatever its capitals."""
    known: dict[str, str] = {}
    for word in words:
        known[word] = word
        known.setdefault(word.casefold(), word)
    return known
