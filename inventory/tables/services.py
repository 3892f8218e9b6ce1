"""Bringing a list in: kept, checked without touching anything, taken over whole, taken back whole."""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta

from django.db import transaction
from django.utils import timezone

from decor.studio.background import job_request
from decor.studio.models import BackgroundJob, User
from decor.studio.services import file_read, file_store
from inventory.models import ImportRow, StockImport
from inventory.tables import columns as cols
from inventory.tables.checking import Row, checked
from inventory.tables.files import FileRefused, Line, delimiter_of, lines_of, text_of
from inventory.tables.known import Known, stock_key
from inventory.tables.taking import take_rows
from inventory.tables.undoing import undo_rows

CHECK, TAKE, UNDO = "stock import check", "stock import", "stock import undo"
State = StockImport.State
Progress = Callable[[float, str], None]
KEPT_FOR = timedelta(days=14)
CHANGED_WORDS = "The stock has changed since this was checked, so nothing was taken over. Check it again."


class NotNow(ValueError):
    """Why an import can't do this as it stands, in words."""


def import_start(*, data: bytes, original_name: str, by: User | None) -> StockImport:
    """Keeps a file and tells its columns by their headings. Raises FileRefused."""
    text = text_of(data)
    delimiter = delimiter_of(text.words, cols.is_known)
    lines = lines_of(text.words, delimiter)
    head = next(lines, None)
    if head is None or (not any(cols.is_known(cell) for cell in head.cells) and len(head.cells) < 2):
        raise FileRefused("The first row must hold the headings, such as Name, Pack price and Bin.")
    if next(lines, None) is None:
        raise FileRefused("There are headings in this file and nothing below them.")
    for _ in lines:  # what breaks further down is told now, not in the background
        pass
    headings = _without_tail(head.cells)
    name = "".join(letter for letter in original_name if letter.isprintable())[:200] or "list"
    file = file_store(data=data, mime="text/csv", original_name=name)
    return StockImport.objects.create(
        file=file,
        original_name=name,
        encoding=text.encoding,
        guessed=text.guessed,
        delimiter=delimiter,
        headings=headings,
        columns=columns_told(headings),
        by=by,
    )


def _without_tail(cells: list[str]) -> list[str]:
    """Spreadsheets like to add empty columns at the end."""
    while len(cells) > 1 and not cells[-1]:
        cells = cells[:-1]
    return [cell[:80] for cell in cells]


def columns_told(headings: Sequence[str]) -> list[str]:
    """Our field for each heading, the first one where two mean the same; "" where none is known."""
    found: list[str] = []
    for heading in headings:
        name = cols.known(heading)
        found.append("" if name in found else name)
    return found


def missing_words(columns: Iterable[str]) -> str:
    """Why these columns can't tell which item a row is, or nothing."""
    given = set(columns)
    if {"pk"} & given or {"name"} & given or {"nominal_in", "colour"} <= given:
        return ""
    return "No column says which item a row is. It takes a Number, a Name, or for balloons Size in and Colour."


def columns_set(*, batch: StockImport, columns: Sequence[str], all_kind: str = "") -> StockImport:
    """Raises NotNow when two columns mean the same, or none says which item a row is."""
    twice = [name for name, times in Counter(filter(None, columns)).items() if times > 1]
    if twice:
        headings = " and ".join(h for h, name in zip(batch.headings, columns, strict=True) if name == twice[0])
        raise NotNow(f"{headings} can't both be {cols.BY_NAME[twice[0]].heading}. Leave one of them out.")
    if words := missing_words(columns):
        raise NotNow(words)
    if len(columns) != len(batch.headings) or batch.state not in CHECKABLE:
        raise NotNow("This list has moved on meanwhile. Look at it again.")
    batch.columns, batch.all_kind = list(columns), all_kind
    batch.save(update_fields=["columns", "all_kind"])
    return batch


CHECKABLE = {State.COLUMNS, State.CHECKED, State.CHECKING}


@transaction.atomic
def import_check(*, batch: StockImport) -> StockImport:
    """Asks for a dry run, again where there was one."""
    return _asked(batch, CHECK, CHECKABLE | {State.TAKING, State.UNDONE}, State.CHECKING)


@transaction.atomic
def import_take(*, batch: StockImport) -> StockImport:
    """Asks for it to be taken over. Raises NotNow while a row is in error or nothing would change."""
    batch = StockImport.objects.select_for_update().get(pk=batch.pk)
    if batch.wrong:
        raise NotNow("Nothing is taken over while a row is in error. Put it right in the file, and bring it in again.")
    if not batch.made and not batch.changed:
        raise NotNow("Nothing in this list differs from the stock.")
    return _asked(batch, TAKE, {State.CHECKED}, State.TAKING)


@transaction.atomic
def import_undo(*, batch: StockImport) -> StockImport:
    return _asked(batch, UNDO, {State.TAKEN, State.UNDOING}, State.UNDOING)


def _asked(batch: StockImport, kind: str, when: Iterable[str], then: str) -> StockImport:
    batch = StockImport.objects.select_for_update().get(pk=batch.pk)
    busy = batch.job and batch.job.state in {BackgroundJob.State.QUEUED, BackgroundJob.State.RUNNING}
    if batch.state not in set(when) or busy:
        raise NotNow("This list has moved on meanwhile. Look at it again.")
    batch.state, batch.runs = then, batch.runs + 1
    batch.job = job_request(kind=kind, subject_id=batch.pk, input_key=str(batch.runs))
    batch.save(update_fields=["state", "runs", "job"])
    return batch


def rows_in(batch: StockImport) -> list[Line]:
    text = text_of(file_read(file=batch.file))
    return list(lines_of(text.words, batch.delimiter))[1:]


def check_compute(batch_id: int, progress: Progress) -> Callable[[], None]:
    """The dry run, for a worker."""
    batch = StockImport.objects.select_related("file").get(pk=batch_id)
    progress(0, "Reading the file")
    lines, known = rows_in(batch), Known.now()
    key = stock_key(known.items)
    rows = checked(lines, batch.columns, batch.all_kind, known, timezone.now(), progress)
    progress(0.95, "Writing it down")
    return lambda: _check_write(batch_id, rows, key)


def _check_write(batch_id: int, rows: Sequence[Row], key: str) -> None:
    counts = Counter(row.state for row in rows)
    ImportRow.objects.filter(batch=batch_id).delete()
    ImportRow.objects.bulk_create(_kept(batch_id, rows), batch_size=2000)
    StockImport.objects.filter(pk=batch_id).update(
        state=State.CHECKED,
        stock_key=key,
        made=counts[ImportRow.State.NEW],
        changed=counts[ImportRow.State.CHANGED],
        same=counts[ImportRow.State.SAME],
        wrong=counts[ImportRow.State.WRONG],
    )


def _kept(batch_id: int, rows: Iterable[Row]) -> Iterator[ImportRow]:
    for row in rows:
        yield ImportRow(
            batch_id=batch_id,
            number=row.number,
            state=row.state,
            kind=row.kind,
            item=row.item,
            name=(row.name or row.called)[:200],
            data=row.data(),
        )


def take_compute(batch_id: int, progress: Progress) -> Callable[[], None]:
    """All of it in the one transaction that marks the job done, or nothing. ValueError tells why not."""
    batch = StockImport.objects.get(pk=batch_id)
    progress(0.1, "Comparing with the stock once more")
    if stock_key() != batch.stock_key:
        raise ValueError(CHANGED_WORDS)
    progress(0.3, f"Taking {batch.made + batch.changed:,} rows over")
    return lambda: _take_write(batch_id)


def _take_write(batch_id: int) -> None:
    batch = StockImport.objects.select_for_update().get(pk=batch_id)
    if batch.state != State.TAKING or batch.wrong:
        raise ValueError("This list has moved on meanwhile. Look at it again.")
    take_rows(batch=batch, unchanged=lambda: stock_key() == batch.stock_key, changed_words=CHANGED_WORDS)
    StockImport.objects.filter(pk=batch_id).update(state=State.TAKEN, taken_at=timezone.now())


def undo_compute(batch_id: int, progress: Progress) -> Callable[[], None]:
    progress(0.3, "Taking it back")
    return lambda: _undo_write(batch_id)


def _undo_write(batch_id: int) -> None:
    batch = StockImport.objects.select_for_update().get(pk=batch_id)
    if batch.state != State.UNDOING:
        raise ValueError("This list has moved on meanwhile. Look at it again.")
    undo_rows(batch=batch)
    StockImport.objects.filter(pk=batch_id).update(state=State.UNDONE, undone_at=timezone.now())


HANDLERS: Mapping[str, Callable[[int, Progress], Callable[[], None]]] = {
    CHECK: check_compute,
    TAKE: take_compute,
    UNDO: undo_compute,
}


def imports_sweep(*, now: datetime) -> int:
    """Lists that nobody took over are forgotten after two weeks. What was taken over stays, so that it can be told
    from which file an item came."""
    old = StockImport.objects.filter(created__lt=now - KEPT_FOR, taken_at=None)
    return old.delete()[0]
