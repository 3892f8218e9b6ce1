from contextlib import suppress

from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe
from django_htmx.http import HttpResponseStopPolling

from decor.studio.models import BackgroundJob
from decor.studio.services import file_path
from jobs.designs import books
from jobs.designs.catalogue import catalogue_now
from jobs.designs.models import Piece


def _panel_piece(event: int, piece: int) -> Piece:
    found = Piece.objects.select_related("event__venue", "panel__sheet")
    return get_object_or_404(found, pk=piece, event=event, panel__isnull=False)


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
