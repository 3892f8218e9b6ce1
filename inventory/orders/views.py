"""Orders: the list, one order, and what is done with it."""

from collections import defaultdict
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from decor.studio.mail_shown import letters_shown
from decor.studio.numbers import whole
from decor.studio.requests import once
from decor.studio.services import audit_add
from decor.studio.templatetags.desk import money_words, plural
from inventory import ordering, receiving, shown
from inventory.ledger import Act
from inventory.models import Lot, Order, OrderLine
from inventory.naming import Names
from inventory.ordering import NotNow, stamp, total_of
from inventory.orders import mailing, paper
from inventory.orders.buy_views import names_on_offer
from inventory.orders.forms import NOT_PACKS, TOO_MANY, DueForm, ReceiveOrderForm, SendForm
from inventory.orders.shown import amount_words, late, line_rows, order_chip, order_rows, supplier_of
from inventory.stocking import PromisesBroken
from inventory.unpromised import watched

S = Order.State
MOST_DONE = 20
SPARE_ROWS = 2


@require_safe
def orders(request: HttpRequest) -> HttpResponse:
    sent = list(Order.objects.filter(state=S.SENT).order_by("due_on", "pk"))
    drafts = list(Order.objects.filter(state=S.DRAFT).order_by("pk"))
    over = list(Order.objects.filter(state__in=[S.DONE, S.CANCELLED])[:MOST_DONE])
    lines: dict[int, list[OrderLine]] = defaultdict(list)
    for line in OrderLine.objects.filter(order__in=[*sent, *drafts, *over]):
        lines[line.order_id].append(line)
    currency = request.studio.currency  # type: ignore[attr-defined]
    context = {
        "tab": "stock",
        "drafts": order_rows(drafts, lines, currency),
        "sent": order_rows(sent, lines, currency),
        "over": order_rows(over, lines, currency),
        "late": sum(1 for order in sent if late(order)),
        "most_done": MOST_DONE,
    }
    return render(request, "inventory/orders.html", context)


def _found(order: int) -> Order:
    return get_object_or_404(Order, pk=order)


@require_safe
def order(request: HttpRequest, order: int) -> HttpResponse:
    return _order_page(request, _found(order))


def _order_page(request: HttpRequest, found: Order, status: int = 200, **extra: Any) -> HttpResponse:
    lines = paper.lines_of(found)
    lots = list(Lot.objects.filter(order_line__order=found))
    studio = request.studio  # type: ignore[attr-defined]
    supplier = paper.supplier_row(found)
    rows = line_rows(lines, lots, extra.pop("typed", None), extra.pop("errors", None))
    context: dict[str, Any] = {
        "tab": "stock",
        "order": found,
        "supplier": supplier_of(found),
        "supplier_row": supplier,
        "rows": rows,
        "missing": sum(max(0, row.line.quantity - row.came) for row in rows),
        "total": money_words(total_of(lines), studio.currency),
        "chip": order_chip(found),
        "late": late(found),
        "coming": sum(lot.quantity for lot in lots if not lot.received),
        "came": sum(lot.quantity for lot in lots if lot.received),
        "seen": stamp(found),
        "names": names_on_offer() if found.state == S.DRAFT else [],
        "added": extra.pop("added", None) or [("", "", "")] * SPARE_ROWS,
        "mailto": paper.mailto(found, lines, studio, supplier) if found.state == S.SENT else "",
        "to": mailing.address_of(supplier) if found.state == S.SENT else "",
        "letters": letters_shown(mailing.letters_of(found)) if found.state != S.DRAFT else [],
        **extra,
    }
    return render(request, "inventory/order.html", context, status=status)


def _refused(request: HttpRequest, found: Order, refusal: NotNow) -> HttpResponse:
    return _order_page(request, Order.objects.get(pk=found.pk), 422, refused=str(refusal))


@require_POST
@once
def order_change(request: HttpRequest, order: int) -> HttpResponse:
    """The draft's lines as they were typed; a line without a figure is left out."""
    found = _found(order)
    lines = {line.item_id: line for line in found.lines.select_related("item")}
    typed = {pk: request.POST.get(f"packs-{pk}", "").strip()[:12] for pk in lines}
    errors = {pk: why for pk, text in typed.items() if text not in {"", "0"} and (why := _why_not(text))}
    packs = {pk: whole(text) for pk, text in typed.items() if whole(text)}
    added = _added(request, packs)
    note = request.POST.get("note", "").strip()[:200]
    nothing = not packs and not errors
    if errors or any(error for _, _, error in added) or nothing:
        extra = {"errors": errors, "typed": typed, "added": added or None, "nothing": nothing, "typed_note": note}
        wrongs = len(errors) + sum(bool(error) for _, _, error in added) + nothing
        return _order_page(request, found, 422, wrongs=wrongs, **extra)
    try:
        ordering.order_change(order=found, packs=packs, note=note, seen=request.POST.get("seen", ""))
    except NotNow as refusal:
        return _refused(request, found, refusal)
    if request.POST.get("then") == "send":
        return redirect("inventory:order-send", order=found.pk)
    request.session["outcome"] = "Saved. It is not sent yet."
    return redirect("inventory:order", order=found.pk)


def _why_not(text: str) -> str:
    number = whole(text)
    return TOO_MANY if number > ordering.MOST_PACKS else "" if number else NOT_PACKS


def _added(request: HttpRequest, packs: dict[int, int]) -> list[tuple[str, str, str]]:
    """(name, packs, what is wrong) of the new lines; those that are right are put into `packs`."""
    names, numbers = request.POST.getlist("item"), request.POST.getlist("n")
    known = Names()
    rows = []
    for name, number in zip(names, numbers, strict=False):
        name, number = name.strip()[:80], number.strip()[:12]
        if not name and not number:
            continue
        meant = known.meant(name)
        error = known.unknown(name) if meant is None else _why_not(number)
        rows.append((name, number, error))
        if meant is not None and not error:
            packs[meant[0]] = packs.get(meant[0], 0) + whole(number)
    return rows


@once
def order_send(request: HttpRequest, order: int) -> HttpResponse:
    found = _found(order)
    if found.state != S.DRAFT:
        return redirect("inventory:order", order=found.pk)
    lines, supplier = paper.lines_of(found), paper.supplier_row(found)
    due, to = ordering.due_usually(lines, today=timezone.localdate()), mailing.address_of(supplier)
    form = SendForm(request.POST or None, initial={"due_on": due}, to=to)
    if request.method == "POST" and form.is_valid():
        try:
            _send(request, found, form, to)
        except NotNow as refusal:
            return _refused(request, found, refusal)
        except ValueError as refusal:
            form.add_error("by_mail" if to else "due_on", str(refusal))
        else:
            return redirect("inventory:order", order=found.pk)
    studio = request.studio  # type: ignore[attr-defined]
    context = {
        "tab": "stock", "order": found, "supplier": supplier_of(found), "supplier_row": supplier, "form": form,
        "lines": [(line, amount_words(line)) for line in lines],
        "total": money_words(total_of(lines), studio.currency), "to": to,
        "lead": max((line.item.lead_days for line in lines), default=0),
        "mailto": paper.mailto(found, lines, studio, supplier), "seen": stamp(found),
    }  # fmt: skip
    return render(request, "inventory/order_send.html", context, status=422 if form.errors else 200)


def _send(request: HttpRequest, found: Order, form: SendForm, to: str) -> None:
    seen, due_on, by_mail = request.POST.get("seen", ""), form.cleaned_data["due_on"], form.cleaned_data.get("by_mail")
    with watched(found.lines.values_list("item_id", flat=True)) as watch:
        if by_mail:
            mailing.order_send_by_mail(order=found, studio=request.studio, to=to, due_on=due_on, seen=seen)  # type: ignore[attr-defined]
        else:
            ordering.order_send(order=found, due_on=due_on, seen=seen)
    audit_add(request=request, act="sent an order", subject=f"{found.number}, {supplier_of(found)}")
    goes = f"{found.number} goes to {to} now." if by_mail else f"{found.number} counts as sent."
    expected = f"Its things are expected on {shown.day_words(found.due_on)}, and counted from then."
    request.session["outcome"] = watch.after(f"{goes} {expected}")


@once
@require_POST
def order_mail(request: HttpRequest, order: int) -> HttpResponse:
    """Once more, or for the first time where it was handed over otherwise."""
    found = _found(order)
    to = mailing.address_of(paper.supplier_row(found))
    if not to:
        return _order_page(request, found, 422, refused="There is no address to send it to, or mail is off.")
    try:
        mailing.order_mail(order=found, studio=request.studio, to=to)  # type: ignore[attr-defined]
    except ValueError as refusal:
        return _order_page(request, Order.objects.get(pk=found.pk), 422, refused=str(refusal))
    audit_add(request=request, act="sent an order's letter", subject=f"{found.number}, {to}")
    request.session["outcome"] = f"{found.number} goes to {to} now."
    return redirect("inventory:order", order=found.pk)


def _act_page(request: HttpRequest, found: Order, title: str, act: str, **extra: Any) -> HttpResponse:
    context = {"tab": "stock", "order": found, "supplier": supplier_of(found), "title": title, "act": act} | extra
    context["seen"] = stamp(found)
    status = 422 if request.method == "POST" else 200
    return render(request, "inventory/order_act.html", context, status=status)


def _even_so(request: HttpRequest) -> bool:
    return request.POST.get("even_if_short") == "yes"


@once
def order_due(request: HttpRequest, order: int) -> HttpResponse:
    found = _found(order)
    if found.state != S.SENT:
        return redirect("inventory:order", order=found.pk)
    form = DueForm(request.POST or None, initial={"due_on": None if late(found) else found.due_on})
    broken: list[Any] = []
    if request.method == "POST" and form.is_valid():
        due, seen = form.cleaned_data["due_on"], request.POST.get("seen", "")
        try:
            ordering.order_put_off(order=found, due_on=due, even_if_short=_even_so(request), seen=seen)
        except PromisesBroken as refusal:
            broken = shown.broken_lines(refusal.promises)
            found = _found(order)
        except NotNow as refusal:
            return _refused(request, found, refusal)
        else:
            audit_add(request=request, act="gave an order a new day", subject=f"{found.number}, {due.isoformat()}")
            request.session["outcome"] = f"{found.number} is expected on {shown.day_words(due)}."
            return redirect("inventory:order", order=found.pk)
    return _act_page(request, found, "Another day", "Save the day", form=form, broken=broken)


@once
def order_cancel(request: HttpRequest, order: int) -> HttpResponse:
    found = _found(order)
    if found.state not in {S.SENT, S.DRAFT}:
        return redirect("inventory:order", order=found.pk)
    broken: list[Any] = []
    if request.method == "POST":
        try:
            if found.state == S.DRAFT:
                ordering.draft_drop(order=found)
            else:
                seen = request.POST.get("seen", "")
                ordering.order_cancel(order=found, even_if_short=_even_so(request), seen=seen)
        except PromisesBroken as refusal:
            broken = shown.broken_lines(refusal.promises)
            found = _found(order)
        except NotNow as refusal:
            return _refused(request, found, refusal)
        else:
            audit_add(request=request, act="cancelled an order", subject=f"{found.number}, {supplier_of(found)}")
            request.session["outcome"] = f"{found.number} is cancelled. Nothing of it is expected any more."
            return redirect("inventory:orders")
    lots = ordering.expected_lots(found)
    says = [f"{lot.quantity:,} of {lot.item.name}" for lot in lots]
    title = "Cancel the order" if found.state == S.SENT else "Throw the draft away"
    act = "Cancel it" if found.state == S.SENT else "Throw it away"
    return _act_page(request, found, title, act, broken=broken, says=says, cancelling=True)


@once
def order_receive(request: HttpRequest, order: int) -> HttpResponse:
    found = _found(order)
    lots = ordering.expected_lots(found)
    if found.state != S.SENT or not lots:
        # A second tap, or somebody else, finds it here already.
        return redirect("inventory:order", order=found.pk)
    studio = request.studio  # type: ignore[attr-defined]
    form = ReceiveOrderForm(
        request.POST or None, lots=lots, currency=studio.currency, initial={"on": timezone.localdate()}
    )
    broken: list[Any] = []
    if request.method == "POST":
        seen = request.POST.get("seen", "")
        if seen and seen != stamp(found):
            return _refused(request, found, NotNow(f"Somebody received of {found.number} meanwhile. See what is left."))
        if form.is_valid():
            answer, broken = _receive(request, found, form, seen)
            if answer is not None:
                return answer
    context = {"tab": "stock", "order": found, "supplier": supplier_of(found), "form": form, "broken": broken}
    context["seen"] = stamp(_found(order))
    return render(request, "inventory/order_receive.html", context, status=422 if request.method == "POST" else 200)


def _receive(
    request: HttpRequest, found: Order, form: ReceiveOrderForm, seen: str
) -> tuple[HttpResponse | None, list[Any]]:
    try:
        receipt = receiving.order_receive(
            order=found,
            came=form.came,
            on=form.cleaned_data["on"],
            rest_due=form.due,
            even_if_short=_even_so(request),
            seen=seen,
            act=Act(request.user, timezone.now(), f"order {found.number}"),  # type: ignore[arg-type]
        )
    except PromisesBroken as refusal:
        return None, shown.broken_lines(refusal.promises)
    except NotNow as refusal:
        return _refused(request, found, refusal), []
    audit_add(request=request, act="received an order", subject=f"{found.number}: {receipt.pieces:,} pieces")
    request.session["outcome"] = receipt_words(found, receipt)
    return redirect(reverse("inventory:order", args=[found.pk])), []


def receipt_words(found: Order, receipt: receiving.Receipt) -> str:
    words = [f"{plural(receipt.pieces, 'piece is,pieces are')} in the store."]
    if receipt.whole:
        listed = ", ".join(receipt.whole)
        words.append(f"All that is promised to {listed} is here now.")
    if receipt.still_short:
        words.append(f"Still short: {', '.join(receipt.still_short)}.")
    if receipt.waited.words:
        words.append(receipt.waited.words)
    if receipt.rest:
        words.append(f"{receipt.rest:,} are still to come, on {shown.day_words(found.due_on)}.")
    return " ".join(words)


@require_safe
def order_pdf(request: HttpRequest, order: int) -> HttpResponse:
    found = _found(order)
    internal = request.GET.get("internal") == "1"
    try:
        data = paper.order_pdf(found, request.studio, internal=internal)  # type: ignore[attr-defined]
    except ValueError as missing:
        return render(request, "studio/message.html", {"title": "No PDF", "text": str(missing)}, status=503)
    answer = HttpResponse(data, content_type="application/pdf")
    name = f"{found.number}-our-copy" if internal else found.number
    answer["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return answer


@require_safe
def order_csv(request: HttpRequest, order: int) -> HttpResponse:
    found = _found(order)
    words = paper.order_csv(found, request.studio)  # type: ignore[attr-defined]
    answer = HttpResponse(words, content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{found.number}.csv"'
    return answer
