"""The library of panels: kept from a piece or read from a file, found by words or by a picture, used again."""

from typing import Any

from django.core.paginator import Paginator
from django.db.models import Q
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.safestring import mark_safe
from django.utils.text import slugify
from django.views.decorators.http import require_POST, require_safe

from decor.calc.picture import fingerprint
from decor.calc.pieces.panel import LOADINGS
from decor.studio.numbers import whole
from decor.studio.pictures import picture_array
from decor.studio.requests import once
from decor.studio.services import audit_add
from decor.studio.versions import Changed
from jobs.designs.catalogue import catalogue_now
from jobs.designs.charting import flat_svg
from jobs.designs.drawing import balloons_svg
from jobs.designs.kept import services
from jobs.designs.kept.forms import FileForm, FindForm, KeepForm, KeptForm, UseForm
from jobs.designs.models import KeptPanel, Piece
from jobs.designs.out.plain_json import written
from jobs.designs.pictures.drafts import draft_of
from jobs.designs.views import found_piece

A_PAGE = 24
LIKE, UNLIKE = 6.0, 20.0
MOST_DRAWN = 7_000
NO_SHEET = "The studio has no framework sheets yet. Add a sheet type under Stock."


def _drawn(kept: KeptPanel, *, large: bool = False) -> str:
    file = services.kept_file(kept)
    hexes = [one.rgb for one in file.palette]
    if not large or file.chart.lattice.cells > MOST_DRAWN:
        return mark_safe(flat_svg(file.chart, hexes, title=kept.title))
    return mark_safe(balloons_svg(file.chart, hexes, title=kept.title, prefix=f"k{kept.pk}-"))


def _likeness(far: float) -> str:
    if far < LIKE:
        return "the same picture"
    return "much alike" if far < (LIKE + UNLIKE) / 2 else "somewhat alike" if far < UNLIKE else "hardly alike"


@once
def kept_panels(request: HttpRequest, event: int | None = None, piece: int | None = None) -> HttpResponse:
    """All that is kept; with a piece, to choose one for it. A picture that is sent finds those like it."""
    found = _piece(event, piece)
    sent = request.method == "POST"
    find = FindForm(request.POST or None, request.FILES or None)
    words = request.GET.get("q", "")[:80].replace("\0", "")
    if sent and find.is_valid():
        print_of = fingerprint.of_picture(picture_array(find.cleaned_data["picture"].data, 4 * fingerprint.SIDE**2))
        listed = [(one, _likeness(far)) for one, far in services.alike(print_of) if far < UNLIKE]
        page = None
    else:
        kept = (
            KeptPanel.objects.filter(Q(title__icontains=words) | Q(note__icontains=words))
            if words
            else KeptPanel.objects
        )
        page = Paginator(kept.order_by("title", "pk"), A_PAGE).get_page(request.GET.get("page"))
        listed = [(one, "") for one in page.object_list]
    context = {
        "tab": "events" if found else "more",
        "piece": found,
        "event": found.event if found else None,
        "find": find,
        "file": FileForm(),
        "by_picture": sent and not find.errors,
        "words": words,
        "page": page,
        "kept": [(one, how, _drawn(one)) for one, how in listed],
    }
    return render(request, "jobs/designs/library.html", context, status=422 if find.errors else 200)


def _piece(event: int | None, piece: int | None) -> Piece | None:
    if event is None or piece is None:
        return None
    found = found_piece(event, piece)
    if found.kind != "panel":
        raise Http404
    return found


@require_POST
@once
def library_read(request: HttpRequest) -> HttpResponse:
    """A chart from a file."""
    form = FileForm(request.POST, request.FILES)
    if form.is_valid():
        kept = services.file_keep(file=form.cleaned_data["chart"])
        request.session["outcome"] = f"{kept.title} is in the library."
        return redirect("jobs:kept-panel", kept=kept.pk)
    page = Paginator(KeptPanel.objects.order_by("title", "pk"), A_PAGE).get_page(1)
    context = {"tab": "more", "find": FindForm(), "file": form, "words": "", "page": page}
    context["kept"] = [(one, "", _drawn(one)) for one in page.object_list]
    return render(request, "jobs/designs/library.html", context, status=422)


@once
def kept_panel(request: HttpRequest, kept: int) -> HttpResponse:
    """One of them, to look at, to call by another name, to take out as a file."""
    found = get_object_or_404(KeptPanel, pk=kept)
    initial = {"title": found.title, "note": found.note, "version": found.version}
    form, context = KeptForm(request.POST or None, initial=initial), {}
    if request.method == "POST" and form.is_valid():
        try:
            services.kept_change(kept=found, **form.cleaned_data)
            return redirect("jobs:kept-panel", kept=kept)
        except Changed as changed:
            found = changed.now
            context = {"differences": form.meet(found)}
    file = services.kept_file(found)
    counts = file.chart.counts()
    context |= {
        "tab": "more",
        "kept": found,
        "form": form,
        "drawing": _drawn(found, large=True),
        "colours": [(file.palette[number], counts[number]) for number in sorted(counts, key=lambda one: -counts[one])],
    }
    status = 409 if "differences" in context else 422 if form.errors else 200
    return render(request, "jobs/designs/kept_panel.html", context, status=status)


@require_safe
def kept_file(request: HttpRequest, kept: int) -> HttpResponse:
    found = get_object_or_404(KeptPanel, pk=kept)
    answer = HttpResponse(written(services.kept_file(found)), content_type="application/json")
    answer["Content-Disposition"] = f'attachment; filename="{slugify(found.title) or "panel"}.json"'
    return answer


@require_POST
@once
def kept_remove(request: HttpRequest, kept: int) -> HttpResponse:
    found = get_object_or_404(KeptPanel, pk=kept)
    services.kept_remove(kept=found)
    audit_add(request=request, act="took a panel out of the library", subject=found.title)
    request.session["outcome"] = f"{found.title} is no longer in the library."
    return redirect("jobs:library")


@once
def panel_keep(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    """A piece's panel, into the library."""
    found, catalogue = found_piece(event, piece), catalogue_now()
    panel = getattr(found, "panel", None)
    sheet = catalogue.sheet(panel.sheet_id) if panel else None
    if sheet is None:
        raise Http404
    form = KeepForm(request.POST or None, initial={"title": found.title, "note": found.event.title})
    if request.method == "POST" and form.is_valid():
        services.panel_keep(panel=panel, sheet=sheet, catalogue=catalogue, **form.cleaned_data)
        request.session["outcome"] = f"{form.cleaned_data['title']} is in the library."
        return redirect("jobs:piece", event=event, piece=piece)
    context = {"tab": "events", "piece": found, "event": found.event, "form": form}
    return render(request, "jobs/designs/library_keep.html", context, status=422 if form.errors else 200)


@once
def kept_use(request: HttpRequest, event: int, piece: int, kept: int) -> HttpResponse:
    """A kept panel for this piece: on which sheet, in which balloons. It goes on to its size and its colours."""
    found, catalogue = _piece(event, piece), catalogue_now()
    stands = get_object_or_404(KeptPanel, pk=kept)
    file, context = services.kept_file(stands), {"tab": "events", "piece": found, "event": found.event, "kept": stands}
    sheet = catalogue.sheet(whole(request.POST.get("sheet") or request.GET.get("sheet", "")))
    sheet = sheet or services.sheet_for(stands, catalogue)
    if sheet is None:
        return render(request, "jobs/designs/library_use.html", context | {"wrong": NO_SHEET})
    fitting = catalogue.fitting(sheet.sized_diameter_m, LOADINGS[file.loading].shape)
    form = UseForm(request.POST or None, file=file, sheet=sheet, catalogue=catalogue, fitting=fitting)
    draft = draft_of(piece=found, catalogue=catalogue)
    if request.method == "POST" and form.is_valid():
        version = whole(request.POST.get("version", ""), otherwise=-1)
        try:
            services.kept_use(
                kept=stands, piece=found, sheet=sheet, catalogue=catalogue, instead=form.instead(), version=version
            )
        except services.NotUsable as refusal:
            form.add_error(None, str(refusal))
        except Changed:
            context |= {"warning": "Somebody else began something for this piece meanwhile. Send it again to go on."}
        else:
            return redirect("jobs:panel-frame", event=event, piece=piece)
    context |= {"form": form, "drawing": _drawn(stands), "version": draft.version, "sheet": sheet}
    return render(request, "jobs/designs/library_use.html", context, status=_status(request, form, context))


def _status(request: HttpRequest, form: Any, context: dict[str, Any]) -> int:
    if "warning" in context:
        return 409
    return 422 if request.method == "POST" and form.errors else 200
