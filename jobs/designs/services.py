"""Pieces of an event and the charts of its panels."""

from collections.abc import Iterable, Mapping
from typing import Any

from django.db import transaction
from django.db.models import Max

from jobs.designs.kinds import all_kinds
from jobs.designs.models import Piece
from jobs.events.models import Event


@transaction.atomic
def pieces_from_rough(event: Event, rough_pieces: Iterable[Mapping[str, Any]]) -> list[Piece]:
    """The pieces that a booking spoke of, in its order."""
    first = _next_position(event)
    pieces = [
        Piece(
            event=event,
            kind=rough["kind"],
            title=rough.get("title") or all_kinds()[rough["kind"]].NAME,
            count=rough.get("count", 1),
            built_at=rough.get("built_at") or Piece.BuiltAt.WORKSHOP,
            fill=rough.get("fill") or Piece.Fill.AIR,
            measures=dict(rough["measures"]),
            position=first + at,
        )
        for at, rough in enumerate(rough_pieces)
    ]
    return Piece.objects.bulk_create(pieces)


def _next_position(event: Event) -> int:
    last: int | None = Piece.objects.filter(event=event).aggregate(last=Max("position"))["last"]
    return 0 if last is None else last + 1
