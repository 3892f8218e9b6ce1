"""Many taps at once, each in its own thread and connection, on whichever database the tests run."""

from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection

from decor.studio.models import Studio
from jobs.clients.models import Client
from jobs.designs.models import Piece
from jobs.desk import booking, drafts
from jobs.desk.models import BookingDraft
from jobs.events.models import Event, Venue
from tests.conftest import signed_in
from tests.jobs.desk.conftest import ROUGH_PANEL, coming

TAPS = 10


@pytest.fixture
def full(transactional_db, planner) -> BookingDraft:
    draft = drafts.draft_start(user=planner, purpose="book")
    rough = {"kind": "panel", "count": 1, "built_at": "venue", "fill": "air", "title": "P", "measures": ROUGH_PANEL}
    when = {"date": coming().isoformat(), "load_in": "14:00", "doors": "17:00", "ends": "23:00", "strike": "23:30"}
    client = {"name": "Bo Fern", "phone": "01632 960777"}
    venue = {"name": "Fern Street", "time_zone": "Europe/Dublin"}
    return drafts.draft_save(draft=draft, client=client, venue=venue, when=when, what=[rough])


def at_once(act):
    def run(n):
        try:
            return act(n)
        finally:
            connection.close()

    with ThreadPoolExecutor(TAPS) as pool:
        return list(pool.map(run, range(TAPS)))


def all_is_there_once():
    counts = {m.__name__: m.objects.count() for m in (Event, Client, Venue, Piece)}
    assert counts == {"Event": 1, "Client": 1, "Venue": 1, "Piece": 1}


@pytest.mark.django_db(transaction=True)
def test_ten_taps_on_one_page_make_one_event(full, planner):
    browser_cookies = signed_in(planner).cookies
    form = {"title": "Once", "note": "", "request_key": "k" * 24}

    def tap(_):
        from django.test import Client as Browser

        browser = Browser()
        browser.cookies = browser_cookies
        return browser.post(f"/book/{full.pk}/check/", form)

    answers = at_once(tap)
    event = Event.objects.get()
    assert {(a.status_code, a.url) for a in answers} == {(302, f"/events/{event.pk}/")}
    all_is_there_once()


@pytest.mark.django_db(transaction=True)
def test_ten_pages_with_ten_keys_make_one_event(full):
    events = at_once(lambda n: booking.event_book(draft=BookingDraft.objects.get(pk=full.pk), title=f"Tap {n}"))
    assert len({event.pk for event in events}) == 1
    all_is_there_once()
    assert Studio.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_two_phones_on_one_draft_lose_nothing_of_each_other(full):
    parts = ["note", "title", *(f"extra{n}" for n in range(TAPS - 2))]
    at_once(lambda n: drafts.draft_save(draft=BookingDraft.objects.get(pk=full.pk), **{parts[n]: n}))
    full.refresh_from_db()
    assert {name: full.data[name] for name in parts} == {name: n for n, name in enumerate(parts)}
