"""The buy list: everything that promises up to a day lack, ticked into orders."""

from dataclasses import replace
from datetime import date
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from decor.studio.numbers import whole
from decor.studio.requests import once
from decor.studio.services import audit_add
from decor.studio.templatetags.desk import money_words, plural
from inventory import ordering
from inventory.buying import USUAL_AHEAD, BuyLine, buy_lines
from inventory.models import Item, Order
from inventory.orders.forms import NOT_PACKS, TOO_MANY, UntilForm
from inventory.orders.shown import Typed, buy_groups, for_words
from inventory.shown import capital

NO_TICK = "Tick at least one line."


@once
def buy(request: HttpRequest) -> HttpResponse:
    now = timezone.now()
    asked = request.POST if request.method == "POST" else request.GET
    usual = timezone.localdate(now) + USUAL_AHEAD
    form = UntilForm(asked if "until" in asked else None, initial={"until": usual})
    right = not form.is_bound or form.is_valid()
    until: date = form.cleaned_data["until"] if form.is_bound and right else usual
    firm, with_open = (bool(form.is_bound and right and form.cleaned_data.get(name)) for name in ("firm", "open"))
    lines = buy_lines(until=until, now=now, with_holds=not firm, with_open=with_open)
    typed: Typed | None = None
    wrong = ""
    if request.method == "POST" and right:
        typed, packs = _typed(request, lines)
        wrong = "" if typed.ticked else NO_TICK
        if packs and not typed.errors:
            try:
                return _written(request, packs, lines)
            except ordering.TooManyPacks as refusal:
                keys = [line.key for line in lines if line.item.pk == refusal.item_id]
                typed = replace(typed, errors={key: TOO_MANY for key in keys if key in typed.ticked})
    context = _context(request, lines, typed, now) | {
        "form": form, "until": until, "firm": firm, "with_open": with_open, "wrong": wrong,
        "wrongs": len(typed.errors) if typed else 0,
    }  # fmt: skip
    refused = request.method == "POST" or not right
    return render(request, "inventory/buy.html", context, status=422 if refused else 200)


def _context(request: HttpRequest, lines: list[BuyLine], typed: Typed | None, now: Any) -> dict[str, Any]:
    currency, today = request.studio.currency, timezone.localdate(now)  # type: ignore[attr-defined]
    short = [line for line in lines if not line.low]
    low = [line for line in lines if line.low]
    late = sum(1 for line in short if line.buy.too_late)
    cost = sum(line.buy.cost for line in lines)
    chips = [("no", plural(late, "line too late,lines too late"))] if late else []
    if not short:
        chips.append(("ok", "Every promise is covered"))
    groups, low_groups = (buy_groups(some, today, currency, typed) for some in (short, low))
    drafts = list(Order.objects.filter(state=Order.State.DRAFT))
    suppliers = {line.item.supplier.casefold() for line in lines}
    proposed = typed is not None or any(row.ticked for group in [*groups, *low_groups] for row in group.rows)
    return {
        "tab": "stock",
        "groups": groups,
        "low_groups": low_groups,
        "chips": chips,
        "anything": bool(lines),
        "cost": money_words(cost, currency) if lines else "",
        "drafts": drafts,
        # All of it is written already: what helps now is sending it.
        "to_send": None if proposed else next((d for d in drafts if d.supplier.casefold() in suppliers), None),
        "whats": {line.key: [for_words(one) for one in line.what_for] for line in lines},
    }


def _typed(request: HttpRequest, lines: list[BuyLine]) -> tuple[Typed, dict[int, int]]:
    """What was ticked, and {item id: packs} of it. A line that is gone since the page was opened, because somebody
    bought it meanwhile, is left out: the page then shows what is left."""
    ticked = frozenset(request.POST.getlist("line")) & {line.key for line in lines}
    told = {line.key: request.POST.get(f"packs-{line.key}", "").strip()[:12] for line in lines}
    packs: dict[int, int] = {}
    errors: dict[str, str] = {}
    for line in lines:
        if line.key not in ticked:
            continue
        number = whole(told[line.key])
        if not number:
            errors[line.key] = NOT_PACKS
        elif number > ordering.MOST_PACKS:
            errors[line.key] = TOO_MANY
        packs[line.item.pk] = packs.get(line.item.pk, 0) + number
    return Typed(ticked, {key: value for key, value in told.items() if value}, errors), packs


def _written(request: HttpRequest, packs: dict[int, int], lines: list[BuyLine]) -> HttpResponse:
    what_for = {line.item.pk: [one.plain for one in line.what_for] for line in lines if line.what_for}
    written = ordering.drafts_add(packs=packs, what_for=what_for)
    added = ", ".join(order.number for order in written.added)
    words = [plural(len(written.begun), "order is,orders are") + " written"] if written.begun else []
    words += [f"added to {added}"] if added else []
    request.session["outcome"] = f"{capital('; '.join(words))}. Nothing is sent yet."
    told = [*(order.number for order in written.begun), *([f"added to {added}"] if added else [])]
    audit_add(request=request, act="wrote orders", subject=", ".join(told)[:160])
    orders = [*written.begun, *written.added]
    return redirect("inventory:order", order=orders[0].pk) if len(orders) == 1 else redirect("inventory:orders")


def names_on_offer() -> list[str]:
    return [capital(name) for name in Item.objects.filter(active=True).order_by("name").values_list("name", flat=True)]
