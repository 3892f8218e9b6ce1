from datetime import timedelta
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from decor.studio.numbers import whole
from decor.studio.requests import back_to, once
from decor.studio.services import audit_add
from inventory import shown, stocking
from inventory.ledger import Act
from inventory.lot_forms import LotForm, ReceiveForm
from inventory.models import Item, Lot
from inventory.stocking import PromisesBroken
from inventory.unpromised import watched


def _page(request: HttpRequest, item: Item, title: str, act: str, **extra: object) -> HttpResponse:
    context = {"tab": "stock", "item": item, "title": title, "act": act, **extra}
    return render(request, "inventory/lot.html", context, status=422 if request.method == "POST" else 200)


def _done(request: HttpRequest, item: Item, act: str, outcome: str) -> HttpResponse:
    audit_add(request=request, act=act, subject=item.name)
    request.session["outcome"] = outcome
    came_from = back_to(request)
    return redirect(came_from) if came_from else redirect("inventory:item", item=item.pk)


def _are(number: int, words: str, name: str) -> str:
    return f"{number:,} of {name} {'is' if number == 1 else 'are'} {words}."


def _act(request: HttpRequest) -> Act:
    return Act(request.user, timezone.now())


def _elsewhere(lot: Lot) -> HttpResponse | None:
    """What is expected of an order is received and cancelled with it; what wore differently goes by its delivery."""
    if lot.order_line and not lot.received:
        return redirect("inventory:order", order=lot.order_line.order_id)
    if lot.split_from_id:
        return redirect("inventory:lot-change", lot=lot.split_from_id)
    return None


def _lot(lot: int) -> Lot:
    return get_object_or_404(Lot.objects.select_related("item", "order_line"), pk=lot)


def _whatever_breaks(request: HttpRequest) -> bool:
    """The tick under the list of promises that would be short."""
    return request.POST.get("even_if_short") == "yes"


def _asked_quantity(request: HttpRequest) -> int | None:
    asked = request.GET.get("quantity", "")
    return whole(asked) or None


WHY_NOT = {
    "quantity": "Fewer than are used of it, or for events that have begun.",
    "use_by": "It would be past its use before it comes: put the use-by day right first.",
    "arrives_on": "That day is still to come.",
}


def _tell(form: LotForm | ReceiveForm, refusal: ValueError) -> None:
    """What the service refuses, beside the field that it names, or above the form where that field is not asked."""
    name = str(refusal).split(" ", 1)[0]
    form.add_error(name if name in form.fields else None, WHY_NOT.get(name, str(refusal)))


def _order_asked(request: HttpRequest, item: Item) -> str:
    """As many in whole packs, and the way back, for the page that puts them into an order."""
    packs = -(-(_asked_quantity(request) or 0) // item.pack_size)
    to = back_to(request)
    return urlencode(({"packs": packs} if packs else {}) | ({"to": to} if to else {}))


@once
def lot_new(request: HttpRequest, item: int) -> HttpResponse:
    found = get_object_or_404(Item, pk=item)
    today = timezone.localdate()
    ordering = "order" in request.GET
    due = today + timedelta(days=found.lead_days) if ordering else today
    initial = {"quantity": _asked_quantity(request), "here": "no" if ordering else "yes", "arrives_on": due}
    form = LotForm(request.POST or None, item=found, studio=request.studio, initial=initial)
    if request.method == "POST" and form.is_valid():
        with watched([found.pk]) as watch:
            lot = stocking.lot_add(item=found, **form.lot_fields())
        words = "in stock" if lot.received else f"expected on {shown.day_words(lot.arrives_on)}"
        return _done(request, found, "added a lot", watch.after(_are(lot.quantity, words, found.name)))
    hint = "For what is ordered already without an order from here. It counts from its day." if ordering else ""
    act = "Note it" if ordering else "Add the lot"
    title = "What is expected" if ordering else "A new lot"
    return _page(
        request, found, title, act, form=form, hint=hint, ordering=ordering, onward=_order_asked(request, found)
    )


@once
def lot_change(request: HttpRequest, lot: int) -> HttpResponse:
    found = _lot(lot)
    if elsewhere := _elsewhere(found):
        return elsewhere
    used = stocking.lot_used(lot=found, now=timezone.now())
    given = {"item": found.item, "studio": request.studio, "used": used}
    form = LotForm(request.POST, **given) if request.method == "POST" else LotForm.of(found, **given)
    broken = []
    if request.method == "POST" and form.is_valid():
        for name, value in form.lot_fields().items():
            setattr(found, name, value)
        found.unit_cost = found.item.unit_cost if found.unit_cost is None else found.unit_cost
        try:
            with watched([found.item_id]) as watch:
                stocking.lot_change(lot=found, even_if_short=_whatever_breaks(request), act=_act(request))
        except PromisesBroken as refusal:
            broken = shown.broken_lines(refusal.promises)
        except ValueError as refusal:
            _tell(form, refusal)
        else:
            return _done(request, found.item, "changed a lot", watch.after("Saved."))
    return _page(request, found.item, "Change a lot", "Save", form=form, broken=broken, lot=found)


@once
def lot_receive(request: HttpRequest, lot: int) -> HttpResponse:
    found = _lot(lot)
    if found.received:
        return redirect("inventory:item", item=found.item_id)
    if elsewhere := _elsewhere(found):
        return elsewhere
    initial = {"quantity": found.quantity, "on": timezone.localdate(), "use_by": found.use_by, "batch": found.batch}
    form = ReceiveForm(request.POST or None, initial=initial)
    broken = []
    if request.method == "POST" and form.is_valid():
        given, even_so = form.cleaned_data, _whatever_breaks(request)
        found.use_by, found.batch = given["use_by"], given["batch"]
        try:
            with watched([found.item_id]) as watch:
                stocking.lot_receive(
                    lot=found, on=given["on"], quantity=given["quantity"], even_if_short=even_so, act=_act(request)
                )
        except PromisesBroken as refusal:
            broken = shown.broken_lines(refusal.promises)
        except ValueError as refusal:
            _tell(form, refusal)
        else:
            words = watch.after(_are(found.quantity, "in stock", found.item.name))
            return _done(request, found.item, "received a lot", words)
    return _page(request, found.item, "An order came", "It is here", form=form, broken=broken)


@once
def lot_remove(request: HttpRequest, lot: int) -> HttpResponse:
    found = _lot(lot)
    if elsewhere := _elsewhere(found):
        return elsewhere
    broken = []
    if request.method == "POST":
        try:
            left = stocking.lot_remove(lot=found, even_if_short=_whatever_breaks(request), act=_act(request))
        except PromisesBroken as refusal:
            broken = shown.broken_lines(refusal.promises)
            found = Lot.objects.select_related("item").get(pk=lot)
        except ValueError:
            # It came in, or was taken away, while this was on its way: the item's page says how it stands now.
            return redirect("inventory:item", item=found.item_id)
        else:
            return _done(request, found.item, "took a lot away", f"{left:,} taken off the stock.")
    used = stocking.lot_used(lot=found, now=timezone.now())
    about = {"lot": found, "used": used, "left": found.quantity - used, "removing": True}
    return _page(request, found.item, "Take a lot away", "Take it away", broken=broken, **about)
