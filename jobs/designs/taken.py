"""How many balloons of each item a whole event takes, its spares counted in, as its estimate and its stock page do."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.utils import timezone

from decor.calc.inputs import PieceInput
from decor.calc.materials import latex_lines, measured
from decor.calc.work.rates import rates_from_plain
from decor.studio.models import Studio
from inventory.turnover import known_burst
from jobs.designs.catalogue import Catalogue
from jobs.designs.kinds import all_kinds
from jobs.designs.models import Piece
from jobs.designs.stock import free_for


@dataclass(frozen=True)
class Taken:
    """{item id: how many} of one piece, and of its event's pieces together; whether there are others. Their spares are
    rounded up once for all of them, so that the pieces' own may come to a balloon more. A piece that can't be worked
    out as it is takes nothing."""

    here: Mapping[int, int]
    all: Mapping[int, int]
    others: bool


def taken_with(piece: Piece, catalogue: Catalogue, studio: Studio) -> Taken:
    found = list(Piece.objects.filter(event=piece.event_id).select_related("panel"))
    burst = _burst(catalogue)
    everything = _taken(found, catalogue, studio, burst)
    if len(found) < 2:
        return Taken(everything, everything, others=False)
    here = _taken([one for one in found if one.pk == piece.pk], catalogue, studio, burst)
    return Taken(here, everything, others=True)


def taken_beside(
    piece: Piece, catalogue: Catalogue, studio: Studio | None = None, burst: Mapping[int, float] | None = None
) -> dict[int, int]:
    """{item id: how many} the event's other pieces take together."""
    others = list(Piece.objects.filter(event=piece.event_id).exclude(pk=piece.pk).select_related("panel"))
    if not others:
        return {}
    studio = studio or Studio.objects.order_by("pk").first()
    return _taken(others, catalogue, studio, _burst(catalogue) if burst is None else burst) if studio else {}


def left_beside(piece: Piece, item_ids: Iterable[int], catalogue: Catalogue) -> tuple[dict[int, int], bool]:
    """What is left for this piece of what its event could have, when the event's other pieces have taken theirs: two
    panels of one event must not both take the last bag. And whether the others take any balloons."""
    free = free_for(piece.event, item_ids)
    taken = taken_beside(piece, catalogue) if free else {}
    return {item: max(0, have - taken.get(item, 0)) for item, have in free.items()}, bool(taken)


def free_beside(piece: Piece, item_ids: Iterable[int], catalogue: Catalogue) -> dict[int, int]:
    return left_beside(piece, item_ids, catalogue)[0]


def _burst(catalogue: Catalogue) -> dict[int, float]:
    return known_burst(now=timezone.now(), spares_share=catalogue.making.spares_share)


def _taken(found: Iterable[Piece], catalogue: Catalogue, studio: Studio, burst: Mapping[int, float]) -> dict[int, int]:
    rates, kinds = rates_from_plain(studio.rates), all_kinds()
    pieces = []
    for piece in found:
        try:
            measures = kinds[piece.kind].calc_measures(
                piece.measures,
                catalogue=catalogue,
                count=piece.count,
                built_at=piece.built_at,
                panel=getattr(piece, "panel", None),
            )
            pieces.append(measured(PieceInput(piece.title, measures, count=piece.count, fill=piece.fill), rates))
        except (KeyError, ValueError):
            continue
    taken: Counter[int] = Counter()
    for line in latex_lines(pieces, rates, burst):
        if line.key is not None:
            taken[line.key] += line.quantity
    return dict(taken)
