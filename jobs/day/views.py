from datetime import date, timedelta

from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from decor.studio.numbers import whole
from jobs.crew.models import Shift
from jobs.day.board import board_of
from jobs.day.forms import DayForm
from jobs.day.sheet import day_sheet as sheet_of
from jobs.designs.book_views import book_file
from jobs.designs.books import books_ready
from jobs.designs.models import Piece
from jobs.events.models import Event


@require_safe
def day_sheet(request: HttpRequest, event: int) -> HttpResponse:
    found = get_object_or_404(Event.objects.select_related("venue", "reservation"), pk=event)
    planning = request.user.is_staff_role
    # Crew ask only for themselves; what else the address says is not read.
    others = _on_it(found) if planning else []
    member = _previewed(request, found, others) if planning else _own_member(request, found)
    context = {
        "tab": "events" if planning else "today",
        "sheet": sheet_of(found, member),
        "planning": planning,
        "others": others,
        "member": member,
        "panels": list(Piece.objects.filter(event=found, panel__isnull=False).values_list("title", "pk")),
        "lists": found.reservation if found.reservation and found.reservation.state == "confirmed" else None,
        "books": [(piece.title, piece.pk) for piece in books_ready(found, studio=request.studio)],
    }
    return render(request, "jobs/day/sheet.html", context)


@require_safe
def day_book(request: HttpRequest, event: int, piece: int) -> FileResponse:
    """The build book in the hands of who loads the panel."""
    found = get_object_or_404(Event, pk=event)
    if not request.user.is_staff_role:
        _own_member(request, found)
    panel = Piece.objects.select_related("event__venue", "panel__sheet")
    return book_file(get_object_or_404(panel, pk=piece, event=found, panel__isnull=False), request)


def _on_it(event: Event) -> list[tuple[int, str]]:
    rows = Shift.objects.filter(event=event).order_by("member__name").values_list("member_id", "member__name")
    return list(dict.fromkeys(rows))


def _own_member(request: HttpRequest, event: Event) -> int:
    own = Shift.objects.filter(event=event, member__user=request.user).values_list("member_id", flat=True).first()
    if own is None:
        raise Http404("no shift of this person on this event")
    return own


def _previewed(request: HttpRequest, event: Event, others: list[tuple[int, str]]) -> int | None:
    asked = request.GET.get("member", "")
    on_it = [number for number, _ in others]
    if asked:
        if whole(asked) not in on_it:
            raise Http404("that member has no shift on this event")
        return whole(asked)
    own = Shift.objects.filter(event=event, member__user=request.user).values_list("member_id", flat=True).first()
    return own or next(iter(on_it), None)


@require_safe
def day_board(request: HttpRequest) -> HttpResponse:
    today = timezone.localdate()
    form = DayForm(request.GET if "date" in request.GET else None, initial={"date": today})
    day = form.cleaned_data["date"] if form.is_valid() else today
    if not date.min + timedelta(days=2) < day < date.max - timedelta(days=2):
        form.add_error("date", "That is too far off.")
        day = today
    context = {
        "tab": "today",
        "board": board_of(day, timezone.now()),
        "form": form,
        "before": day - timedelta(days=1),
        "after": day + timedelta(days=1),
        "is_today": day == today,
    }
    return render(request, "jobs/day/board.html", context)
