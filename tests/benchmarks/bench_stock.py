"""What is free of 40 items between two days, beside a year of 2,000 events with 30 lines each, and beside ten times as
many; on the database that DATABASE_URL names, SQLite without it."""

import random
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from typing import TypeVar

import django

from tests.benchmarks import Comparison, Figure, middle_ms

T = TypeVar("T")

ITEMS, EVENTS, LINES, ASKED = 500, 2000, 30, 40
ZERO = datetime(2031, 1, 1, 9, tzinfo=UTC)
YEAR_H = 365 * 24
SHEETS, HARDWARE = 20, 230
"""Of 500 items; the others are balloons."""


def fill(times: float = 1) -> list[int]:
    """`times` years' worth of promises within one year, and of the ledger's past."""
    from django.db import connection

    from inventory.models import Hardware, Item, Latex, Lot, Reservation, Sheet

    dice = random.Random(4)
    for n in range(SHEETS):
        net = {"rows": 22, "columns": 13, "pitch_m": 0.12, "sized_diameter_m": 0.12, "uses": 200}
        Sheet.objects.create(kind="sheet", name=f"item {n}", returnable=True, **net)
    for n in range(SHEETS, SHEETS + HARDWARE):
        Hardware.objects.create(kind="hardware", name=f"item {n}", returnable=True, purpose="pole")
    for n in range(SHEETS + HARDWARE, ITEMS):
        Latex.objects.create(kind="latex", name=f"item {n}", nominal_in=11, colour=f"colour {n}", rgb="#7db3d8")
    items = list(Item.objects.order_by("pk"))
    today = ZERO.date()
    Lot.objects.bulk_create(
        Lot(
            item=i,
            quantity=round(5000 * times),
            arrives_on=today + timedelta(days=day),
            received=day < 0,
            use_by=None if i.returnable else today + timedelta(days=day + keeps),
        )
        for i in items
        for day, keeps in ((-90, 200), (-60, 500), (-9, 900), (40, 900))
    )
    events = Reservation.objects.bulk_create(
        (
            Reservation(label=f"event {n}", starts=s, ends=s + timedelta(days=2), state="confirmed")
            for n, s in enumerate(ZERO + timedelta(hours=dice.randrange(YEAR_H)) for _ in range(round(EVENTS * times)))
        ),
        batch_size=2000,
    )
    _promise(events, items, dice)
    _past(items, dice, times)
    with connection.cursor() as cursor:
        # Both databases plan badly for tables that they have never counted; PostgreSQL also reads rows from the index
        # alone once it has vacuumed, which it can't within a test's transaction.
        vacuums = connection.vendor == "postgresql" and not connection.in_atomic_block
        cursor.execute("VACUUM ANALYZE" if vacuums else "ANALYZE")
    return [i.pk for i in items]


def _promise(events: list, items: list, dice: random.Random) -> None:
    from inventory.models import ReservationLine

    ReservationLine.objects.bulk_create(
        (
            ReservationLine(reservation=e, item=i, quantity=dice.randint(1, 30), starts=e.starts, ends=e.ends)
            for e in events
            for i in dice.sample(items, LINES)
        ),
        batch_size=2000,
    )


def _past(items: list, dice: random.Random, times: float) -> None:
    """The last year's events, picked and counted back: two lines of the ledger for each of their lines."""
    from inventory import ledger
    from inventory.models import Lot, Movement, Reservation, ReservationLine

    lots: dict[int, list[int]] = defaultdict(list)
    for item_id, lot_id in Lot.objects.filter(received=True).values_list("item_id", "pk"):
        lots[item_id].append(lot_id)
    over = Reservation.objects.bulk_create(
        (
            Reservation(label=f"past {n}", starts=s, ends=s + timedelta(days=2), state="settled", begun=True)
            for n, s in enumerate(
                ZERO - timedelta(hours=72 + dice.randrange(YEAR_H)) for _ in range(round(EVENTS * times))
            )
        ),
        batch_size=2000,
    )
    lines, moves = [], []
    for event in over:
        for item in dice.sample(items, LINES):
            n, lot = dice.randint(1, 4), dice.choice(lots[item.pk])
            span = {"starts": event.starts, "ends": event.ends}
            lines.append(ReservationLine(reservation=event, item=item, quantity=n, counts=False, **span))
            move = {"lot_id": lot, "item": item, "reservation": event, "at": event.starts}
            moves.append(Movement(kind="picked", store=-n, out=n, **move))
            back = n if item.returnable else 0
            moves.append(Movement(kind="back" if back else "used", store=back, out=-n, **move))
    ReservationLine.objects.bulk_create(lines, batch_size=2000)
    Movement.objects.bulk_create(moves, batch_size=2000)
    # As it is once all these lines were written one by one.
    ledger.add_up([lot for some in lots.values() for lot in some])


def in_plain_python(ids: list[int], starts: datetime, ends: datetime, now: datetime) -> dict[int, int]:
    """The same question with every line and every movement of these items fetched and added up here."""
    from inventory import availability
    from inventory.models import Movement

    # The ledger's own rows, as who has no sums in the database must read them.
    held: dict[int, int] = defaultdict(int)
    for lot_id, store, out in Movement.objects.filter(item__in=ids).values_list("lot_id", "store", "out"):
        held[lot_id] += store + out
    stock = availability.stock_of(ids, now=now, starts=starts, ends=ends)
    return {pk: one.free(starts, ends) for pk, one in stock.items()}


def asked(ids: list[int]) -> list[int]:
    """Sheets, poles and balloons, as an event asks for them."""
    return ids[:4] + ids[SHEETS : SHEETS + 12] + ids[SHEETS + HARDWARE : SHEETS + HARDWARE + ASKED - 16]


def timed(times: float) -> tuple[float, float]:
    """Milliseconds of ours and of the plain way, on what `fill` makes."""
    fill(times)
    return measured()


def measured() -> tuple[float, float]:
    from inventory.availability import free
    from inventory.models import Item

    ids = asked(list(Item.objects.order_by("pk").values_list("pk", flat=True)))
    starts = ZERO + timedelta(days=180)
    span = (starts, starts + timedelta(days=3))
    assert free(ids, *span, now=ZERO) == in_plain_python(ids, *span, ZERO)
    ours = middle_ms(lambda: free(ids, *span, now=ZERO))
    return ours, middle_ms(lambda: in_plain_python(ids, *span, ZERO))


def seen() -> tuple[list, list]:
    """What the list of the whole stock and the page of what needs somebody read and say, without their drawing."""
    from inventory import overview, shown, stocking
    from inventory.matters import matters

    items = stocking.items_found()
    lines = shown.stock_lines(items, ZERO, stock=overview.standing({one.pk for one in items}, now=ZERO))
    return lines, matters(now=ZERO)


def on_fresh_database(times: float, measure: Callable[[], T]) -> T:
    django.setup()
    from django.conf import settings
    from django.test.utils import get_runner

    runner = get_runner(settings)(verbosity=0, interactive=False)
    databases = runner.setup_databases()
    try:
        fill(times)
        return measure()
    finally:
        runner.teardown_databases(databases)


def seen_ms() -> float:
    """Processor time, the middle of three warm runs."""
    seen()
    spent = []
    for _ in range(3):
        begun = time.process_time()
        seen()
        spent.append((time.process_time() - begun) * 1000)
    return sorted(spent)[1]


def comparisons() -> Iterator[Comparison]:
    year, plain = on_fresh_database(1, measured)
    yield Comparison(
        "free: 40 items, 3 days, 60,000 lines to come and as many past",
        year,
        peer_name="the same rows added up in Python",
        peer=plain,
        most_ratio=0.7,
    )


def figures() -> Iterator[Figure]:
    from django.db import connection

    (year, _), pages = on_fresh_database(1, lambda: (measured(), seen_ms()))
    ten, _ = on_fresh_database(10, measured)
    yield Figure(f"free: 40 items, 60,000 lines, {connection.vendor}", year, "ms", 20)
    yield Figure(f"free: 40 items, 600,000 lines, {connection.vendor}", ten, "ms", 2 * 20)
    yield Figure("ten times as many lines, times as long", ten / year, "×", 2)
    yield Figure("all 500 items and what needs somebody, 60,000 lines, processor time", pages, "ms", 2 * 400)
