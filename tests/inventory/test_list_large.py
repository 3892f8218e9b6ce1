"""Fifty thousand rows: looked at with progress, taken over whole, shown on a light page."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from decor.studio.models import BackgroundJob
from inventory import ledger
from inventory.models import Item, Lot
from inventory.tables import services
from tests.inventory.lists import counts, worked

ROWS = 50_000
PURPOSES = ["pole", "clip", "ribbon"]


def rows(price: str) -> bytes:
    head = "Kind,Name,Purpose,In a pack,Pack price,Supplier,Bin,On hand\n"
    lines = (
        f"hardware,Thing {n},{PURPOSES[n % 3]},{1 + n % 7},{n % 90}.{price},Supplier {n % 40},B{n % 99},{n % 5}\n"
        for n in range(ROWS)
    )
    return (head + "".join(lines)).encode()


@pytest.mark.alone
def test_fifty_thousand_rows(as_planner, monkeypatch):
    told = []
    checked = services.checked

    def listening(lines, columns, all_kind, known, now, progress):
        def heard(fraction, words):
            progress(fraction, words)
            told.append((BackgroundJob.objects.get().progress_percent, words))

        return checked(lines, columns, all_kind, known, now, heard)

    monkeypatch.setattr(services, "checked", listening)
    batch = services.import_start(data=rows("50"), original_name="large.csv", by=None)
    batch = worked(services.import_check(batch=batch))
    assert counts(batch) == (ROWS, 0, 0, 0)
    assert len(told) > 40 and [percent for percent, _ in told] == sorted(percent for percent, _ in told)
    assert told[10][1] == "10,000 of 50,000 rows are looked at"
    address = reverse("inventory:import", args=[batch.pk])
    with CaptureQueriesContext(connection) as asked:
        page = as_planner.get(f"{address}?page=900")
    assert len(page.content) < 40_000 and len(asked) < 12
    assert "Thing 44999" in page.content.decode() and "Page 900 of 1000" in page.content.decode()
    batch = worked(services.import_take(batch=batch))
    assert batch.state == "taken", batch.job.reason
    assert Item.objects.count() == ROWS and Lot.objects.count() == ROWS * 4 // 5
    third = Item.objects.get(name="Thing 3")
    assert ledger.on_hand([third.pk]) == {third.pk: 3}
