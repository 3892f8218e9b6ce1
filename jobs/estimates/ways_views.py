from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from decor.studio.numbers import whole
from decor.studio.requests import once
from decor.studio.services import audit_add
from decor.studio.versions import Changed
from jobs.designs import changed as follow
from jobs.designs.models import Panel, Piece
from jobs.designs.reloading import panel_reload
from jobs.estimates.inputs import background_now
from jobs.estimates.panel_views import panel_piece
from jobs.estimates.ways import ways_of


@require_http_methods(["GET", "HEAD", "POST"])
@once
def panel_ways(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    """The ways side by side; a chosen one becomes the panel's."""
    found = panel_piece(event, piece)
    panel: Panel | None = getattr(found, "panel", None)
    if panel is None:
        return render(request, "jobs/estimates/ways.html", _bare(found))
    if request.method != "POST":
        return _page(request, found, panel)
    way, version = request.POST.get("way", ""), whole(request.POST.get("version", ""))
    try:
        changed = panel_reload(
            panel=panel, version=version, way=way, catalogue=background_now(request.studio).catalogue
        )
    except Changed:
        panel.refresh_from_db()
        words = "The chart was changed by somebody else meanwhile. These are its figures now; choose again."
        return _page(request, found, panel, refusal=words, chosen=way, status=409)
    except ValueError as refusal:
        return _page(request, found, panel, refusal=str(refusal), chosen=way, status=422)
    audit_add(request=request, act="changed the way to load", subject=f"{found.event}: {found}, {way}")
    follow.say(request, event, f"{found.title} is loaded {changed.get_loading_display().lower()} now.")
    return redirect("jobs:panel-ways", event=event, piece=piece)


def _bare(piece: Piece) -> dict[str, object]:
    return {"tab": "events", "piece": piece, "event": piece.event}


def _page(
    request: HttpRequest, piece: Piece, panel: Panel, *, refusal: str = "", chosen: str = "", status: int = 200
) -> HttpResponse:
    context = _bare(piece) | {
        "panel": panel,
        "ways": ways_of(piece, panel, background_now(request.studio)),
        "refusal": refusal,
        "chosen": chosen or panel.loading,
    }
    return render(request, "jobs/estimates/ways.html", context, status=status)
