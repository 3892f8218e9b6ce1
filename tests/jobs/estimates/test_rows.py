"""How price and hours stand, for the event's page."""

from datetime import timedelta

from decor.studio.models import BackgroundJob
from jobs.estimates import services
from jobs.estimates.rows import glance_row
from jobs.estimates.shown import price_words


def test_nothing_yet(event):
    row = glance_row(event)
    assert (row.stands, row.state) == ("Not estimated yet", "none")
    assert row.act[0] == "Estimate it"


def test_in_the_worker_and_failed(event, column_piece, store):
    services.estimate_request(event=event)
    assert glance_row(event).state == "wait"
    BackgroundJob.objects.update(state="failed", reason="No balloon is sold that large.")
    row = glance_row(event)
    assert (row.state, row.small) == ("no", "No balloon is sold that large.")


def test_price_and_hours_then_older(event, column_piece, store):
    result = services.estimate_now(event=event).result
    row = glance_row(event)
    low, high = (-(-int(float(result[name]) * 100) // 100) for name in ("price_from", "price_to"))
    assert row.stands == f"€{low:,} to {high:,} with tax"
    assert row.state == "ok" and row.act is None
    column_piece.count = 9
    column_piece.save()
    older = glance_row(event)
    assert older.state == "warn" and older.act[0] == "Estimate again" and older.urgency > 0


def test_a_plan_that_will_not_work_is_told_before_its_price(event, column_piece, store):
    column_piece.fill = "helium"
    column_piece.save()
    event.ends = event.doors + timedelta(hours=40)
    event.strike = event.ends + timedelta(hours=1)
    event.save()
    services.estimate_now(event=event)
    row = glance_row(event)
    assert (row.state, row.state_words, row.act[0]) == ("no", "Won't work", "See what won't work")
    assert "11 in balloons on helium float for 16 h, but from inflating to the end it is 4" in row.small


def test_prices_are_rounded_up_never_down():
    from decimal import Decimal

    assert price_words(Decimal("1349.01"), Decimal("1620.00"), "EUR") == "€1,350 to 1,620"
    assert price_words(Decimal("99.10"), Decimal("99.90"), "GBP") == "£100"
