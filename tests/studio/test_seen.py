"""When somebody was seen last is only a note: no page waits for it."""

import sqlite3
import time
from datetime import timedelta

import pytest
from django.db import connection
from django.utils import timezone

from decor.studio.models import SignIn
from tests.conftest import signed_in

pytestmark = pytest.mark.django_db(transaction=True)


def long_ago() -> None:
    SignIn.objects.update(last_seen=timezone.now() - timedelta(minutes=5))


def minutes_since_seen() -> float:
    return (timezone.now() - SignIn.objects.get().last_seen).total_seconds() / 60


def test_whoever_comes_back_is_seen(planner):
    client = signed_in(planner)
    long_ago()
    assert client.get("/stock/").status_code == 200
    assert minutes_since_seen() < 1


@pytest.mark.skipif(connection.vendor != "sqlite", reason="only SQLite has one writer at a time")
def test_a_page_opens_while_something_long_is_written(planner):
    client = signed_in(planner)
    long_ago()
    other = sqlite3.connect(connection.settings_dict["NAME"], isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    begun = time.monotonic()
    try:
        assert client.get("/stock/").status_code == 200
    finally:
        other.execute("ROLLBACK")
        other.close()
    assert time.monotonic() - begun < 30, "it waits a minute for whatever else is written"
    assert minutes_since_seen() > 4
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA busy_timeout")
        assert cursor.fetchone()[0] == 60_000, "what must be written waits again"
    client.get("/stock/")
    assert minutes_since_seen() < 1
