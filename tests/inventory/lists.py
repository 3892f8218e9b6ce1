"""A list brought in without a browser and without a worker."""

from django.urls import reverse

from decor.studio import background
from inventory.models import StockImport
from inventory.tables import services
from jobs.tasks import HANDLERS


def worked(batch: StockImport) -> StockImport:
    """The worker's part of what was asked for last."""
    batch.refresh_from_db()
    background.job_run(job_id=batch.job_id, handlers=HANDLERS)
    batch.refresh_from_db()
    return batch


def looked_at(data: str | bytes, name: str = "list.csv") -> StockImport:
    data = data.encode() if isinstance(data, str) else data
    batch = services.import_start(data=data, original_name=name, by=None)
    services.columns_set(batch=batch, columns=batch.columns)
    services.import_check(batch=batch)
    return worked(batch)


def taken(data: str | bytes) -> StockImport:
    batch = looked_at(data)
    assert not batch.wrong, outcome(batch)
    services.import_take(batch=batch)
    return worked(batch)


def undone(batch: StockImport) -> StockImport:
    services.import_undo(batch=batch)
    return worked(batch)


def outcome(batch: StockImport) -> dict[int, tuple[str, list]]:
    """{line: (state, errors)}"""
    return {row.number: (row.state, row.data.get("errors", [])) for row in batch.rows.all()}


def counts(batch: StockImport) -> tuple[int, int, int, int]:
    return batch.made, batch.changed, batch.same, batch.wrong


def exported(client, kind: str = "") -> bytes:
    return b"".join(client.get(reverse("inventory:export"), {"kind": kind} if kind else {}).streaming_content)
