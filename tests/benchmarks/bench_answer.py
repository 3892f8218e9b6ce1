"""The quick answer, from a caller's words to its rows, and the estimate behind it."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import django

from tests.benchmarks import Comparison, middle_ms

LOAD_IN = datetime(2031, 6, 13, 13, tzinfo=UTC)


def fill() -> None:
    from decor.studio.models import Studio
    from tests.jobs.desk.asking import fill_store, hire

    Studio.objects.create(name="Saltmarsh Balloon Works", time_zone="Europe/Dublin")
    fill_store((LOAD_IN - timedelta(days=60)).date())
    hire()


def judged() -> Iterator[Comparison]:
    from decor.calc.estimate import compute
    from jobs.desk.answer import quick_answer
    from jobs.estimates.inputs import asked_pieces, background_now, estimate_input
    from jobs.events.conditions import conditions_of
    from jobs.events.models import Venue
    from tests.jobs.desk.asking import piece

    venue = Venue(name="Quay Hall", time_zone="Europe/Dublin", drive_minutes=30, distance_km=22)
    times = {
        "starts": LOAD_IN,
        "doors": LOAD_IN + timedelta(hours=3),
        "ends": LOAD_IN + timedelta(hours=8),
        "strike": LOAD_IN + timedelta(hours=9),
    }

    def asked(count: int) -> list:
        rough = [piece("panel"), *(piece("column", count=n) for n in range(1, count))]
        return asked_pieces([{name: value for name, value in p.items() if name != "key"} for p in rough])

    def answer(count: int) -> None:
        quick_answer(pieces=asked(count), venue_facts=venue, now=LOAD_IN - timedelta(days=30), **times)

    yield Comparison(
        "quick answer: three pieces",
        middle_ms(lambda: answer(3)),
        peer_name="one piece",
        peer=middle_ms(lambda: answer(1)),
        most_ratio=2.5,
    )
    conditions = conditions_of(venue=venue, load_in=times["starts"], doors=times["doors"], ends=times["ends"])
    given = {n: estimate_input(pieces=asked(n), conditions=conditions, background=background_now()) for n in (3, 30)}
    yield Comparison(
        "estimate: thirty pieces",
        middle_ms(lambda: compute(given[30])),
        peer_name="three pieces",
        peer=middle_ms(lambda: compute(given[3])),
        most_ratio=20.0,
    )


def comparisons() -> Iterator[Comparison]:
    django.setup()
    from django.conf import settings
    from django.test.utils import get_runner

    runner = get_runner(settings)(verbosity=0, interactive=False)
    databases = runner.setup_databases()
    try:
        fill()
        yield from judged()
    finally:
        runner.teardown_databases(databases)
