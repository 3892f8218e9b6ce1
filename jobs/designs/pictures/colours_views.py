"""The colours of a panel's picture: tried out beside their price, and taken over."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from decor.studio.requests import once
from decor.studio.services import audit_add
from decor.studio.versions import Changed
from jobs.designs import changed, services
from jobs.designs.models import Piece
from jobs.designs.pictures.buying import bought
from jobs.designs.pictures.desk import Desk, panel_piece, picture_of
from jobs.designs.pictures.looks import buy_look, look_of
from jobs.designs.pictures.making import Made
from jobs.designs.pictures.recipe import RecipeRefused


@once
def colours(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    try:
        desk = Desk(request, event, piece)
    except (ValueError, RecipeRefused) as refusal:
        return _nothing(request, panel_piece(event, piece), str(refusal))
    if desk.draft.recipe["source"] == "picture" and not desk.draft.picture_id and not hasattr(desk.piece, "panel"):
        return _nothing(request, desk.piece, "")
    if request.method != "POST":
        return _page(desk, desk.made())
    act = request.POST.get("act", "look")
    if act == "drop":
        return desk.dropped() or _page(desk, None, status=409, differences=desk.met())
    done = desk.made()
    if done is None:
        return _page(desk, None, status=422)
    if act == "buy":
        return _page(desk, done, buy=_buy(desk))
    try:
        desk.keep()
        if act != "use":
            return _page(desk, done)
        return desk.use(done)
    except Changed:
        return _page(desk, done, status=409, differences=desk.met())


def _nothing(request: HttpRequest, piece: Piece, refusal: str) -> HttpResponse:
    context = {"tab": "events", "piece": piece, "event": piece.event, "refusal": refusal}
    return render(request, "jobs/designs/colours_nothing.html", context)


def _page(desk: Desk, done: Made | None, *, status: int = 200, buy: Any = None, **extra: Any) -> HttpResponse:
    context = {
        "tab": "events",
        "piece": desk.piece,
        "event": desk.piece.event,
        "draft": desk.draft,
        "form": desk.form,
        "forms": [desk.form],
        "error_count": sum(len(words) for words in desk.form.errors.values()),
        "look": look_of(done, desk.form, desk.catalogue, desk.piece) if done else None,
        "buy": buy,
        "goes": desk.goes(done),
    }
    return render(desk.request, "jobs/designs/colours.html", context | extra, status=status)


@require_POST
def colours_look(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    """The preview of what is being chosen, kept in the draft as it goes; what is refused is said beside its cause."""
    try:
        desk = Desk(request, event, piece)
    except ValueError as refusal:
        return HttpResponse(str(refusal), status=422, content_type="text/plain")
    done = desk.made()
    differences = None if done is None else desk.kept()
    context = {
        "piece": desk.piece,
        "event": desk.piece.event,
        "draft": desk.draft,
        "form": desk.form,
        "slots": desk.form.slots(),
        "others": desk.form.others(),
        "look": look_of(done, desk.form, desk.catalogue, desk.piece) if done else None,
        "differences": differences,
        "goes": desk.goes(done),
    }
    return desk.previewed("jobs/designs/_colours_preview.html", done, context)


@require_POST
def colours_buy(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    """What would have to be bought, beside what would be best if everything were free."""
    try:
        desk = Desk(request, event, piece)
    except ValueError as refusal:
        return HttpResponse(str(refusal), status=422, content_type="text/plain")
    buy = None if desk.made() is None else _buy(desk)
    context = {"piece": desk.piece, "event": desk.piece.event, "buy": buy, "form": desk.form}
    return render(request, "jobs/designs/_colours_buy.html", context, status=200 if buy else 422)


def _buy(desk: Desk) -> Any:
    picture = picture_of(desk.draft)
    done = bought(desk.recipe, picture, catalogue=desk.catalogue, piece=desk.piece, free=desk.form.free)
    return buy_look(done, desk.catalogue, desk.piece)


@require_POST
@once
def chart_put_back(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    """The chart that stood before the one that is in use."""
    found = panel_piece(event, piece)
    panel = getattr(found, "panel", None)
    if panel is None:
        raise Http404
    try:
        services.chart_put_back(panel=panel, version=int(request.POST.get("version") or 0))
    except services.NothingEarlier as refusal:
        request.session["outcome"] = str(refusal)
    except (Changed, ValueError):
        request.session["outcome"] = "Somebody else changed this chart meanwhile; nothing was put back. Look again."
    else:
        audit_add(request=request, act="put the earlier chart back", subject=f"{found.event}: {found}")
        changed.say(request, event, "The earlier chart is back; the other one can be put back in the same way.")
    return redirect("jobs:piece", event=event, piece=piece)
