from urllib.parse import urlencode

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from decor.studio.requests import back_to, once
from decor.studio.services import audit_add
from inventory import shown, stocking
from inventory.forms import FORMS, ItemForm
from inventory.models import Item
from inventory.stocking import PromisesBroken

NEW = [
    (Item.Kind.LATEX, "Balloons", "one size, shape and colour"),
    (Item.Kind.SHEET, "A sheet", "one type: cells, pitch, join tabs"),
    (Item.Kind.HARDWARE, "Hardware", "poles, bases, clips, lines, inflators"),
    (Item.Kind.CYLINDER, "A gas cylinder", "one size and pressure"),
]
NEW_WORDS = {kind: words for kind, words, _ in NEW}


@require_safe
def stock(request: HttpRequest) -> HttpResponse:
    kind, words = request.GET.get("kind", ""), request.GET.get("find", "").strip()[:80]
    kind = kind if kind in Item.Kind.values else ""
    items = stocking.items_found(kind=kind, words=words)
    lines = shown.stock_lines(items, timezone.now())
    context = {
        "tab": "stock",
        "groups": shown.grouped(lines),
        "summary": shown.summary(lines),
        "kind": kind,
        "words": words,
        "kinds": shown.KIND_LINKS,
        "add": NEW_WORDS.get(kind, ""),
        "anything": bool(items) or Item.objects.exists(),
        "unused": Item.objects.filter(active=False).order_by("name"),
    }
    return render(request, "inventory/stock.html", context)


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
        request.session["outcome"] = f"{shown.capital(item.name)} is in the list. Now say how many are here."
        came_from = back_to(request)
        onward = f"?{urlencode({'to': came_from})}" if came_from else ""
        return redirect(reverse("inventory:lot-new", args=[item.pk]) + onward)
    return item_form(request, form, f"New: {NEW_WORDS[kind].lower()}", "Add")


def _starting_values(request: HttpRequest, kind: str) -> dict[str, object]:
    """An event that lacks something leads here with its name. A price is never 0 by oversight."""
    values: dict[str, object] = {name: request.GET[name][:80] for name in ("name", "purpose") if name in request.GET}
    values |= {"returnable": kind in {Item.Kind.HARDWARE, Item.Kind.CYLINDER}, "pack_price": None}
    return values | ({"pack_size": None} if kind == Item.Kind.LATEX else {})


def item_form(request: HttpRequest, form: ItemForm, title: str, act: str, **extra: object) -> HttpResponse:
    context = {"tab": "stock", "form": form, "title": title, "act": act, **extra}
    return render(request, "inventory/form.html", context, status=422 if request.method == "POST" else 200)


@require_safe
def item(request: HttpRequest, item: int) -> HttpResponse:
    found = get_object_or_404(Item.objects.select_related("latex", "sheet", "hardware", "cylinder"), pk=item)
    now = timezone.now()
    context = {
        "tab": "stock",
        "item": found,
        "page": shown.item_page(found, now, request.studio),
        "beside": shown.grouped(shown.stock_lines(stocking.items_found(kind=found.kind), now)),
        "kind_words": shown.KIND_WORDS[found.kind],
    }
    return render(request, "inventory/item.html", context)


@once
def item_change(request: HttpRequest, item: int) -> HttpResponse:
    base = get_object_or_404(Item, pk=item)
    found = getattr(base, base.kind)
    name = base.name
    form = FORMS[base.kind](request.POST or None, studio=request.studio, instance=found)
    broken = []
    if request.method == "POST" and form.is_valid():
        try:
            stocking.item_save(item=form.save(commit=False))
        except PromisesBroken as refusal:
            broken = shown.broken_lines(refusal.promises)
            form.add_error("returnable", "It is promised, so this can't change now.")
        else:
            audit_add(request=request, act="changed in stock", subject=name)
            request.session["outcome"] = "Saved."
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
