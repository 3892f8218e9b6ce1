"""What came back from an event, item by item, and the whole of it at once for whoever did not tick."""

from typing import Any

from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from decor.studio.commands import Refused
from decor.studio.numbers import whole
from decor.studio.requests import once
from decor.studio.services import audit_add
from inventory import ledger, links, returning
from inventory.forms import MOST_PIECES
from inventory.models import Reservation, ReservationLine
from inventory.picks import acts, returns
from inventory.picks.lists import CONFIRMED
from inventory.picks.views import line_of, reservation_of, tab_of
from inventory.returning import Ways
from inventory.stocking import PromisesBroken


@require_safe
def come_back(request: HttpRequest, reservation: int) -> HttpResponse:
    return _page(request, reservation_of(request, reservation))


def _page(request: HttpRequest, reservation: Reservation, *, wrong: str = "", at_item: int = 0) -> HttpResponse:
    if wrong:
        reservation.refresh_from_db()
    rows, now = returns.return_list(reservation), timezone.now()
    released = reservation.state == Reservation.State.RELEASED
    context = {
        "tab": tab_of(request),
        "reservation": reservation,
        "rows": rows,
        "open": [row for row in rows if row.state == "open"],
        "untold": [row for row in rows if row.state == "untold"],
        "done": [row for row in rows if row.done],
        "ended": reservation.ends <= now,
        "may": reservation.state in {CONFIRMED, Reservation.State.SETTLED},
        "on_hold": reservation.state == Reservation.State.HOLD,
        "released": released,
        "settled": reservation.state == Reservation.State.SETTLED,
        "event": links.pages_of([reservation.pk]).get(reservation.pk, "") if request.user.is_staff_role else "",
        "wrong": wrong,
        "wrong_item": at_item if any(row.item.pk == at_item for row in rows) and not released else 0,
        "wrong_fields": _typed(request, rows, at_item),
        "data": _data(reservation, rows),
    }
    return render(request, "inventory/return.html", context, status=422 if wrong else 200)


def _typed(request: HttpRequest, rows: list[returns.ReturnRow], at_item: int) -> list[tuple[str, str, str]]:
    """The fields of the row that was wrong, with what was typed into them."""
    fields = next((row.fields for row in rows if row.item.pk == at_item), [])
    return [(name, words, request.POST.get(name, "")[:12]) for name, words, _ in fields]


def _data(reservation: Reservation, rows: list[returns.ReturnRow]) -> dict[str, Any]:
    at = timezone.now().isoformat()
    return {
        "reservation": reservation.pk,
        "rows": {
            row.item.pk: {
                "name": row.words,
                "returnable": row.item.returnable,
                "asked": row.asked,
                "out": row.out,
                "state": row.state,
                "became": row.became,
                "at": at,
            }
            for row in rows
        },
        "keep": [reverse("inventory:store-work"), reverse("inventory:pick", args=[reservation.pk])],
    }


@require_POST
@once
def return_tick(request: HttpRequest, reservation: int) -> HttpResponse:
    """`item` with what went otherwise than meant, `taken` or `untaken` of what nobody ticked, `undo`, or `all`."""
    found = reservation_of(request, reservation)
    if "all" in request.POST:
        return _all_as_meant(request, found)
    name = next((key for key in ("undo", "taken", "untaken", "item") if key in request.POST), "item")
    item = 0
    try:
        line = line_of(found, request.POST.get(name, ""))
        item = line.item_id
        if name == "undo":
            _undo(request, found, line)
        else:
            ways = Ways() if name == "untaken" else _ways(request, line)
            _count(request, found, line, ways, taken=name == "taken")
    except Refused as refusal:
        return _page(request, found, wrong=str(refusal), at_item=item)
    return redirect(f"{reverse('inventory:return', args=[found.pk])}#item-{item}")


def _ways(request: HttpRequest, line: ReservationLine) -> Ways:
    given = {}
    for name in returns.ASKED[line.item.returnable]:
        typed = request.POST.get(name, "").strip()
        number = whole(typed, otherwise=-1) if typed else 0
        if not 0 <= number <= MOST_PIECES:
            raise Refused(f"{returns.WORDS[name]}: say in figures how many, or leave it empty for none.")
        given[name] = number
    return Ways(**given)


def _count(request: HttpRequest, reservation: Reservation, line: ReservationLine, ways: Ways, *, taken: bool) -> None:
    out = ledger.out_with(reservation).get(line.item_id, 0)
    if not taken and ways.total > out:
        raise Refused(f"That makes {ways.total:,}, and only {out:,} are out with the event.")
    try:
        returning.count_back(
            reservation=reservation, item=line.item, ways=ways, taken=taken, by=request.user, at=timezone.now()
        )
    except ValueError as refusal:
        raise Refused(acts.why_not(refusal)) from None
    became = acts.return_now(reservation, line.item_id)["became"]
    words = f"{line.item}: {became}."
    request.session["outcome"] = words[:1].upper() + words[1:]


def _undo(request: HttpRequest, reservation: Reservation, line: ReservationLine) -> None:
    try:
        returning.count_back_undo(reservation=reservation, item=line.item, by=request.user, at=timezone.now())
    except PromisesBroken:
        raise Refused("It is promised to other events by now. Count the shelf instead.") from None
    except ValueError as refusal:
        raise Refused(acts.why_not(refusal)) from None
    request.session["outcome"] = f"{line.item}: say again what came back."


def _all_as_meant(request: HttpRequest, reservation: Reservation) -> HttpResponse:
    """What is out, item by item; what nobody ticked as picked is left to be asked. Somebody else's tick meanwhile is
    as good as this one."""
    now = timezone.now()
    with transaction.atomic():
        reservation.refresh_from_db(from_queryset=Reservation.objects.select_for_update(no_key=True))
        rows = [row for row in returns.return_list(reservation) if row.state == "open"]
        for row in sorted(rows, key=lambda row: row.item.pk):
            returning.count_back(reservation=reservation, item=row.item, ways=Ways(), by=request.user, at=now)
    request.session["outcome"] = "The rest is counted back as planned."
    return redirect("inventory:return", reservation=reservation.pk)


def _settled(request: HttpRequest, reservation: Reservation) -> bool:
    try:
        returning.settle_as_planned(reservation=reservation, by=request.user, at=timezone.now())
    except ValueError:  # counted back or given up since the page was read
        reservation.refresh_from_db()
        return False
    return True


@once
def settle(request: HttpRequest, reservation: int) -> HttpResponse:
    """For an event that nobody ticked: shown first, then done."""
    found = reservation_of(request, reservation)
    # Before it begins nothing can have been used; then it is released instead.
    may = found.state == CONFIRMED and found.starts <= timezone.now()
    if request.method == "POST" and may and not _settled(request, found):
        may = False
    elif request.method == "POST" and may:
        audit_add(request=request, act="counted back as planned", subject=found.label)
        request.session["outcome"] = f"{found.label} is counted back: all was used as planned."
        return redirect("inventory:store-work")
    lines = list(found.lines.filter(counts=True).select_related("item").order_by("item__kind", "item__name"))
    here = ledger.on_hand([line.item_id for line in lines])
    moved = ledger.moved_for(found)
    rows = []
    for line in lines:
        gone = moved.get(line.item_id)
        rows.append((line, min(line.quantity, (gone.picked if gone else 0) + here[line.item_id])))
    context = {"tab": tab_of(request), "reservation": found, "rows": rows, "may": may}
    return render(request, "inventory/picks_settle.html", context, status=409 if request.method == "POST" else 200)
