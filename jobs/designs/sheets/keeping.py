"""Keeping a panel's sheet plan: with a chart that is taken over, when it is asked for anew, and the better one that
the worker finds."""

from collections.abc import Callable, Collection
from typing import Any

from django.db import transaction

from decor.calc.picture.sheets_costs import CannotTile
from decor.studio.background import Progress, job_request
from decor.studio.models import BackgroundJob
from decor.studio.versions import Changed
from jobs.designs.catalogue import Catalogue, catalogue_now
from jobs.designs.charting import cells_array
from jobs.designs.measured import Charted
from jobs.designs.models import Panel, Piece
from jobs.designs.sheets.plans import (
    allowed_types,
    carried,
    covers_chart,
    doors_of,
    outline_key,
    sheet_of,
    tiled,
    to_plain,
    types_like,
)

KIND = "sheet plan"


def plan_for(*, piece: Piece, charted: Charted) -> dict[str, Any]:
    """The plan to be kept with a chart: the one that stands where it still serves, else a new one; empty where the
    sheets can't be laid by the rules. Sheet types that were struck out for the panel stay so."""
    catalogue = catalogue_now()
    sheet = catalogue.sheet(charted.sheet_id)
    filled = charted.chart.cells >= 0
    if sheet is None or not filled.any():
        return {}
    standing: Panel | None = Panel.objects.filter(piece=piece, sheet_id=charted.sheet_id).first()
    allowed = (standing.plan or {}).get("allowed") if standing else None
    types = tuple(kind for kind in types_like(sheet, catalogue) if allowed is None or kind.id in allowed) or (sheet,)
    same_size = standing is not None and (standing.rows, standing.columns) == filled.shape
    if standing and same_size and covers_chart(filled, types, standing.plan):
        return dict(standing.plan)
    doors = doors_of(piece, sheet, charted.loading, catalogue)
    types = carried(types, doors)
    try:
        found = tiled(filled, types, catalogue.making, prove=False)
    except CannotTile:
        return {"allowed": allowed} if allowed else {}
    return to_plain(found, types, filled, allowed)


def plan_anew(*, panel: Panel, version: int, allowed: Collection[int] | None) -> BackgroundJob | None:
    """A quick plan at once and the job that looks for a better one; with `allowed`, of these sheet types only.

    Raises Changed, and CannotTile in words, before anything is written.
    """
    catalogue = catalogue_now()
    if panel.version != version:
        raise Changed(panel.piece)
    alike = types_like(sheet_of(panel, catalogue), catalogue)
    chosen = sorted(allowed) if allowed is not None and len(allowed) < len(alike) else None
    types = tuple(kind for kind in alike if chosen is None or kind.id in chosen)
    filled = cells_array(panel) >= 0
    if not types or not filled.any():
        return None
    types = carried(types, doors_of(panel.piece, alike[0], panel.loading, catalogue))
    plain = to_plain(tiled(filled, types, catalogue.making, prove=False), types, filled, chosen)
    with transaction.atomic():
        if not Panel.objects.filter(pk=panel.pk, version=version).update(plan=plain):
            raise Changed(panel.piece)
        panel.plan = plain
        return job_request(kind=KIND, subject_id=panel.pk, input_key=job_key(panel, catalogue))


def job_key(panel: Panel, catalogue: Catalogue) -> str:
    """Names the outline and the sheets that a better plan is looked for with."""
    types = allowed_types(panel, catalogue)
    doors = doors_of(panel.piece, types[0], panel.loading, catalogue)
    return outline_key(cells_array(panel) >= 0, repr((types, doors, catalogue.making)))


def plan_job(panel: Panel, catalogue: Catalogue) -> BackgroundJob | None:
    """The job of the plan that stands, if one was asked for."""
    key = job_key(panel, catalogue)
    return BackgroundJob.objects.filter(kind=KIND, subject_id=panel.pk, input_key=key).first()


def plan_compute(panel_id: int, progress: Progress) -> Callable[[], None]:
    """For the worker: the best plan that a few seconds find, with its bound."""
    panel = Panel.objects.select_related("piece__event__venue").get(pk=panel_id)
    catalogue = catalogue_now()
    types, filled = allowed_types(panel, catalogue), cells_array(panel) >= 0
    types = carried(types, doors_of(panel.piece, types[0], panel.loading, catalogue))
    progress(0.1, "Looking for the cheapest sheets")
    found = tiled(filled, types, catalogue.making, prove=True)
    plain = to_plain(found, types, filled, (panel.plan or {}).get("allowed"))

    def write() -> None:
        # A chart that was given another outline meanwhile keeps its own plan.
        now = Panel.objects.select_for_update().get(pk=panel_id)
        same = now.sheet_id == panel.sheet_id and (now.plan or {}).get("allowed") == plain["allowed"]
        if same and outline_key(cells_array(now) >= 0) == plain["outline"]:
            Panel.objects.filter(pk=panel_id).update(plan=plain)

    return write
