"""What is free of 40 items over three days, beside a year of 2,000 events with 30 lines each."""

import random
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import django

from tests.benchmarks import Comparison, middle_ms

ITEMS, EVENTS, LINES, ASKED = 500, 2000, 30, 40
ZERO = datetime(2031, 1, 1, 9, tzinfo=UTC)


def fill() -> list[int]:
    from django.db import connection

    from inventory.models import Item, Lot, Reservation, ReservationLine

    dice = random.Random(4)
    items = Item.objects.bulk_create(
        Item(kind="hardware" if n % 2 else "latex", name=f"item {n}", returnable=bool(n % 2)) for n in range(ITEMS)
    )
    Lot.objects.bulk_create(Lot(item=i, quantity=5000, arrives_on=ZERO.date() - timedelta(days=9)) for i in items)
    spans = [ZERO + timedelta(hours=dice.randrange(365 * 24)) for _ in range(EVENTS)]
    events = Reservation.objects.bulk_create(
        Reservation(label=f"event {n}", starts=s, ends=s + timedelta(days=2), state="confirmed")
        for n, s in enumerate(spans)
    )
    ReservationLine.objects.bulk_create(
        (
            ReservationLine(reservation=e, item=i, quantity=dice.randint(1, 30), starts=e.starts, ends=e.ends)
            for e in events
            for i in dice.sample(items, LINES)
        ),
        batch_size=2000,
    )
    with connection.cursor() as cursor:
        # Both databases plan badly for tables that they have never counted.
        cursor.execute("ANALYZE")
    return [i.pk for i in items]


def judged(ids: list[int]) -> Iterator[Comparison]:
    from inventory.availability import free, live
    from inventory.models import ReservationLine

    starts = ZERO + timedelta(days=180)
    span = (starts, starts + timedelta(days=3))
    lent, used = ids[1::2][:ASKED], ids[::2][:ASKED]
    yield Comparison(
        "free: 40 returnables, 3 days, 60,000 lines",
        middle_ms(lambda: free(lent, *span, now=ZERO)),
        peer_name="one item after the other",
        peer=middle_ms(lambda: [free([pk], *span, now=ZERO) for pk in lent]),
        most_ratio=0.4,
    )
    lines = ReservationLine.objects.filter(live(ZERO), item__in=used)
    yield Comparison(
        "free: 40 consumables, their whole year",
        middle_ms(lambda: free(used, *span, now=ZERO)),
        peer_name="fetching the same lines",
        peer=middle_ms(lambda: list(lines.values_list("item_id", "quantity", "starts", "ends", "pk"))),
        most_ratio=2.5,
    )


def comparisons() -> Iterator[Comparison]:
    django.setup()
    from django.conf import settings
    from django.test.utils import get_runner

    runner = get_runner(settings)(verbosity=0, interactive=False)
    databases = runner.setup_databases()
    try:
        yield from judged(fill())
    finally:
        runner.teardown_databases(databases)
