"""Bins and labels on screen. Scanning a label opens a page and changes nothing."""

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from decor.studio.forms import SlipForm
from decor.studio.requests import once
from decor.studio.services import audit_add
from inventory import bins, labels, ledger, places
from inventory.models import Bin, Item
from inventory.picks.lists import open_rows_of_bin
from inventory.shown import KIND_WORDS, capital

GRID_WORDS = {"24": "24 to a page, 3 by 8", "12": "12 to a page, 2 by 6", "6": "6 to a page, 2 by 3"}


class BinForm(SlipForm):
    name = forms.CharField(label="Name", max_length=20)
    position = forms.IntegerField(label="Its place on the way through the store", min_value=1, max_value=9_999)


class LabelsForm(SlipForm):
    what = forms.ChoiceField(label="Labels for", choices=[])
    grid = forms.ChoiceField(label="Labels on a page", choices=list(GRID_WORDS.items()), initial="24")
    first = forms.IntegerField(
        label="Start at label",
        min_value=1,
        initial=1,
        help_text="For a sheet that is begun: counted from the top left, row by row.",
    )

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        inside = [(f"in-{row.bin.pk}", f"What lies in {row.bin.name}") for row in bins.bin_rows() if row.items]
        kinds = [(f"kind-{kind}", words) for kind, words in KIND_WORDS.items()]
        self.fields["what"].choices = [("bins", "All bins"), ("items", "All items"), *kinds, *inside]
        one = self.data.get("what") or self.initial.get("what", "")
        if one.startswith(("bin-", "item-")) and (found := labels.wanted(one)):
            self.fields["what"].choices.append((one, f"{found[0].code} alone"))

    def clean(self) -> dict[str, object]:
        given = super().clean()
        columns, rows = labels.GRIDS.get(given.get("grid"), (3, 8))
        if (given.get("first") or 1) > columns * rows:
            self.add_error("first", f"A page has {columns * rows} labels.")
        if given.get("what") and not labels.wanted(given["what"]):
            self.add_error("what", "There is nothing of this to label yet.")
        return given


@require_safe
def bin_list(request: HttpRequest) -> HttpResponse:
    found = places.found_by_code(request.GET.get("code", "")) if "code" in request.GET else None
    if isinstance(found, Bin):
        return redirect("inventory:bin", bin=found.pk)
    if isinstance(found, Item):
        return redirect("inventory:item", item=found.pk)
    unknown = request.GET.get("code", "").strip()[:40]
    context = {"tab": "stock", "rows": bins.bin_rows(), "unknown": unknown}
    return render(request, "inventory/bins.html", context, status=404 if unknown else 200)


@require_safe
def bin_page(request: HttpRequest, bin: int) -> HttpResponse:
    found = get_object_or_404(Bin, pk=bin)
    items = bins.items_in(found)
    held = ledger.on_hand([item.pk for item in items])
    rows = [(item, item.latex.rgb if item.kind == Item.Kind.LATEX else "", held[item.pk]) for item in items]
    context = {
        "tab": "stock" if request.user.is_staff_role else "today",
        "bin": found,
        "rows": rows,
        "plans": request.user.is_staff_role,
        "to_pick": open_rows_of_bin(found.name, request.user, timezone.now()),
        "count_at": rows[0][0].pk if rows and request.user.is_staff_role else None,
    }
    return render(request, "inventory/bin.html", context)


@once
def bin_change(request: HttpRequest, bin: int) -> HttpResponse:
    found = get_object_or_404(Bin, pk=bin)
    order = list(Bin.objects.order_by("position", "name").values_list("pk", flat=True))
    form = BinForm(request.POST or None, initial={"name": found.name, "position": order.index(found.pk) + 1})
    if request.method == "POST" and form.is_valid():
        try:
            bins.bin_rename(bin_=found, name=form.cleaned_data["name"])
        except bins.NameTaken as taken:
            form.add_error("name", str(taken))
        else:
            bins.bin_move(bin_=found, to=form.cleaned_data["position"])
            audit_add(request=request, act="changed a bin", subject=found.name)
            return redirect("inventory:bins")
    context = {"tab": "stock", "bin": found, "form": form, "empty": not bins.items_in(found)}
    return render(request, "inventory/bin_change.html", context, status=422 if form.errors else 200)


@once
@require_POST
def bin_move(request: HttpRequest, bin: int) -> HttpResponse:
    found = get_object_or_404(Bin, pk=bin)
    order = list(Bin.objects.order_by("position", "name").values_list("pk", flat=True))
    step = -1 if request.POST.get("way") == "up" else 1
    bins.bin_move(bin_=found, to=order.index(found.pk) + 1 + step)
    return redirect("inventory:bins")


@once
@require_POST
def bin_remove(request: HttpRequest, bin: int) -> HttpResponse:
    found = get_object_or_404(Bin, pk=bin)
    try:
        bins.bin_remove(bin_=found)
    except ValueError:
        return redirect("inventory:bin", bin=found.pk)
    audit_add(request=request, act="took a bin away", subject=found.name)
    return redirect("inventory:bins")


@require_safe
def label_sheet(request: HttpRequest) -> HttpResponse:
    """The form, and with what it asks for the sheets themselves."""
    asked = "grid" in request.GET
    form = LabelsForm(request.GET if asked else None, initial={"what": request.GET.get("what", "bins")})
    if not asked or not form.is_valid():
        context = {"tab": "stock", "form": form, "site": labels.address_of("b", 1)}
        return render(request, "inventory/labels.html", context, status=422 if form.errors else 200)
    given = form.cleaned_data
    try:
        data = labels.labels_pdf(
            labels.wanted(given["what"]), paper=request.studio.paper, grid=given["grid"], first=given["first"]
        )
    except ValueError as missing:
        return render(request, "studio/message.html", {"title": "No labels", "text": str(missing)}, status=422)
    answer = HttpResponse(data, content_type="application/pdf")
    answer["Content-Disposition"] = 'inline; filename="labels.pdf"'
    return answer


@require_safe
def scanned_bin(request: HttpRequest, bin: int) -> HttpResponse:
    return redirect("inventory:bin", bin=get_object_or_404(Bin, pk=bin).pk)


@require_safe
def scanned_item(request: HttpRequest, item: int) -> HttpResponse:
    found = get_object_or_404(Item, pk=item)
    if request.user.is_staff_role:
        return redirect("inventory:item", item=found.pk)
    where = Bin.objects.filter(name__iexact=found.bin).first()
    if where is None:
        return render(request, "studio/message.html", {"title": capital(found.name), "text": "It has no bin yet."})
    return redirect("inventory:bin", bin=where.pk)
