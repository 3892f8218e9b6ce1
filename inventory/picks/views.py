"""The store's work, and the pick list of one event: ticked on a phone, also without a signal, or by plain forms."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from decor.studio.commands import Refused
from decor.studio.numbers import whole
from decor.studio.requests import once
from inventory import ledger, links, places, whose
from inventory.forms import MOST_PIECES
from inventory.models import Bin, Reservation, ReservationLine
from inventory.picks import acts, lists
from inventory.picks.lists import PickList

State = Reservation.State


def reservation_of(request: HttpRequest, number: int) -> Reservation:
    """Another's list is not there for crew."""
    found = get_object_or_404(Reservation, pk=number)
    if not whose.may_open(request.user, found):
        raise Http404
    return found


def tab_of(request: HttpRequest) -> str:
    return "stock" if request.user.is_staff_role else "today"


@require_safe
def work(request: HttpRequest) -> HttpResponse:
    found = lists.store_work(request.user, timezone.now())
    return render(request, "inventory/picks.html", {"tab": tab_of(request), "work": found, "days": lists.AHEAD.days})


@require_safe
def pick(request: HttpRequest, reservation: int) -> HttpResponse:
    return _page(request, reservation_of(request, reservation))


def _page(
    request: HttpRequest,
    reservation: Reservation,
    *,
    wrong: str = "",
    at_item: int = 0,
    ask: dict[str, Any] | None = None,
) -> HttpResponse:
    if wrong:
        reservation.refresh_from_db()
    now = timezone.now()
    found = lists.pick_list(reservation, request.user, now)
    code = request.GET.get("find", "").strip()[:200]
    codes = lists.codes_of(found)
    at, missing = _found(code, codes) if code else (0, "")
    context = {
        "tab": tab_of(request),
        "list": found,
        "reservation": reservation,
        "next": found.next if reservation.state == State.CONFIRMED else None,
        "on_hold": reservation.state == State.HOLD,
        "over": reservation.state in {State.SETTLED, State.RELEASED},
        "event": links.pages_of([reservation.pk]).get(reservation.pk, "") if request.user.is_staff_role else "",
        "code": code,
        "found_item": at,
        "missing": missing,
        "wrong": wrong,
        # Beside its row, where that still has a form.
        "wrong_item": at_item if reservation.state == State.CONFIRMED else 0,
        "ask": ask,
        "printed": timezone.localtime(now),
        "data": _data(found, codes, now.isoformat()),
    }
    return render(request, "inventory/pick.html", context, status=422 if wrong or ask else 200)


def _found(code: str, codes: dict[str, dict[str, int]]) -> tuple[int, str]:
    """The first row of the bin, or the row of the item; else why there is none."""
    if at := codes["bins"].get(code.casefold(), 0):
        return at, ""
    found = places.found_by_code(code)
    if found is None:
        return 0, f"Nothing in the store has the code “{code}”."
    if isinstance(found, Bin):
        at = codes["bins"].get(found.name.casefold(), 0)
        return at, "" if at else f"Nothing of this list lies in {found.name}."
    at = codes["items"].get(f"i/{found.pk}", 0)
    return at, "" if at else f"This list needs nothing of {found.name}."


def _data(found: PickList, codes: dict[str, dict[str, int]], at: str) -> dict[str, Any]:
    reservation = found.reservation
    return {
        "reservation": reservation.pk,
        "open": reservation.state == State.CONFIRMED,
        "rows": {row.item.pk: _row(row, at) for row in found.rows},
        "codes": codes,
        "now": reverse("inventory:pick-now", args=[reservation.pk]),
        "keep": [reverse("inventory:store-work"), reverse("inventory:return", args=[reservation.pk])],
    }


def _row(row: lists.PickRow, at: str) -> dict[str, Any]:
    return {
        "item": row.item.pk,
        "name": row.words,
        "bin": row.bin,
        "asked": row.asked,
        "picked": row.picked,
        "here": row.here,
        "short": row.short,
        "early": row.early.says,
        "safe": row.early.safe,
        "at": at,
    }


@require_safe
def pick_now(request: HttpRequest, reservation: int) -> JsonResponse:
    """What the others picked meanwhile."""
    now = timezone.now()
    found = lists.pick_list(reservation_of(request, reservation), request.user, now)
    return JsonResponse({"rows": [_row(row, now.isoformat()) for row in found.rows], "beyond": found.beyond})


def line_of(reservation: Reservation, item: str) -> ReservationLine:
    """Raises Refused where the event gave it up since the page was read. One that is counted back is for the act to
    refuse: it says why."""
    line = reservation.lines.select_related("item").filter(item=whole(item)).first()
    if line is None:
        raise Refused(acts.NOT_NEEDED)
    return line


@require_POST
@once
def pick_tick(request: HttpRequest, reservation: int) -> HttpResponse:
    """`all`, `none` or `fewer` carries the item. With `fewer` stands how many, and whether that was all there is."""
    found = reservation_of(request, reservation)
    asked = next((name for name in ("all", "none", "fewer") if name in request.POST), "")
    try:
        line = line_of(found, request.POST.get(asked, ""))
    except Refused as refusal:
        return _page(request, found, wrong=str(refusal))
    total: int | None = None if asked == "all" else 0
    if asked == "fewer":
        typed = request.POST.get("total", "").strip()
        total = whole(typed, otherwise=-1)
        if not 0 <= total <= MOST_PIECES:
            wrong = "Say in figures how many there were, 0 if there were none."
            return _page(request, found, wrong=wrong, at_item=line.item_id)
        if total > line.quantity:
            wrong = f"The event needs only {line.quantity:,}. Take no more than that."
            return _page(request, found, wrong=wrong, at_item=line.item_id)
    none_left = asked == "fewer" and "none_left" in request.POST
    if "anyway" not in request.POST and _too_early(request, found, line, total):
        ask = {"item": line.item_id, "as": asked, "total": total, "none_left": none_left}
        return _page(request, found, ask=ask)
    try:
        note = acts.pick(
            reservation=found, line=line, total=total, none_left=none_left, by=request.user, at=timezone.now()
        )
    except Refused as refusal:
        return _page(request, found, wrong=str(refusal), at_item=line.item_id)
    request.session["outcome"] = " ".join(filter(None, [_told(found, line, none_left), note]))
    return redirect(f"{reverse('inventory:pick', args=[found.pk])}#item-{line.item_id}")


def _too_early(request: HttpRequest, found: Reservation, line: ReservationLine, total: int | None) -> bool:
    """Whether so many in all, before their time, leave somebody without."""
    wanted = line.quantity if total is None else total
    rows = lists.pick_list(found, request.user, timezone.now()).rows
    return any(
        row.item.pk == line.item_id and bool(row.early.says) and wanted > max(row.early.safe, row.picked)
        for row in rows
    )


def _told(reservation: Reservation, line: ReservationLine, none_left: bool) -> str:  # noqa: FBT001
    picked = acts.picked_of(reservation, line.item_id)
    words = f"{line.item}: {picked:,} of {line.quantity:,} picked."
    if none_left and not ledger.on_hand([line.item_id])[line.item_id]:
        words += " No more is on the shelf; what that leaves short stands beside it."
    return words[:1].upper() + words[1:]
