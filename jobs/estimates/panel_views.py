"""What a panel comes to, for the pages on which it is designed: they include it by its address, as designs know
nothing of hours and money."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from jobs.designs import changed
from jobs.designs.models import PanelDraft, Piece
from jobs.estimates.inputs import Background, background_now
from jobs.estimates.panel_figures import Figures, draft_panel, figures_of, figures_of_size


def panel_piece(event: int, piece: int) -> Piece:
    found = Piece.objects.select_related("event__venue", "event__reservation", "panel__sheet")
    return get_object_or_404(found, pk=piece, event=event, kind="panel")


@require_safe
def panel_figures(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    found = panel_piece(event, piece)
    context: dict[str, object] = {"tab": "events", "piece": found, "event": found.event}
    try:
        context["figures"] = _asked(request, found, background_now(request.studio))
    except ValueError as refusal:
        context["refusal"] = str(refusal)
    if not set(request.GET) & {"draft", "rows", "columns", "sheet", "loading"}:
        context["kept"] = changed.standing(event)
    template = "_panel_figures" if request.htmx else "panel_figures"
    return render(request, f"jobs/estimates/{template}.html", context)


def _asked(request: HttpRequest, piece: Piece, background: Background) -> Figures:
    panel = getattr(piece, "panel", None)
    if request.GET.get("draft"):
        draft = PanelDraft.objects.select_related("picture").filter(piece=piece).first()
        return figures_of(piece, draft_panel(piece, draft, background) if draft else panel, background)
    if {"rows", "columns", "sheet", "loading"} & set(request.GET):
        return figures_of_size(piece, request.GET, background)
    return figures_of(piece, panel, background)
