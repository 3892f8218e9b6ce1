from contextlib import suppress
from dataclasses import replace

from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_POST, require_safe
from django_htmx.http import HttpResponseStopPolling

from decor.studio.models import BackgroundJob, Role
from decor.studio.numbers import whole
from decor.studio.services import file_path
from jobs.designs import books
from jobs.designs.book_charts import chart_png
from jobs.designs.catalogue import catalogue_now
from jobs.designs.models import Piece
from jobs.designs.table.who import may_load


def _panel_piece(event: int, piece: int) -> Piece:
    found = Piece.objects.select_related("event__venue", "panel__sheet")
    return get_object_or_404(found, pk=piece, event=event, panel__isnull=False)


def _read_piece(request: HttpRequest, event: int, piece: int) -> Piece:
    """Crew read the book of what they are on."""
    if not may_load(request.user, event):  # type: ignore[arg-type]
        raise Http404("no shift of this person on this event")
    return _panel_piece(event, piece)


@require_safe
def build_book(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    found = _panel_piece(event, piece)
    book = books.book_current(found, studio=request.studio, catalogue=catalogue_now())
    job = book.job if book else None
    context = {
        "tab": "events",
        "piece": found,
        "event": found.event,
        "book": book,
        "job": job,
        "refusal": books.why_no_book(found.panel),
        "waiting": bool(job and job.state in {BackgroundJob.State.QUEUED, BackgroundJob.State.RUNNING}),
    }
    if request.htmx:
        page = render(request, "jobs/designs/_book_state.html", context | {"swapped": not context["waiting"]})
        return page if context["waiting"] else HttpResponseStopPolling(page.content)
    return render(request, "jobs/designs/build_book.html", context)


@require_POST
def build_book_make(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    with suppress(ValueError):  # the page itself says why a panel gets none
        books.book_request(piece=_panel_piece(event, piece), studio=request.studio)
    return redirect("jobs:build-book", event=event, piece=piece)


MOST_ACROSS = 16
"""Cells side by side that can be read on a phone; a wider chart is moved under the thumb."""
MOST_LISTED = 6
"""Sheets that get a line each; of more, their numbers stand side by side."""
LIES = {"": "as it hangs", "turned": "turned for loading", "back": "from the back"}


@require_safe
def build_book_read(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    """The book on a phone: what to prepare, then a sheet at a time. No prices here: crew work from it."""
    found = _read_piece(request, event, piece)
    crew = request.user.role == Role.CREW  # type: ignore[union-attr]
    context = {
        "tab": "today" if crew else "events",
        "crew": crew,
        "piece": found,
        "event": found.event,
        "panel": found.panel,
    }
    try:
        book = books.book_of_piece(found, studio=request.studio, catalogue=catalogue_now(request.studio))
    except ValueError as refusal:
        return render(request, "jobs/designs/build_book_read.html", context | {"refusal": str(refusal)})
    number = whole(request.GET.get("page", ""))
    shown = book.pages[number - 1] if 0 < number <= len(book.pages) else None
    lies = request.GET.get("lies", "")
    context |= {
        "book": book,
        "shown": shown,
        "number": number,
        "titles": [(at, page.title, page.brief) for at, page in enumerate(book.pages, 1)],
        "many": len(book.pages) > MOST_LISTED,
        "lies": lies if lies in LIES else "",
        "wide": shown is not None and shown.across(turned=lies == "turned") > MOST_ACROSS,
        "ways_it_lies": [(key, words) for key, words in LIES.items() if key != "back" or book.has_back],
        "plan": mark_safe(book.plan_svg),
    }
    return render(request, "jobs/designs/build_book_read.html", context)


@require_safe
def build_book_chart(request: HttpRequest, event: int, piece: int, number: int) -> HttpResponse:
    found = _read_piece(request, event, piece)
    try:
        book = books.book_of_piece(found, studio=request.studio, catalogue=catalogue_now(request.studio))
        page = book.pages[number - 1] if number else None
    except (ValueError, IndexError) as gone:
        raise Http404 from gone
    if page is None:
        raise Http404
    lies = request.GET.get("lies", "")
    part = replace(page.part, turned=lies == "turned", mirrored=lies == "back")
    image = chart_png(book.chart, book.look, part, book.plan.joins, small=True)
    answer = HttpResponse(image, content_type="image/png")
    answer["Cache-Control"] = "private, no-cache"
    return answer


@require_safe
def build_book_file(request: HttpRequest, event: int, piece: int) -> FileResponse:
    return book_file(_panel_piece(event, piece), request)


def book_file(piece: Piece, request: HttpRequest) -> FileResponse:
    """The book of the panel as it is now; one of an earlier chart would be loaded wrongly."""
    book = books.book_current(piece, studio=request.studio, catalogue=catalogue_now())
    if book is None or book.file is None:
        raise Http404
    try:
        data = file_path(book.file.name).open("rb")
    except FileNotFoundError as lost:
        raise Http404 from lost
    return FileResponse(data, content_type="application/pdf", filename=book.file.original_name)
