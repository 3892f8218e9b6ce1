"""Stock as rows of a file: UTF-8 with its mark, commas, days as 2026-11-28, points before decimals, nothing that a
spreadsheet would run."""

import csv
import io
from collections.abc import Iterable, Iterator

from inventory.models import ImportRow, StockImport
from inventory.tables.cells import defused
from inventory.tables.columns import COLUMNS, row_cells
from inventory.tables.known import MODELS, on_hand_of_all, values_by_id

MARK = "\ufeff"


def line_of(cells: Iterable[str]) -> str:
    out = io.StringIO(newline="")
    csv.writer(out).writerow([defused(cell) for cell in cells])
    return out.getvalue()


def stock_lines(kind: str = "") -> Iterator[str]:
    """The whole file of a kind, or of all, line by line."""
    yield MARK + line_of(column.heading for column in COLUMNS)
    on_hand = on_hand_of_all()
    for one in [kind] if kind else MODELS:
        for pk, values in values_by_id([one]).items():
            yield line_of(row_cells({**values, "on_hand": on_hand.get(pk, 0)}, one))


def error_lines(batch: StockImport) -> Iterator[str]:
    """A line for each error: where it stands in the file, which column, what is wrong."""
    yield MARK + line_of(["Line", "Item", "Column", "What is wrong"])
    rows = ImportRow.objects.filter(batch=batch, state=ImportRow.State.WRONG)
    for row in rows.iterator(chunk_size=2000):
        for heading, words in row.data["errors"]:
            yield line_of([str(row.number), row.name, heading, words])
