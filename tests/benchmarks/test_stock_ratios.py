import sys
from types import FrameType

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from inventory.availability import free
from inventory.models import Item, LotSum
from tests.benchmarks import bench_stock

MOST_RATIO = 0.7
"""Of the plain way's time; a third of it on a quiet machine."""


def test_what_is_free_costs_less_than_adding_it_up_in_python(db):
    ours, plain = bench_stock.timed(1)
    if ours > MOST_RATIO * plain:  # another job on the machine can spoil one measurement, not the same one twice
        ours, plain = bench_stock.measured()
        assert ours <= MOST_RATIO * plain


MOST_LONGER = 2.0
"""What ten times the promises and the ledger may cost; a good third more on a quiet machine."""


def test_ten_times_as_much_takes_at_most_twice_as_long(db):
    """From a tenth of a year's events to a year's, as many to come as past."""
    with transaction.atomic():
        tenth, _ = bench_stock.timed(0.1)
        transaction.set_rollback(True)
    year, _ = bench_stock.timed(1)
    if year > MOST_LONGER * tenth:
        year, _ = bench_stock.measured()
        assert year <= MOST_LONGER * tenth


def test_it_asks_as_often_however_much_there_is(db):
    asked = []
    for times in (0.01, 0.05):
        with transaction.atomic():
            ids = bench_stock.asked(bench_stock.fill(times))
            with CaptureQueriesContext(connection) as queries:
                free(ids, bench_stock.ZERO, bench_stock.ZERO + bench_stock.timedelta(days=3), now=bench_stock.ZERO)
            assert LotSum.objects.count() == 3 * bench_stock.ITEMS
            transaction.set_rollback(True)
        asked.append(len(queries))
    assert asked[0] == asked[1] <= 8


def filled(times: float, count) -> int:
    with transaction.atomic():
        bench_stock.fill(times)
        found = count()
        transaction.set_rollback(True)
    return found


MOST_MORE_STEPS = 2.0
"""What SQLite's own machine does for ten times the promises, from a tenth of a year to a year: twice, as for the times
above. Its steps are the same on every machine, however busy."""


def test_ten_times_as_much_is_hardly_more_work_for_sqlite(db):
    if connection.vendor != "sqlite":
        pytest.skip("only SQLite counts its steps; the times above are held on both")

    def steps() -> int:
        ids, taken = bench_stock.asked(list(Item.objects.order_by("pk").values_list("pk", flat=True))), [0]
        starts = bench_stock.ZERO + bench_stock.timedelta(days=180)

        def step() -> int:
            taken[0] += 10
            return 0

        connection.connection.set_progress_handler(step, 10)
        free(ids, starts, starts + bench_stock.timedelta(days=3), now=bench_stock.ZERO)
        connection.connection.set_progress_handler(None, 0)
        return taken[0]

    tenth, year = filled(0.1, steps), filled(1, steps)
    assert 5000 < tenth < year <= MOST_MORE_STEPS * tenth


MOST_MORE_CALLS = 1.3
"""Of the pages that list all items, for ten times the promises: next to nothing more, for no line of them is named."""


def test_pages_of_all_items_call_hardly_more_for_ten_times_the_promises(db):
    def calls() -> int:
        bench_stock.seen()
        called = [0]

        def note(frame: FrameType, event: str, arg: object) -> None:
            called[0] += event in {"call", "c_call"}

        sys.setprofile(note)
        try:
            lines, _ = bench_stock.seen()
        finally:
            sys.setprofile(None)
        assert len(lines) == bench_stock.ITEMS and not any(line.detail.short for line in lines)
        return called[0]

    tenth, year = filled(0.1, calls), filled(1, calls)
    assert year <= MOST_MORE_CALLS * tenth
