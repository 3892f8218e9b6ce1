from urllib.parse import urlencode

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from decor.studio.requests import back_to, once
from decor.studio.services import audit_add
from inventory import availability, overview, shown, spans, stocking, unpromised
from inventory.foils import lift_doubt
from inventory.forms import FORMS, ItemForm
from inventory.item_shown import item_page
from inventory.matters import matters
from inventory.models import Foil, Item
from inventory.spans import SpanForm
from inventory.stocking import PromisesBroken

NEW = [
    (Item.Kind.LATEX, "", "Balloons", "one size, shape and colour"),
    (Item.Kind.SHEET, "", "A sheet", "one type: cells, pitch, join tabs"),
    (Item.Kind.FOIL, "", "A foil shape", "its gas and lift stand on its packet"),
    (Item.Kind.HARDWARE, "", "Hardware", "poles, bases, clips, magnets, inflators, sizers, bins"),
    (Item.Kind.HARDWARE, "ribbon", "Ribbon or line", "used up by an event"),
    (Item.Kind.HARDWARE, "weight", "Weights", "what holds a bouquet or a column down"),
    (Item.Kind.HARDWARE, "net", "A net", "for a drop"),
    (Item.Kind.CYLINDER, "", "A gas cylinder", "one size and pressure, rented or your own"),
]
NEW_WORDS = {kind: words for kind, purpose, words, _ in NEW if not purpose}
USED_UP = {"ribbon", "line"}
"""Hardware that does not come back, unless one says so (common practice)."""


@require_safe
def stock(request: HttpRequest) -> HttpResponse:
    kind, words = request.GET.get("kind", ""), request.GET.get("find", "").strip()[:80]
    kind = kind if kind in Item.Kind.values else ""
    items, now = stocking.items_found(kind=kind, words=words), timezone.now()
    asked = spans.asked(request.GET)
    form = SpanForm(request.GET if asked else None, now=now, auto_id="when_%s")
    span = form.span if asked and form.is_valid() else None
    whole = not kind and not words
    wanted = unpromised.needs(now=now) if whole and items else []
    stock = overview.standing({one.pk for one in items}, now=now, span=span, named={need.item_id for need in wanted})
    lines = shown.stock_lines(items, now, span, stock)
    told = {"items": items, "stock": stock, "wanted": wanted, "studio": request.studio}
    needs = len(matters(now=now, **told)) if whole and items else 0
    short_only = request.GET.get("short") == "1"
    listed = [line for line in lines if line.detail.short] if short_only else lines
    context = {
        "tab": "stock",
        "groups": shown.grouped(listed),
        "summary": shown.summary(lines),
        "needs": needs,
        "kind": kind,
        "words": words,
        "kinds": [(label, key == kind, _query(request, kind=key)) for key, label in shown.KIND_LINKS],
        "form": form,
        "span": spans.moments_words(*span) if span else "",
        "short_only": short_only,
        "all_again": _query(request, short="", find=""),
        "now_again": _query(request, **dict.fromkeys(spans.NAMES, "")),
        "add": NEW_WORDS.get(kind, ""),
        "anything": bool(items) or Item.objects.exists(),
        "unused": Item.objects.filter(active=False).order_by("name"),
    }
    return render(request, "inventory/stock.html", context, status=422 if form.errors else 200)


def _query(request: HttpRequest, **changed: str) -> str:
    """This list's address with something else in it."""
    kept = ("kind", "find", "short", *spans.NAMES)
    told = {name: request.GET.get(name, "")[:80] for name in kept} | changed
    return urlencode({name: value for name, value in told.items() if value})


@require_safe
def item_new(request: HttpRequest) -> HttpResponse:
    return render(request, "inventory/item_new.html", {"tab": "stock", "kinds": NEW})


@once
def item_add(request: HttpRequest, kind: str) -> HttpResponse:
    if kind not in FORMS:
        raise Http404
    form = FORMS[kind](request.POST or None, studio=request.studio, initial=_starting_values(request, kind))
    if request.method == "POST" and form.is_valid():
        item = stocking.item_save(item=form.save(commit=False))
        audit_add(request=request, act="added to stock", subject=item.name)
        listed = f"{shown.capital(item.name)} is in the list."
        request.session["outcome"] = " ".join(filter(None, [listed, doubt_of(item), "Now say how many are here."]))
        came_from = back_to(request)
        onward = f"?{urlencode({'to': came_from})}" if came_from else ""
        return redirect(reverse("inventory:lot-new", args=[item.pk]) + onward)
    purpose = str(form["purpose"].value() or "") if "purpose" in form.fields else ""
    words = next((words for key, one, words, _ in NEW if key == kind and one == purpose), NEW_WORDS[kind])
    return item_form(request, form, f"New: {words.lower()}", "Add")


def _starting_values(request: HttpRequest, kind: str) -> dict[str, object]:
    """An event that lacks something leads here with its name. A price is never 0 by oversight."""
    values: dict[str, object] = {name: request.GET[name][:80] for name in ("name", "purpose") if name in request.GET}
    comes_back = kind in {Item.Kind.HARDWARE, Item.Kind.CYLINDER} and values.get("purpose") not in USED_UP
    values |= {"returnable": comes_back, "pack_price": None}
    return values | ({"pack_size": None} if kind == Item.Kind.LATEX else {})


def doubt_of(item: Item) -> str:
    """What about it can't be, though it is kept: whoever holds the packet knows better than the program."""
    return lift_doubt(item) if isinstance(item, Foil) else ""


def item_form(request: HttpRequest, form: ItemForm, title: str, act: str, **extra: object) -> HttpResponse:
    context = {"tab": "stock", "form": form, "title": title, "act": act, **extra}
    return render(request, "inventory/form.html", context, status=422 if request.method == "POST" else 200)


@require_safe
def item(request: HttpRequest, item: int) -> HttpResponse:
    found = get_object_or_404(Item.objects.select_related("latex", "sheet", "hardware", "cylinder", "foil"), pk=item)
    now = timezone.now()
    alike = stocking.items_found(kind=found.kind)
    # Read once, for the page and for the list beside it.
    stock = availability.stock_of({found.pk, *(one.pk for one in alike)}, now=now, starts=now)
    context = {
        "tab": "stock",
        "item": found,
        "page": item_page(found, stock[found.pk], now, request.studio, request.GET),
        "beside": shown.grouped(shown.stock_lines(alike, now, stock=stock)),
        "kind_words": shown.KIND_WORDS[found.kind],
    }
    return render(request, "inventory/item.html", context, status=422 if context["page"].between.form.errors else 200)


@once
def item_change(request: HttpRequest, item: int) -> HttpResponse:
    base = get_object_or_404(Item, pk=item)
    found = getattr(base, base.kind)
    name = base.name
    form = FORMS[base.kind](request.POST or None, studio=request.studio, instance=found)
    broken = []
    if request.method == "POST" and form.is_valid():
        try:
            saved = stocking.item_save(item=form.save(commit=False))
        except PromisesBroken as refusal:
            broken = shown.broken_lines(refusal.promises)
            form.add_error("returnable", "It is promised, so this can't change now.")
        else:
            audit_add(request=request, act="changed in stock", subject=name)
            request.session["outcome"] = f"Saved. {doubt_of(saved)}".strip()
            return redirect("inventory:item", item=item)
    return item_form(request, form, f"Change {name}", "Save", item=base, broken=broken)


@require_POST
@once
def item_stop(request: HttpRequest, item: int) -> HttpResponse:
    found = get_object_or_404(Item, pk=item)
    try:
        stocking.item_retire(item=found)
    except PromisesBroken as refusal:
        context = {"tab": "stock", "item": found, "broken": shown.broken_lines(refusal.promises)}
        return render(request, "inventory/item_promised.html", context, status=422)
    audit_add(request=request, act="stopped using", subject=found.name)
    request.session["outcome"] = f"{shown.capital(found.name)} is no longer offered. Find it under “No longer used”."
    return redirect("inventory:stock")


@require_POST
@once
def item_use_again(request: HttpRequest, item: int) -> HttpResponse:
    found = stocking.item_restore(item=get_object_or_404(Item, pk=item))
    audit_add(request=request, act="uses again", subject=found.name)
    request.session["outcome"] = f"{shown.capital(found.name)} is offered again."
    return redirect("inventory:item", item=found.pk)
