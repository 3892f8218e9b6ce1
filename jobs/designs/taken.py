"""How many balloons of each item a whole event takes, its spares counted in, as its estimate and its stock page do."""

from collections import Counter
from collections.abc import Iterable

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
from jobs.events.models import Event


def taken_by(event: Event, catalogue: Catalogue, studio: Studio) -> dict[int, int]:
    """{item id: how many}, of all its pieces together. A piece that can't be worked out as it is takes nothing."""
    return _taken(Piece.objects.filter(event=event).select_related("panel"), catalogue, studio)


def free_beside(piece: Piece, item_ids: Iterable[int], catalogue: Catalogue) -> dict[int, int]:
    """What is left for this piece of what its event could have, when the event's other pieces have taken theirs: two
    panels of one event must not both take the last bag."""
    free = free_for(piece.event, item_ids)
    others = list(Piece.objects.filter(event=piece.event_id).exclude(pk=piece.pk).select_related("panel"))
    studio = Studio.objects.order_by("pk").first() if others and free else None
    taken = _taken(others, catalogue, studio) if studio else {}
    return {item: max(0, have - taken.get(item, 0)) for item, have in free.items()}


def _taken(found: Iterable[Piece], catalogue: Catalogue, studio: Studio) -> dict[int, int]:
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
    burst = known_burst(now=timezone.now(), spares_share=rates.spares_share)
    taken: Counter[int] = Counter()
    for line in latex_lines(pieces, rates, burst):
        if line.key is not None:
            taken[line.key] += line.quantity
    return dict(taken)
