"""Any list of things for any span, checked before anybody says yes. Asked by address, so that it can be kept and sent
on; nothing is saved."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from decor.studio.numbers import whole
from decor.studio.requests import back_to
from decor.studio.templatetags.desk import plural
from inventory import spans
from inventory.forms import MOST_PIECES
from inventory.gap_words import Asker, GapLine, gap_line, order_address, order_words, send_act
from inventory.gaps import Gap, Swap, gaps_of_list
from inventory.models import Reservation
from inventory.naming import Names
from inventory.spans import SpanForm

MOST_ROWS, SPARE_ROWS = 60, 3


@dataclass
class Row:
    """One line as it was typed; `error` stands beside it, of what it says or of how many."""

    name: str = ""
    number: str = ""
    item_id: int | None = None
    quantity: int = 0
    error: str = ""

    @property
    def wrong_number(self) -> bool:
        return bool(self.error) and self.item_id is not None


@require_safe
def check(request: HttpRequest) -> HttpResponse:
    now = timezone.now()
    rows, names = _rows(request), Names()
    asked = spans.asked(request.GET) or any(row.name for row in rows)
    more = "more" in request.GET
    form = SpanForm(request.GET if asked and not more else None, now=now, initial=request.GET.dict())
    if asked and not more:
        _read(rows, names)
    right = asked and not more and form.is_valid() and not any(row.error for row in rows)
    wanted = _wanted(rows) if right else {}
    lines = _lines(request, wanted, form, now) if wanted else []
    wrong = asked and not more and not right
    context: dict[str, Any] = {
        "tab": "stock",
        "form": form,
        "rows": [*rows, *(Row() for _ in range(SPARE_ROWS if len(rows) < MOST_ROWS else 0))],
        "names": names.offered,
        "lines": lines,
        "free": [line for line in lines if not line.gap.short],
        "short": [line for line in lines if line.gap.short],
        "when": spans.moments_words(*form.span) if lines else "",
        "back": back_to(request),
        "promise": _promise(request),
        "called": request.GET.get("for", "").strip()[:120],
        "verdict": verdict(lines),
        "if_it_arrives": any(line.gap.if_it_arrives for line in lines),
        "act": _act(request, lines, form) if lines else None,
        "wrong": sum(bool(row.error) for row in rows) + len(form.errors) if wrong else 0,
        "nothing": right and not wanted,
    }
    return render(request, "inventory/check.html", context, status=422 if wrong else 200)


def _rows(request: HttpRequest) -> list[Row]:
    names, numbers = request.GET.getlist("item"), request.GET.getlist("n")
    numbers += [""] * (len(names) - len(numbers))
    pairs = [(name.strip()[:80], number.strip()[:12]) for name, number in zip(names, numbers, strict=False)]
    return [Row(name, number) for name, number in pairs if name or number][:MOST_ROWS]


def _read(rows: list[Row], names: Names) -> None:
    for row in rows:
        meant = names.meant(row.name)
        if meant is None:
            row.error = names.unknown(row.name)
            continue
        row.item_id, row.name = meant
        row.quantity = whole(row.number)
        if not 0 < row.quantity <= MOST_PIECES:
            row.error = "Say how many, in whole figures." if row.quantity < 1 else "That is more than anybody has."


def _wanted(rows: list[Row]) -> dict[int, int]:
    wanted: dict[int, int] = {}
    for row in rows:
        if row.item_id is not None:
            wanted[row.item_id] = wanted.get(row.item_id, 0) + row.quantity
    return wanted


def _lines(request: HttpRequest, wanted: dict[int, int], form: SpanForm, now: datetime) -> list[GapLine]:
    gaps = gaps_of_list(wanted, *form.span, now=now, exclude=_promise(request))
    asker = _asker(request, form)

    def instead(gap: Gap, swap: Swap) -> str:
        """The same list with as many of the other thing as are missing, or as there are of it."""
        taken = min(swap.candidate.wanted, swap.free)
        other = swap.candidate.item.pk
        changed = {**wanted, gap.item.pk: gap.free, other: wanted.get(other, 0) + taken}
        return _address(request, changed)

    found = [gap_line(gaps[pk], request.studio.currency, asker=asker, instead=instead) for pk in wanted]
    return sorted(found, key=lambda line: not line.gap.short)


def _promise(request: HttpRequest) -> Reservation | None:
    """The reservation whose things count as free: the list is its own event's."""
    found: Reservation | None = Reservation.objects.filter(pk=whole(request.GET.get("promise", ""))).first()
    return found


def _address(request: HttpRequest, wanted: dict[int, int], **span: str) -> str:
    told = [(name, value) for pk, n in wanted.items() if n for name, value in (("item", str(pk)), ("n", str(n)))]
    kept = {name: request.GET.get(name, "")[:200] for name in (*spans.NAMES, "to", "for", "promise")} | span
    return f"{reverse('inventory:check')}?{urlencode([*told, *((k, v) for k, v in kept.items() if v)])}"


def check_address(
    wanted: dict[int, int],
    starts: datetime,
    ends: datetime,
    *,
    back: str = "",
    called: str = "",
    promise: int | None = None,
) -> str:
    """The page with a list and a span filled in; `back` is where it was asked for, `called` what for, `promise` the
    reservation whose things count as free for it."""
    told = [(name, value) for pk, n in wanted.items() for name, value in (("item", pk), ("n", n))]
    more = [("to", back)] * bool(back) + [("for", called)] * bool(called) + [("promise", promise)] * bool(promise)
    return f"{reverse('inventory:check')}?{urlencode([*told, *more])}&{spans.span_query(starts, ends)}"


def _asker(request: HttpRequest, form: SpanForm) -> Asker:
    called = request.GET.get("for", "").strip()[:120]
    return Asker(request.get_full_path(), called, timezone.localdate(form.span[0]))


def _act(request: HttpRequest, lines: list[GapLine], form: SpanForm) -> tuple[str, str] | None:
    """The most useful next thing: hold what is all free, else order what is most urgent, else send what is written
    already, else look at another way."""
    short = [line for line in lines if line.gap.short]
    back = back_to(request)
    if not short:
        return ("All of it is free: go and hold it", back) if back else None
    in_time = [line.gap for line in short if line.gap.buy and not line.gap.buy.too_late]
    if open_ones := [gap for gap in in_time if gap.to_order]:
        first = min(open_ones, key=lambda gap: (gap.buy.order_by, gap.item.name))  # type: ignore[union-attr]
        address = order_address(first.item.pk, first.to_order, _asker(request, form), short=first.short)
        return f"Order {order_words(first.item, first.to_order)}", address
    if in_time:
        return send_act(min(in_time, key=lambda gap: (gap.buy.order_by, gap.item.name)).drafts)  # type: ignore[union-attr]
    for line in short:
        swapped = next((closer for closer in line.closers if closer.how == "Instead" and closer.href), None)
        if swapped:
            return f"Check it with {swapped.says.partition(':')[0]}", swapped.href
    return None


def verdict(lines: list[GapLine]) -> str:
    short = sum(1 for line in lines if line.gap.short)
    if short:
        return f"{plural(short, 'thing is short,things are short')}."
    waits = any(line.gap.if_it_arrives for line in lines)
    return "All of it is free, if what is on order arrives." if waits else "All of it is free."
