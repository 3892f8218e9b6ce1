"""One item put into an order, from wherever it was missing."""

from datetime import date, timedelta
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from decor.studio.numbers import whole
from decor.studio.requests import back_to, once
from decor.studio.services import audit_add
from decor.studio.templatetags.desk import money_words, plural
from inventory.buying import buy_lines
from inventory.gap_words import drafted_words
from inventory.models import Item
from inventory.ordering import MOST_PACKS, draft_add, draft_open, drafts_of
from inventory.orders.forms import TOO_MANY, PacksForm

LOOKED_AHEAD = timedelta(days=730)
"""What a pack is for is looked up among the events of two years (studio default, no source)."""


@once
def item_order(request: HttpRequest, item: int) -> HttpResponse:
    found = get_object_or_404(Item, pk=item)
    if not found.active:
        return redirect("inventory:item", item=found.pk)
    asked = whole(request.GET.get("packs", ""))
    form = PacksForm(request.POST or None, item=found, initial={"packs": asked if 1 <= asked <= MOST_PACKS else 1})
    if request.method == "POST" and form.is_valid():
        packs = form.cleaned_data["packs"]
        try:
            order = draft_add(item=found, packs=packs, what_for=_what_for(request, found))
        except ValueError:
            form.add_error("packs", TOO_MANY)
        else:
            what = f"{drafted_words(found, packs)}, {found.name}"
            audit_add(request=request, act="put into an order", subject=f"{order.number}: {what}"[:160])
            are = "is" if packs == 1 else "are"
            request.session["outcome"] = f"{what}, {are} in draft order {order.number}. It counts once that is sent."
            came_from = back_to(request)
            return redirect(came_from) if came_from else redirect("inventory:order", order=order.pk)
    return render(request, "inventory/item_order.html", _context(request, found, form), status=_status(request))


def _status(request: HttpRequest) -> int:
    return 422 if request.method == "POST" else 200


def _context(request: HttpRequest, item: Item, form: PacksForm) -> dict[str, Any]:
    draft = draft_open(item)
    to = back_to(request)
    expected = {"order": 1, "quantity": (whole(request.GET.get("packs", "")) or 1) * item.pack_size}
    price = money_words(item.pack_price, request.studio.currency)  # type: ignore[attr-defined]
    return {
        "tab": "stock",
        "item": item,
        "form": form,
        "draft": draft,
        "others": draft.lines.exclude(item=item.pk).count() if draft else 0,
        "drafted": [(one, drafted_words(item, one.packs)) for one in drafts_of([item.pk]).get(item.pk, ())],
        "pack": f"{price} a {'piece' if item.pack_size == 1 else 'pack'}",
        "lead": plural(item.lead_days, "day,days"),
        "back": to,
        "expected": urlencode(expected | ({"to": to} if to else {})),
    }


def _what_for(request: HttpRequest, item: Item) -> list[dict[str, object]]:
    """The event that asked, else all whose promises lack some of it."""
    label, lacks = request.GET.get("for", "").strip()[:120], whole(request.GET.get("n", ""))
    if label and lacks:
        return [{"label": label, "quantity": lacks} | _day(request.GET.get("day", ""))]
    now = timezone.now()
    lines = buy_lines(until=timezone.localdate(now) + LOOKED_AHEAD, now=now, items=[item])
    return [one.plain for line in lines if not line.low for one in line.what_for]


def _day(typed: str) -> dict[str, object]:
    try:
        return {"day": date.fromisoformat(typed).isoformat()}
    except ValueError:
        return {}
