"""The ledger of one item, newest line first, and correcting what was wrong by another line."""

from dataclasses import dataclass
from datetime import datetime

from django import forms
from django.core.paginator import Paginator
from django.db.models import Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from decor.studio.forms import SlipForm
from decor.studio.numbers import whole
from decor.studio.requests import once
from decor.studio.services import audit_add
from inventory import counting, ledger, links, shown
from inventory.forms import MOST_PIECES
from inventory.models import Count, Item, Movement
from inventory.stocking import PromisesBroken

LINES_A_PAGE = 50
SUMS = {
    "received": "came in",
    "used": "used",
    "burst": "burst",
    "thrown": "thrown away",
    "lost": "lost",
    "worn": "worn out",
}


@dataclass(frozen=True)
class LedgerLine:
    """`left` lie in the store after it."""

    movement: Movement
    at: datetime
    words: str
    small: str
    store: int
    left: int
    href: str


@require_safe
def ledger_page(request: HttpRequest, item: int) -> HttpResponse:
    found = get_object_or_404(Item.objects.select_related("latex"), pk=item)
    all_lines = Movement.objects.filter(item=found).order_by("-pk")
    pages = Paginator(all_lines, LINES_A_PAGE)
    page = pages.get_page(whole(request.GET.get("page", ""), otherwise=1))
    both = ledger.sums([found.pk]).values()
    here, out = sum(one.store for one in both), sum(one.out for one in both)
    context = {
        "tab": "stock",
        "item": found,
        "rgb": found.latex.rgb if found.kind == Item.Kind.LATEX else "",
        "here": here,
        "out": out,
        "lines": _lines(list(page.object_list.select_related("by", "reservation", "lot")), found),
        "page": page,
        "sums": _sums(found),
        "counted": Count.objects.filter(item=found).select_related("by").order_by("-at", "-pk").first(),
    }
    return render(request, "inventory/ledger.html", context)


def _lines(movements: list[Movement], item: Item) -> list[LedgerLine]:
    if not movements:
        return []
    upto = Movement.objects.filter(item=item, pk__lte=movements[0].pk).order_by()
    left: int = upto.aggregate(sum=Sum("store", default=0))["sum"]
    pages = links.pages_of(m.reservation_id for m in movements if m.reservation_id)
    lines = []
    for one in movements:
        lines.append(_line(one, left, pages.get(one.reservation_id, "")))
        left -= one.store
    return lines


def _line(one: Movement, left: int, href: str) -> LedgerLine:
    label = one.reservation.label if one.reservation else ""
    amount = abs(one.store or one.out)
    words = f"{amount:,} {one.get_kind_display().lower()}"
    if one.kind == Movement.Kind.COUNTED:
        words = f"{amount:,} {'more' if one.store > 0 else 'fewer'} counted"
    elif one.kind == Movement.Kind.PICKED and one.out < 0:
        words = f"{amount:,} put back"
    elif one.out > 0 and one.kind != Movement.Kind.PICKED:
        words = f"{amount:,} not {one.get_kind_display().lower()} after all"
    if label:
        words += f", {label}"
    lot = f"lot of {shown.short_day(one.lot.arrives_on)}" + (f", batch {one.lot.batch}" if one.lot.batch else "")
    local = timezone.localtime(one.at)
    who = str(one.by) if one.by else "nobody signed"
    small = ". ".join(filter(None, [f"{shown.day_words(one.at)}, {local:%H:%M}, {who}, {lot}", shown.capital(one.why)]))
    return LedgerLine(one, one.at, shown.capital(words), small, one.store, left, href)


def _sums(item: Item) -> list[tuple[str, int]]:
    """What became of all that ever came in; turned-round lines take off again."""
    rows = Movement.objects.filter(item=item, kind__in=SUMS).order_by().values_list("kind")
    found = {}
    for kind, store, out in rows.annotate(in_store=Sum("store"), away=Sum("out")):
        found[kind] = store if kind == "received" else -(store + out)
    return [(words, found[kind]) for kind, words in SUMS.items() if found.get(kind)]


class CorrectForm(SlipForm):
    way = forms.ChoiceField(
        label="What the ledger lacks",
        choices=[("more", "More are here than it says"), ("fewer", "Fewer are here than it says")],
        widget=forms.RadioSelect,
    )
    quantity = forms.IntegerField(
        label="By how many",
        min_value=1,
        max_value=MOST_PIECES,
        error_messages={"min_value": "Write 1 or more, without a sign: whether more or fewer is chosen above."},
    )
    why = forms.CharField(label="What was wrong", max_length=200)

    @property
    def change(self) -> int:
        quantity: int = self.cleaned_data["quantity"]
        return quantity if self.cleaned_data["way"] == "more" else -quantity


@once
def ledger_correct(request: HttpRequest, item: int) -> HttpResponse:
    found = get_object_or_404(Item, pk=item)
    form = CorrectForm(request.POST or None)
    broken = []
    if request.method == "POST" and form.is_valid():
        told = {"change": form.change, "why": form.cleaned_data["why"], "by": request.user, "at": timezone.now()}
        try:
            counting.correct(item=found, even_if_short=request.POST.get("even_if_short") == "yes", **told)
        except PromisesBroken as refusal:
            broken = shown.broken_lines(refusal.promises)
        except ValueError:
            form.add_error("quantity", "So many are not in the store.")
        else:
            audit_add(request=request, act="corrected the ledger", subject=found.name)
            request.session["outcome"] = "Corrected by a line of its own."
            return redirect("inventory:ledger", item=found.pk)
    context = {"tab": "stock", "item": found, "form": form, "broken": broken}
    return render(request, "inventory/ledger_correct.html", context, status=422 if request.method == "POST" else 200)
