"""Pages for bringing a list in and taking one out."""

from typing import Any

from django import forms
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe
from django_htmx.http import HttpResponseStopPolling

from decor.studio.background import worker_is_alive
from decor.studio.forms import SlipForm
from decor.studio.models import BackgroundJob
from decor.studio.numbers import whole
from decor.studio.requests import once
from decor.studio.services import audit_add
from inventory.models import ImportRow, Item, StockImport
from inventory.shown import KIND_WORDS
from inventory.tables import services, writing
from inventory.tables.columns import BY_NAME, COLUMNS, cell_of, is_known
from inventory.tables.files import MOST_BYTES, FileRefused, lines_of, text_of

POLLS = ("load delay:300ms", "load delay:600ms", "load delay:1200ms")
ROWS_A_PAGE = 50
SAMPLES = 3
BUSY = {StockImport.State.CHECKING, StockImport.State.TAKING, StockImport.State.UNDOING}
FILTERS = [(state.value, state.label) for state in ImportRow.State]


class FileForm(SlipForm):
    file = forms.FileField(
        label="The list",
        help_text="A CSV file of up to 10 MB, such as a spreadsheet saves. Its first row holds the headings.",
        widget=forms.FileInput({"accept": ".csv,.txt,.tsv,text/csv,text/plain"}),
        error_messages={"required": "Choose a file.", "empty": "This file is empty."},
    )

    def clean_file(self) -> Any:
        sent = self.cleaned_data["file"]
        if sent.size > MOST_BYTES:
            raise forms.ValidationError(
                f"This file is {-(-sent.size // 2**20)} MB; the most is 10 MB. Send it in parts."
            )
        return sent


class ColumnsForm(forms.Form):
    """For each heading of the file which column of ours it is."""

    all_kind = forms.ChoiceField(
        required=False, choices=[("", "as the file says"), *[(kind, words) for kind, words in KIND_WORDS.items()]]
    )

    def __init__(self, *args: Any, batch: StockImport, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.batch = batch
        self.initial["all_kind"] = batch.all_kind
        ours = [("", "left out"), *[(column.name, column.heading) for column in COLUMNS]]
        for at, name in enumerate(batch.columns):
            field = forms.ChoiceField(required=False, choices=ours, initial=name)
            self.fields[f"column-{at}"] = field

    def columns(self) -> list[str]:
        return [self.cleaned_data[f"column-{at}"] for at in range(len(self.batch.columns))]


@once
def import_new(request: HttpRequest) -> HttpResponse:
    """Choose a file; lists that came before; the way out for lists of ours."""
    form = FileForm(request.POST, request.FILES) if request.method == "POST" else FileForm()
    if request.method == "POST" and form.is_valid():
        sent = form.cleaned_data["file"]
        try:
            batch = services.import_start(data=sent.read(), original_name=sent.name or "list", by=request.user)
        except FileRefused as refusal:
            form.add_error("file", str(refusal))
        else:
            return _onward(batch)
    context = {
        "tab": "stock",
        "form": form,
        "batches": StockImport.objects.select_related("by")[:10],
        "kinds": list(KIND_WORDS.items()),
        "columns": COLUMNS,
    }
    return render(request, "inventory/import_new.html", context, status=422 if request.method == "POST" else 200)


def _onward(batch: StockImport) -> HttpResponse:
    """Straight to the check when every heading is known."""
    if all(batch.columns) and not services.missing_words(batch.columns):
        services.import_check(batch=batch)
        return redirect("inventory:import", batch=batch.pk)
    return redirect("inventory:import-columns", batch=batch.pk)


def _batch(pk: int) -> StockImport:
    return get_object_or_404(StockImport.objects.select_related("job", "file", "by"), pk=pk)


@once
def import_columns(request: HttpRequest, batch: int) -> HttpResponse:
    found = _batch(batch)
    form = ColumnsForm(request.POST if request.method == "POST" else None, batch=found)
    refusal = ""
    if request.method == "POST" and form.is_valid():
        try:
            services.columns_set(batch=found, columns=form.columns(), all_kind=form.cleaned_data["all_kind"])
            services.import_check(batch=found)
            return redirect("inventory:import", batch=found.pk)
        except services.NotNow as wrong:
            refusal = str(wrong)
    elif request.method == "POST":
        refusal = "Choose from the columns offered."
    samples = _samples(found)
    rows = [
        (heading, form[f"column-{at}"], [cells[at] for cells in samples if at < len(cells) and cells[at]])
        for at, heading in enumerate(found.headings)
    ]
    context = {"tab": "stock", "batch": found, "form": form, "rows": rows, "refusal": refusal}
    context["unknown"] = sum(1 for heading in found.headings if not is_known(heading))
    return render(request, "inventory/import_columns.html", context, status=422 if request.method == "POST" else 200)


def _samples(batch: StockImport) -> list[list[str]]:
    text = text_of(services.file_read(file=batch.file))
    lines = lines_of(text.words, batch.delimiter)
    next(lines, None)
    return [line.cells for line, _ in zip(lines, range(SAMPLES), strict=False)]


@require_safe
def import_page(request: HttpRequest, batch: int) -> HttpResponse:
    """What the list would do; asked by htmx while the worker is at it, and 286 tells it to ask no more."""
    found = _batch(batch)
    if found.state == StockImport.State.COLUMNS:
        return redirect("inventory:import-columns", batch=found.pk)
    number = min(whole(request.GET.get("n", "")), len(POLLS))
    context = _context(request, found, number)
    if request.htmx and request.headers.get("HX-Target") == "import":
        page = render(request, "inventory/_import.html", context | {"swapped": True})
        return page if context["working"] else HttpResponseStopPolling(page.content)
    return render(request, "inventory/import.html", context)


def _context(request: HttpRequest, batch: StockImport, polled: int = 0) -> dict[str, Any]:
    failed = batch.job is None or batch.job.state == BackgroundJob.State.FAILED
    working = batch.state in BUSY and not failed
    context: dict[str, Any] = {
        "tab": "stock",
        "batch": batch,
        "working": working,
        "refused": _refused(batch) if batch.state in BUSY and failed else "",
        "poll": POLLS[polled] if polled < len(POLLS) else "every 2s",
        "polled": polled + 1,
        "worker_missing": working and not worker_is_alive(),
    }
    return context if working else context | _rows(request, batch)


def _refused(batch: StockImport) -> str:
    reason = batch.job.reason if batch.job else ""
    return reason or "Its worker was lost."


def _rows(request: HttpRequest, batch: StockImport) -> dict[str, Any]:
    counts = dict(zip(ImportRow.State.values, (batch.wrong, batch.made, batch.changed, batch.same), strict=True))
    first = next((state for state, number in counts.items() if number), "")
    state = request.GET.get("rows", "")
    state = state if state in counts else first
    rows = ImportRow.objects.filter(batch=batch, state=state).order_by("number")
    paginator = Paginator(rows, ROWS_A_PAGE)
    # Counted already: the database would count 50,000 rows for each page.
    paginator.count = counts.get(state, 0)
    page = paginator.get_page(request.GET.get("page"))
    return {
        "page": page,
        "lines": [_line(row) for row in page],
        "shown": state,
        "filters": [(key, words, counts[key]) for key, words in FILTERS],
        "rows_in_all": sum(counts.values()),
    }


def _line(row: ImportRow) -> dict[str, Any]:
    changes = [
        (BY_NAME[name].heading, cell_of(name, old) or "nothing", cell_of(name, new) or "nothing")
        for name, (old, new) in row.data.get("changes", {}).items()
    ]
    return {
        "row": row,
        "words": row.name or "without a name",
        "kind": KIND_WORDS.get(row.kind, ""),
        "changes": changes if row.state != ImportRow.State.WRONG else [],
        "errors": row.data.get("errors", []),
        "notes": row.data.get("notes", []),
        "opening": row.data.get("opening", 0),
        "rgb": row.data.get("values", {}).get("rgb", ""),
    }


def _act(request: HttpRequest, batch: int, act: Any, words: str) -> HttpResponse:
    found = _batch(batch)
    try:
        act(batch=found)
    except services.NotNow as refusal:
        context = _context(request, _batch(batch)) | {"warning": str(refusal)}
        return render(request, "inventory/import.html", context, status=422)
    if words:
        audit_add(request=request, act=words, subject=found.original_name[:160])
    return redirect("inventory:import", batch=batch)


@require_POST
@once
def import_check(request: HttpRequest, batch: int) -> HttpResponse:
    return _act(request, batch, services.import_check, "")


@require_POST
@once
def import_take(request: HttpRequest, batch: int) -> HttpResponse:
    return _act(request, batch, services.import_take, "took a list over into stock")


@require_POST
@once
def import_undo(request: HttpRequest, batch: int) -> HttpResponse:
    return _act(request, batch, services.import_undo, "took a list back out of stock")


@require_safe
def import_errors(request: HttpRequest, batch: int) -> StreamingHttpResponse:
    return _csv(writing.error_lines(_batch(batch)), f"errors-{batch}.csv")


@require_safe
def export(request: HttpRequest) -> StreamingHttpResponse:
    kind = request.GET.get("kind", "")
    kind = kind if kind in Item.Kind.values else ""
    name = f"stock-{KIND_WORDS[kind].lower().replace(' ', '-')}" if kind else "stock"
    return _csv(writing.stock_lines(kind), f"{name}-{timezone.localdate().isoformat()}.csv")


def _csv(lines: Any, name: str) -> StreamingHttpResponse:
    answer = StreamingHttpResponse(lines, content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer
