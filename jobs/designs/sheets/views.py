"""The sheet plan's page."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.safestring import mark_safe
from django_htmx.http import HttpResponseStopPolling

from decor.calc.picture.sheets_costs import CannotTile
from decor.calc.pieces.panel_ways import LOADINGS
from decor.studio.models import BackgroundJob
from decor.studio.requests import once
from decor.studio.versions import Changed
from jobs.designs import changed
from jobs.designs.catalogue import Catalogue, catalogue_now
from jobs.designs.charting import chart_of, hexes, palette_of
from jobs.designs.models import Piece
from jobs.designs.sheets.drawing import plan_svg
from jobs.designs.sheets.keeping import plan_anew, plan_job
from jobs.designs.sheets.plans import Planned, planned, sheet_of, types_like
from jobs.designs.sheets.words import near_words, sections_of, types_of
from jobs.designs.views import found_piece

CHANGED_WORDS = "Somebody else changed this panel meanwhile. What stands now is shown; send it again if you want it."
BUSY = (BackgroundJob.State.QUEUED, BackgroundJob.State.RUNNING)


class SheetsForm(forms.Form):
    """Which sheet types the plan may use."""

    version = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
    types = forms.TypedMultipleChoiceField(coerce=int, widget=forms.CheckboxSelectMultiple)

    def __init__(self, *args: Any, piece: Piece, catalogue: Catalogue, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        alike = types_like(sheet_of(piece.panel, catalogue), catalogue)
        chosen = (piece.panel.plan or {}).get("allowed") or [kind.id for kind in alike]
        self.fields["types"].choices = [(kind.id, kind.name) for kind in alike]
        self.fields["types"].initial = chosen
        self.fields["types"].error_messages["required"] = "Tick at least one sheet type."
        self.initial["version"] = piece.panel.version


@once
def panel_sheets(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    """The plan, and which sheets it may use; asked by htmx while a better plan is looked for."""
    found, catalogue = found_piece(event, piece), catalogue_now(request.studio)
    if getattr(found, "panel", None) is None:
        return render(request, "jobs/designs/sheets/sheets.html", _nothing(found))
    try:
        form = SheetsForm(request.POST or None, piece=found, catalogue=catalogue)
    except ValueError as refusal:
        return render(request, "jobs/designs/sheets/sheets.html", _nothing(found) | {"refusal": str(refusal)})
    status, warning = 200, ""
    if request.method == "POST":
        status, warning = _asked(form, found)
        if status == 302:
            changed.say(request, event)
            return redirect("jobs:panel-sheets", event=event, piece=piece)
    context = _context(found, catalogue, form) | {"warning": warning}
    if request.htmx and request.method == "GET":
        page = render(request, "jobs/designs/sheets/_plan.html", context)
        return page if context["waiting"] else HttpResponseStopPolling(page.content)
    return render(request, "jobs/designs/sheets/sheets.html", context, status=status)


def _asked(form: SheetsForm, piece: Piece) -> tuple[int, str]:
    if not form.is_valid():
        return 422, ""
    given = form.cleaned_data
    try:
        plan_anew(panel=piece.panel, version=given["version"], allowed=given["types"])
    except CannotTile as refusal:
        form.add_error("types", str(refusal))
        return 422, ""
    except Changed:
        piece.panel.refresh_from_db()
        return 409, CHANGED_WORDS
    return 302, ""


def _nothing(piece: Piece) -> dict[str, Any]:
    return {"tab": "events", "piece": piece, "event": piece.event, "panel": None}


def _context(piece: Piece, catalogue: Catalogue, form: SheetsForm) -> dict[str, Any]:
    panel = piece.panel
    found = planned(panel, catalogue)
    job = plan_job(panel, catalogue) if found.kept else None
    layers = LOADINGS[panel.loading].layers  # type: ignore[index]
    lines = types_of(found, layers)
    return {
        "tab": "events",
        "piece": piece,
        "event": piece.event,
        "panel": panel,
        "form": form,
        "found": found,
        "layers": layers,
        "lines": lines,
        "sheets": sum(line.quantity for line in lines),
        "cost": sum(line.cost for line in lines),
        "near": near_words(found),
        "joins": _joins(found),
        "late": len({(join.first, join.second) for join in found.plan.left_for_venue()}),
        "sections": sections_of(found, catalogue, catalogue.making.opening_strips),
        "picture": mark_safe(
            plan_svg(
                chart_of(panel, sheet_of(panel, catalogue)),
                hexes(palette_of(panel, catalogue)),
                found.plan,
                title=f"Sheet plan of {piece.title}, {len(found.plan.sheets)} sheets",
            )
        ),
        "job": job,
        "waiting": bool(job and job.state in BUSY),
        "better": job is None and not found.problem,
    }


def _joins(found: Planned) -> int:
    """Pairs of neighbouring sheets."""
    return len({(join.first, join.second) for join in found.plan.joins})
