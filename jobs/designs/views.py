"""A piece of an event: looked at, added, changed, removed."""

from types import ModuleType
from typing import Any

from django.forms import all_valid
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_safe

from decor.calc.work.rates import rates_from_plain
from decor.studio.numbers import whole
from decor.studio.requests import once
from decor.studio.services import audit_add
from decor.studio.versions import Changed
from jobs.designs import changed as changes
from jobs.designs import services
from jobs.designs.catalogue import Catalogue, catalogue_now
from jobs.designs.forms import PieceChangeForm, PieceForm, entered_and_stored
from jobs.designs.kinds import all_kinds, kind_of
from jobs.designs.models import Piece
from jobs.designs.page import piece_page
from jobs.designs.table.pace import pace_words
from jobs.events.models import Event


def found_piece(event: int, piece: int) -> Piece:
    return get_object_or_404(Piece.objects.select_related("event__venue", "panel__picture"), pk=piece, event=event)


@require_safe
def piece(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    found = found_piece(event, piece)
    plain, sheet = request.GET.get("view") == "plain", request.GET.get("sheet", "")
    catalogue, panel = catalogue_now(), getattr(found, "panel", None)
    context = piece_page(found, kind_of(found.kind), catalogue, request.studio, plain=plain, sheet=sheet)
    took = pace_words(panel.loading, catalogue, rates_from_plain(request.studio.rates)) if panel else ""
    return render(request, "jobs/designs/piece.html", {"tab": "events", "took": took, **context})


@once
def piece_add(request: HttpRequest, event: int) -> HttpResponse:
    found = get_object_or_404(Event.objects.select_related("venue"), pk=event)
    key = request.GET.get("kind", "")
    if not key:
        return render(
            request, "jobs/designs/piece_kinds.html", {"tab": "events", "event": found, "kinds": all_kinds().values()}
        )
    kind, sent = kind_of(key), request.POST or None
    form = PieceForm(sent, initial={"title": kind.NAME, "built_at": "workshop", "fill": "air", "count": 1})
    rough = kind.RoughForm(sent, catalogue=catalogue_now())
    if sent and form.is_valid() & rough.is_valid():
        measures = kind.rough_json(rough.cleaned_data)
        [made] = services.pieces_from_rough(found, [{"kind": key, "measures": measures, **form.cleaned_data}])
        audit_add(request=request, act="added a piece", subject=f"{found}: {made}")
        changes.say(request, event)
        return redirect("jobs:piece", event=event, piece=made.pk)
    context = {"event": found, "forms": [form, rough], "title": f"Add a {kind.NAME.lower()}", "act": "Add it"}
    return _form(request, context)


def _form(request: HttpRequest, context: dict[str, Any], *, status: int = 0) -> HttpResponse:
    """One slip, one summary of what is wrong, however many forms it is made of."""
    errors = sum(len(words) for form in context["forms"] for words in form.errors.values())
    context = {"tab": "events", "error_count": errors, **context}
    status = status or (422 if request.method == "POST" else 200)
    return render(request, "jobs/designs/piece_form.html", context, status=status)


@once
def piece_edit(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    """What it is called, how many, where it is built; its rough size while that is all that is known."""
    found, catalogue = found_piece(event, piece), catalogue_now()
    kind, sent = kind_of(found.kind), request.POST or None
    form, rough = PieceChangeForm(sent, instance=found), _rough_form(kind, found, catalogue, sent)
    if rough and (sheet := whole(request.GET.get("sheet", ""))):
        # Chosen on the page that told what is short.
        rough.initial |= {"sheet": sheet}
    context = {"event": found.event, "piece": found, "title": f"Change {found.title}", "act": "Save"}
    context["forms"] = [form, rough] if rough else [form]
    if not (sent and all_valid(context["forms"])):
        return _form(request, context)
    values = {name: form.cleaned_data[name] for name in PieceForm.Meta.fields}
    if rough:
        values["measures"] = kind.rough_json(rough.cleaned_data)
    try:
        services.piece_change(piece=found, version=form.cleaned_data["version"], values=values)
    except Changed as changed:
        differences = form.meet(changed.now)
        if rough:
            differences += entered_and_stored(rough, _rough_form(kind, changed.now, catalogue, None) or rough)
        return _form(request, context | {"differences": differences}, status=409)
    audit_add(request=request, act="changed a piece", subject=f"{found.event}: {values['title']}")
    changes.say(request, event)
    return redirect("jobs:piece", event=event, piece=piece)


def _rough_form(kind: ModuleType, piece: Piece, catalogue: Catalogue, sent: Any) -> Any:
    made = getattr(kind, "SavedRoughForm", kind.RoughForm)
    return made(sent, catalogue=catalogue, initial=dict(piece.measures)) if piece.measures.get("rough") else None


@once
def piece_measures(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    """The kind's own form: sizes, colours, and a panel's picture."""
    found, catalogue = found_piece(event, piece), catalogue_now()
    kind, sent = kind_of(found.kind), request.POST or None
    form = kind.Form(sent, request.FILES or None, piece=found, catalogue=catalogue)
    context = {
        "event": found.event,
        "piece": found,
        "forms": [form],
        "title": found.title,
        "act": getattr(form, "ACT", "Save"),
        "versions": request.POST.get("versions", "") if sent else versions_of(found),
    }
    if not (sent and form.is_valid()):
        if sent and hasattr(form, "keep_picture"):
            form.keep_picture()
        return _form(request, context)
    try:
        version, panel_version = _versions(context["versions"])
        services.piece_measure(piece=found, version=version, panel_version=panel_version, measured=form.measured())
    except Changed:
        now = found_piece(event, piece)
        differences = entered_and_stored(form, kind.Form(piece=now, catalogue=catalogue))
        return _form(request, context | {"differences": differences, "versions": versions_of(now)}, status=409)
    audit_add(request=request, act="changed a piece's measures", subject=f"{found.event}: {found}")
    changes.say(request, event, " ".join(getattr(form, "notes", ())), warns=getattr(form, "warns", False))
    return redirect("jobs:piece", event=event, piece=piece)


def versions_of(piece: Piece) -> str:
    """The piece's version and its chart's: both are overwritten by new measures."""
    panel = getattr(piece, "panel", None)
    return f"{piece.version}-{panel.version if panel else 0}"


def _versions(text: str) -> tuple[int, int]:
    parts = [whole(part, otherwise=-1) for part in text.split("-")]
    return (parts[0], parts[1]) if len(parts) == 2 else (-1, -1)


@require_safe
def piece_colours(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    """The colours that another sheet or way to load asks for, for the form that is being filled in."""
    found = found_piece(event, piece)
    kind = kind_of(found.kind)
    if not hasattr(kind.Form, "colours_for"):
        raise Http404
    form = kind.Form.colours_for(request.GET, piece=found, catalogue=catalogue_now())
    return HttpResponse(str(form["colours"]))


@once
def piece_remove(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    found = found_piece(event, piece)
    if request.method == "POST":
        services.piece_remove(piece=found)
        audit_add(request=request, act="removed a piece", subject=f"{found.event}: {found}")
        changes.say(request, event, f"{found.title} is removed.")
        return redirect("jobs:event-glance", event=event)
    return render(request, "jobs/designs/piece_remove.html", {"tab": "events", "piece": found, "event": found.event})
