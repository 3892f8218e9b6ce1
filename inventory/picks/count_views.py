"""Counting bin by bin. What the ledger says is told only once a number is typed: who sees it first tends to find it
(common practice, no source)."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from decor.studio.numbers import whole
from decor.studio.requests import once
from inventory import counting, places, shown
from inventory.forms import MOST_PIECES
from inventory.models import Bin, Item
from inventory.picks import acts, counts
from inventory.picks.counts import CountBin
from inventory.picks.views import tab_of
from inventory.stocking import PromisesBroken


@require_safe
def count(request: HttpRequest) -> HttpResponse:
    now, code = timezone.now(), request.GET.get("find", "").strip()[:200]
    bins = counts.count_bins(request.user, now)
    if code and (at := _bin_of(code, bins)):
        return redirect("inventory:count-bin", item=at)
    wrong = f"Nothing that you can count lies at “{code}”." if code else ""
    context = {"tab": tab_of(request), "bins": bins, "code": code, "wrong": wrong}
    context["data"] = {"keep": [reverse("inventory:count-bin", args=[one.item_id]) for one in bins[:MOST_KEPT]]}
    return render(request, "inventory/count.html", context, status=422 if wrong else 200)


MOST_KEPT = 40
"""Bins whose pages a phone keeps for when there is no signal (studio default)."""


def _bin_of(code: str, bins: list[CountBin]) -> int:
    named = next((one.item_id for one in bins if one.name and one.name.casefold() == code.casefold()), 0)
    found = places.found_by_code(code)
    if named or found is None:
        return named
    name = found.name if isinstance(found, Bin) else found.bin
    return next((one.item_id for one in bins if one.name.casefold() == name.casefold()), 0)


@require_safe
def count_bin(request: HttpRequest, item: int) -> HttpResponse:
    now = timezone.now()
    found = get_object_or_404(Item, pk=item)
    rows, bins = counts.count_rows(found, request.user, now), counts.count_bins(request.user, now)
    if not rows:
        raise Http404
    names = [one.name.casefold() for one in bins]
    at = names.index(found.bin.casefold())
    context = {
        "tab": tab_of(request),
        "bin": bins[at],
        "next": bins[at + 1] if at + 1 < len(bins) else None,
        "rows": rows,
        "data": {
            "rows": {row.item.pk: {"name": row.words, "said": row.said, "at": now.isoformat()} for row in rows},
            "keep": [reverse("inventory:count")],
        },
    }
    return render(request, "inventory/count_bin.html", context)


@require_POST
@once
def count_tick(request: HttpRequest, item: int) -> HttpResponse:
    """A number that is not the ledger's is shown with what was moved, and counts once it is confirmed."""
    found = get_object_or_404(Item, pk=item)
    if not acts.may_count(request.user, found):
        raise Http404
    row = counts.rows_of([found])[0]
    typed = request.POST.get("found", "").strip()
    number = whole(typed, otherwise=-1)
    if not 0 <= number <= MOST_PIECES:
        return _check(request, row, error="Say in figures how many lie there, 0 if there are none.")
    sure = request.POST.get("sure") == "yes" and request.POST.get("said") == str(row.said)
    if number != row.said and not sure:
        return _check(request, row, number=number)
    now = timezone.now()
    even = request.POST.get("even_if_short") == "yes"
    why = acts.plain(request.POST.get("why", ""))
    try:
        counting.count(item=found, found=number, by=request.user, why=why, at=now, even_if_short=even)
    except PromisesBroken as refusal:
        broken = shown.broken_lines(refusal.promises) if request.user.is_staff_role else []
        return _check(request, row, number=number, broken=broken, breaks=len(refusal.promises))
    request.session["outcome"] = f"{row.words}: {acts.count_note(number, row.said, row.said, number, None)}"
    return redirect(f"{reverse('inventory:count-bin', args=[found.pk])}#item-{found.pk}")


def _check(request: HttpRequest, row: counts.CountRow, *, number: int | None = None, **more: Any) -> HttpResponse:
    wrong = bool(more)
    context = {
        "tab": tab_of(request),
        "row": row,
        "number": number,
        "differs": None if number is None else abs(number - row.said),
        "fewer": number is not None and number < row.said,
        "typed": request.POST.get("found", "")[:20],
        "why": request.POST.get("why", "")[:200],
        **more,
    }
    return render(request, "inventory/count_check.html", context, status=422 if wrong else 200)
