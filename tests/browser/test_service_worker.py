"""What keeps the pages at the table on the phone: how long it waits for the studio, how long it keeps a page, and how
a newer one takes its place."""

import threading
import time
from pathlib import Path
from types import SimpleNamespace

import pytest
from django.conf import settings as real_settings
from playwright.sync_api import Error, expect

from decor.studio import command_views
from jobs.designs.models import LoadedRow
from jobs.designs.table import views
from tests.browser.test_at_table import panel, phone, rows, settled, soon, tick
from tests.jobs.designs.conftest import event, latex, panel_piece, sheets
from tests.jobs.designs.table.conftest import shift, table_address

__all__ = ["event", "latex", "panel", "panel_piece", "phone", "sheets", "shift"]

pytestmark = pytest.mark.django_db(transaction=True)

PATIENCE_S = 3
KEPT_FOR_H = 36
KEPT = "async () => (await (await caches.open('pages-1')).keys()).map(one => new URL(one.url).pathname)"
# As if a page had been kept so many hours ago.
OLDER = """async ([path, hours]) => {
  const box = await caches.open('pages-1');
  const answer = await box.match(path);
  const headers = new Headers(answer.headers);
  headers.set('x-saved-at', String(Date.now() - hours * 3600 * 1000));
  await box.put(path, new Response(await answer.blob(), { status: 200, headers }));
}"""


@pytest.fixture
def held(monkeypatch):
    """While it is cleared, the studio answers nothing about the table."""
    may_answer, asked = threading.Event(), []
    may_answer.set()
    found = views._piece

    def slow(request, *args):
        asked.append(request.path)
        may_answer.wait(60)
        return found(request, *args)

    monkeypatch.setattr(views, "_piece", slow)
    may_answer.asked = asked
    yield may_answer
    may_answer.set()


def until(page, asked: str, arg=None) -> None:
    """Asks the page over and over, as `wait_for_function` takes a promise for a yes. The machine may be busy."""
    for _ in range(300):
        if page.evaluate(asked, arg):
            return
        page.wait_for_timeout(100)
    raise AssertionError(asked)


def kept_pages(page, piece, tail: str = "1/") -> None:
    page.goto(table_address(piece, tail))
    expect(page.locator("#phone")).to_contain_text("3 of 3 pages")
    settled(page)


def test_a_studio_that_does_not_answer_is_waited_for_three_seconds_and_no_longer(phone, crew_user, shift, panel, held):
    page = phone(crew_user).new_page()
    kept_pages(page, panel.piece)
    panel.piece.title = "Lighthouse at dusk"
    panel.piece.save()
    held.clear()
    before = len(held.asked)
    began = time.monotonic()
    page.goto(table_address(panel.piece, "1/"))
    took = time.monotonic() - began
    # The kept page is there while the studio has still said nothing; the studio was asked, and given its time.
    expect(page.get_by_role("button", name="Row 1 is in")).to_be_visible()
    assert not held.is_set() and len(held.asked) > before
    assert took >= PATIENCE_S - 0.1
    expect(page.locator("body")).not_to_contain_text("at dusk")
    # Its late answer is kept all the same; a studio that answers in time is shown as it is now.
    held.set()
    until(
        page,
        "async path => (await (await (await caches.open('pages-1')).match(path)).text()).includes('at dusk')",
        table_address(panel.piece, "1/"),
    )
    page.goto(table_address(panel.piece, "1/"))
    expect(page.locator("body")).to_contain_text("at dusk")


def test_a_page_is_kept_for_its_hours_and_then_forgotten(phone, crew_user, shift, panel):
    context = phone(crew_user)
    page = context.new_page()
    kept_pages(page, panel.piece)
    first, second = (table_address(panel.piece, tail) for tail in ("1/", "2/"))
    assert {first, second} <= set(page.evaluate(KEPT))
    page.evaluate(OLDER, [first, KEPT_FOR_H - 1])
    page.evaluate(OLDER, [second, KEPT_FOR_H + 1])
    context.set_offline(True)
    page.goto(first)
    expect(page.get_by_role("button", name="Row 1 is in")).to_be_visible()
    with pytest.raises(Error, match="ERR_"):
        context.new_page().goto(second)
    assert second not in page.evaluate(KEPT), "it is gone, not only hidden"


def test_a_newer_one_waits_until_nothing_waits_to_be_sent(phone, crew_user, shift, panel, monkeypatch, tmp_path):
    context = phone(crew_user)
    page = context.new_page()
    kept_pages(page, panel.piece)
    # Another tab, or else the browser itself would change keepers as soon as the only page is loaded again.
    other = context.new_page()
    kept_pages(other, panel.piece, "2/")
    page.bring_to_front()
    assert set(page.evaluate("() => caches.keys()")) == {"pages-1", "static-1"}
    newer = tmp_path / "static/js/sw.js"
    newer.parent.mkdir(parents=True)
    newer.write_text((Path(real_settings.BASE_DIR) / "static/js/sw.js").read_text().replace('"pages-1"', '"pages-2"'))
    taken = command_views.command_apply

    def busy(**given):
        return SimpleNamespace(status=503, answer={})

    monkeypatch.setattr(command_views, "command_apply", busy)
    tick(page, 1, 1)
    expect(page.locator("#signal")).to_contain_text("1 tick waits")
    monkeypatch.setattr(command_views, "settings", SimpleNamespace(BASE_DIR=tmp_path))
    page.reload()
    until(page, "async () => Boolean((await navigator.serviceWorker.ready).waiting)")
    page.reload()
    expect(page.locator("#phone")).to_contain_text("of 3 pages")
    assert page.evaluate("async () => Boolean((await navigator.serviceWorker.ready).waiting)"), "a tick is not sent yet"
    assert not LoadedRow.objects.exists() and "pages-2" not in page.evaluate("() => caches.keys()")

    monkeypatch.setattr(command_views, "command_apply", taken)
    page.evaluate("() => dispatchEvent(new Event('online'))")
    settled(page)
    soon(page, [1])
    # Nothing is loaded anew: it comes in once the tick is sent, and the open pages are saved under its own name.
    until(page, "async () => !(await navigator.serviceWorker.ready).waiting")
    until(page, "async () => !(await caches.keys()).includes('pages-1')")
    until(page, "async () => (await (await caches.open('pages-2')).keys()).length === 3")
    context.set_offline(True)
    page.reload()
    expect(page.get_by_role("button", name="Row 2 is in")).to_be_visible()
    assert rows() == [1]
