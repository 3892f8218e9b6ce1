"""Blank charts to colour in by hand, and the way back from their photographs."""

from collections.abc import Sequence
from typing import Any

from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from decor.calc.picture.chart import EMPTY
from decor.calc.picture.paper import MOST_COLOURS, paper_parts
from decor.calc.picture.paper_photo import NoPaper
from decor.calc.pieces.panel import LOADINGS
from decor.studio.documents import pdf_of
from decor.studio.numbers import whole
from decor.studio.pictures import PictureRefused
from decor.studio.requests import once
from decor.studio.services import audit_add, file_path
from decor.studio.versions import Changed
from jobs.designs import changed
from jobs.designs.catalogue import Catalogue, catalogue_now
from jobs.designs.charting import counts_of
from jobs.designs.models import ChartPaper, Panel, PaperPage, Piece
from jobs.designs.paper import services
from jobs.designs.paper.forms import PhotosForm, PrintForm, TakeForm
from jobs.designs.paper.pages import paper_svgs
from jobs.designs.paper.reading import CROP_PX, lattice_of, parts_of, photo_read
from jobs.designs.paper.shown import drawn, first_white, questions
from jobs.designs.pictures.desk import panel_piece
from jobs.designs.pictures.drafts import draft_of
from jobs.designs.pictures.keeping import by_hand, gone_words
from jobs.designs.pictures.recipe import Recipe, RecipeRefused

QUESTIONS_A_PAGE = 30
CHANGED_WORDS = "Somebody else changed this meanwhile. What stands now is shown; send it again if you still want it."


@once
def paper(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    """Which pens, which paper; the papers that were printed before."""
    found, catalogue = panel_piece(event, piece), catalogue_now()
    try:
        recipe = Recipe.from_plain(draft_of(piece=found, catalogue=catalogue).recipe)
    except (ValueError, RecipeRefused) as refusal:
        return _print_page(request, found, catalogue, None, None, str(refusal))
    sheet = catalogue.sheet(recipe.sheet)
    fitting = catalogue.fitting(sheet.sized_diameter_m, LOADINGS[recipe.loading].shape) if sheet else ()
    form = PrintForm(
        request.POST or None, fitting=fitting, initial=_first_pens(found, catalogue, recipe, fitting, request)
    )
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            lattice = sheet.lattice_of(recipe.rows, recipe.columns)
            paper_parts(lattice, colours=len(given["colours"]), paper=given["paper"])
        except ValueError:
            form.add_error(None, _too_large(recipe))
        else:
            made = services.paper_make(piece=found, recipe=recipe, palette=given["colours"], paper=given["paper"])
            return redirect("jobs:panel-paper-read", event=event, piece=piece, paper=made.pk)
    return _print_page(request, found, catalogue, form, recipe, "")


def _too_large(recipe: Recipe) -> str:
    return (
        f"{recipe.columns} wide and {recipe.rows} high would fill more pages than can be put together again. "
        "Colour in a smaller panel, or a part of it."
    )


def _first_pens(
    piece: Piece, catalogue: Catalogue, recipe: Recipe, fitting: Sequence[Any], request: HttpRequest
) -> dict[str, Any]:
    """The colours of the chart, those with the most cells first, as a page has room for so many only."""
    offered = {item.id for item in fitting}
    pens = [number for number in recipe.palette if number in offered] or [item.id for item in fitting]
    panel: Panel | None = getattr(piece, "panel", None)
    if panel is not None:
        counts = sorted(counts_of(panel, catalogue), key=lambda one: -one[1])
        pens = [item.id for item, cells in counts if item and cells and item.id in offered] or pens
    return {"colours": pens[:MOST_COLOURS], "paper": request.studio.paper}


def _print_page(
    request: HttpRequest, piece: Piece, catalogue: Catalogue, form: PrintForm | None, recipe: Recipe | None, wrong: str
) -> HttpResponse:
    context = {
        "tab": "events",
        "piece": piece,
        "event": piece.event,
        "form": form,
        "recipe": recipe,
        "sheet": catalogue.sheet(recipe.sheet) if recipe else None,
        "wrong": wrong,
        "papers": ChartPaper.objects.filter(piece=piece)[:10],
    }
    bad = request.method == "POST"
    return render(request, "jobs/designs/paper.html", context, status=422 if bad else 200)


def _paper(event: int, piece: int, paper: int) -> ChartPaper:
    found = ChartPaper.objects.select_related("piece__event__venue", "piece__panel")
    return get_object_or_404(found, pk=paper, piece=piece, piece__event=event)


@require_safe
def paper_file(request: HttpRequest, event: int, piece: int, paper: int) -> HttpResponse:
    found, catalogue = _paper(event, piece, paper), catalogue_now()
    items = [catalogue.balloon(number) for number in found.palette]
    names = [item.words if item else "taken out of stock" for item in items]
    try:
        svgs = paper_svgs(
            lattice_of(found, catalogue), names, number=found.pk, title=found.piece.title, paper=found.paper
        )
        data = pdf_of("documents/chart_paper.html", {"pages": svgs, "title": found.piece.title}, paper=found.paper)
    except ValueError as missing:
        page = {"title": "No chart paper", "text": str(missing)}
        return render(request, "studio/message.html", page, status=422)
    answer = HttpResponse(data, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="chart-paper-{found.pk}.pdf"'
    return answer


@once
def paper_read(request: HttpRequest, event: int, piece: int, paper: int) -> HttpResponse:
    """Photographs in; what was read and what is not sure."""
    found, catalogue = _paper(event, piece, paper), catalogue_now()
    form = PhotosForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        read = [_page_in(photo, found, catalogue, form) for photo in form.cleaned_data["photos"]]
        if not form.errors:
            request.session["outcome"] = _read_words([page for page in read if page])
            return redirect("jobs:panel-paper-read", event=event, piece=piece, paper=paper)
    return _read_page(request, found, catalogue, form, status=422 if request.method == "POST" else 200)


def _page_in(photo: Any, paper: ChartPaper, catalogue: Catalogue, form: PhotosForm) -> PaperPage | None:
    try:
        return services.page_keep(chart_paper=paper, read=photo_read(photo.read(), paper, catalogue))
    except (NoPaper, PictureRefused) as refusal:
        form.add_error("photos", f"{photo.name}: {refusal}")
    return None


def _read_words(pages: Sequence[PaperPage]) -> str:
    unsure = sum(len(page.unsure) for page in pages)
    read = f"Page {pages[0].number} is read" if len(pages) == 1 else f"{len(pages)} pages are read"
    if not unsure:
        return f"{read}, every cell for sure."
    return f"{read}; {unsure} {'cell is' if unsure == 1 else 'cells are'} not sure and shown below."


def _read_page(
    request: HttpRequest, paper: ChartPaper, catalogue: Catalogue, form: PhotosForm, *, status: int = 200, **extra: Any
) -> HttpResponse:
    lattice = lattice_of(paper, catalogue)
    parts, pages = parts_of(paper, lattice), list(paper.pages.select_related("crops"))
    palette = [catalogue.balloon(number) for number in paper.palette]
    asked = [question for page in pages for question in questions(page, parts[page.number - 1], palette)]
    take = TakeForm(paper=paper, catalogue=catalogue, initial=first_white(paper, pages, palette))
    context = {
        "tab": "events",
        "piece": paper.piece,
        "event": paper.piece.event,
        "paper": paper,
        "form": form,
        "take": take,
        "parts": [(part, next((page for page in pages if page.number == part.number), None)) for part in parts],
        "complete": len(pages) == len(parts),
        "chart": drawn(paper, lattice, pages, parts, palette) if pages else "",
        "questions": asked[:QUESTIONS_A_PAGE],
        "unsure": len(asked),
        "palette": [(at, item) for at, item in enumerate(palette) if item],
        "crop": CROP_PX,
        "goes": by_hand(getattr(paper.piece, "panel", None)),
    }
    return render(request, "jobs/designs/paper_read.html", context | extra, status=status)


@require_safe
def paper_crops(request: HttpRequest, event: int, piece: int, paper: int, number: int) -> FileResponse:
    page = get_object_or_404(
        PaperPage.objects.select_related("crops"), chart_paper=_paper(event, piece, paper), number=number
    )
    if page.crops is None:
        raise Http404
    try:
        return FileResponse(file_path(page.crops.name).open("rb"), content_type="image/jpeg")
    except FileNotFoundError as lost:
        raise Http404 from lost


@require_POST
@once
def paper_answer(request: HttpRequest, event: int, piece: int, paper: int) -> HttpResponse:
    found = _paper(event, piece, paper)
    try:
        for page in found.pages.all():
            answers = _answers(request, page, len(found.palette))
            if answers:
                services.page_answer(page=page, answers=answers)
    except Changed:
        return _read_page(request, found, catalogue_now(), PhotosForm(), status=409, warning=CHANGED_WORDS)
    return redirect("jobs:panel-paper-read", event=event, piece=piece, paper=paper)


def _answers(request: HttpRequest, page: PaperPage, colours: int) -> dict[int, int]:
    """By cell; the long list's answer goes before the buttons', as it was opened on purpose."""
    found = {}
    for cell in page.unsure:
        name = f"cell-{page.number}-{cell}"
        said = request.POST.get(f"{name}-other") or request.POST.get(name, "")
        number = EMPTY if said == str(EMPTY) else whole(said, otherwise=colours)
        if number < colours:
            found[cell] = number
    return found


@require_POST
@once
def paper_take(request: HttpRequest, event: int, piece: int, paper: int) -> HttpResponse:
    found, catalogue = _paper(event, piece, paper), catalogue_now()
    form, goes = TakeForm(request.POST, paper=found, catalogue=catalogue), by_hand(getattr(found.piece, "panel", None))
    try:
        if not form.is_valid():
            return _read_page(request, found, catalogue, PhotosForm(), status=422, take=form)
        services.paper_take_over(chart_paper=found, piece=found.piece, catalogue=catalogue, **form.cleaned_data)
    except services.NothingRead as refusal:
        return _read_page(request, found, catalogue, PhotosForm(), status=422, take=form, warning=str(refusal))
    except Changed:
        return _read_page(
            request, _paper(event, piece, paper), catalogue, PhotosForm(), status=409, warning=CHANGED_WORDS
        )
    audit_add(request=request, act="took a chart over from paper", subject=f"{found.piece.event}: {found.piece}")
    changed.say(request, event, f"The chart from paper is the panel's now. {gone_words(goes)}".strip())
    return redirect("jobs:piece", event=event, piece=piece)
