"""Loading at the table on a phone, with and without a signal: what was ticked is there exactly once."""

from contextlib import suppress

import numpy as np
import pytest
from playwright.sync_api import TimeoutError as PlaywrightTimeout
from playwright.sync_api import expect

from decor.studio.models import AppliedCommand
from jobs.designs.models import LoadedRow, Panel
from tests.browser.conftest import PHONE, every_second_answer_lost
from tests.browser.test_every_page import faults, overflow
from tests.conftest import signed_in
from tests.jobs.designs.conftest import event, latex, panel_piece, sheets
from tests.jobs.designs.table.conftest import shift, table_address

__all__ = ["event", "latex", "panel_piece", "sheets", "shift"]

pytestmark = pytest.mark.django_db(transaction=True)

ROWS = 24


@pytest.fixture
def panel(panel_piece, sheets, latex) -> Panel:
    net = sheets["large"]
    net.rows, net.columns = ROWS, 5
    net.save()
    cells = np.indices((ROWS, 10)).sum(axis=0) // 3 % 2
    palette = [latex["sky"].pk, latex["red"].pk]
    return Panel.objects.create(
        piece=panel_piece, sheet=net, rows=ROWS, columns=10, palette=palette, cells=cells.astype("<i2").tobytes()
    )


@pytest.fixture
def phone(chromium, live_server):
    """A signed-in person's browser, by their user."""
    contexts, complaints = [], []

    def make(user, **more):
        context = chromium.new_context(base_url=live_server.url, **PHONE, **more)
        cookie = signed_in(user).cookies["sessionid"].value
        context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
        context.on("weberror", lambda error: complaints.append(str(error.error)))
        contexts.append(context)
        return context

    yield make
    for context in contexts:
        context.close()
    assert not complaints


def tick(page, first: int, last: int) -> None:
    for row in range(first, last + 1):
        page.get_by_role("button", name=f"Row {row} is in").tap()
        page.wait_for_timeout(310)  # a finger that bounces counts once


def settled(page) -> None:
    """Patient: twenty ticks go one after the other, and the machine may be busy."""
    expect(page.locator("#signal")).to_have_text("All ticks are in", timeout=30_000)


def rows() -> list[int]:
    return sorted(LoadedRow.objects.values_list("row", flat=True))


def soon(page, expected: list[int]) -> None:
    """The database has these rows within seconds: a tick is shown before it is sent."""
    for _ in range(40):
        if rows() == expected:
            break
        page.wait_for_timeout(100)
    assert rows() == expected


def test_twenty_ticks_without_a_signal_and_a_killed_page_are_twenty(phone, crew_user, shift, panel):
    context = phone(crew_user)
    page = context.new_page()
    page.goto(table_address(panel.piece, "1/"))
    expect(page.locator("#phone")).to_contain_text("3 of 3 pages")
    assert not faults(page) and not overflow(page)
    settled(page)
    context.set_offline(True)
    tick(page, 1, 10)
    expect(page.locator("#signal")).to_contain_text("No signal, 10 ticks wait")
    # The page is loaded again without a signal, from what the phone keeps.
    page.reload()
    expect(page.get_by_role("button", name="Row 11 is in")).to_be_visible()
    tick(page, 11, 20)
    expect(page.locator("#signal")).to_contain_text("20 ticks wait")
    assert rows() == []
    page.close()
    context.set_offline(False)
    page = context.new_page()
    page.goto(table_address(panel.piece))
    settled(page)
    soon(page, list(range(1, 21)))
    assert LoadedRow.objects.filter(by=crew_user, seconds__isnull=False).count() == 19
    # What the kept page says is older than what was ticked since: it must not start again at row 1.
    page.goto(table_address(panel.piece, "1/"))
    expect(page.get_by_role("button", name="Row 21 is in")).to_be_visible()


def test_every_second_answer_lost_makes_no_doubles(phone, crew_user, shift, panel):
    context = phone(crew_user, service_workers="block")
    page = context.new_page()
    lost = every_second_answer_lost(context)
    page.goto(table_address(panel.piece, "1/"))
    tick(page, 1, 6)
    page.get_by_role("button", name="Back one row").tap()
    expect(page.get_by_role("button", name="Row 6 is in")).to_be_visible()
    for _ in range(20):
        if "All ticks" in page.locator("#signal").inner_text():
            break
        with suppress(PlaywrightTimeout):  # all may go in under the finger
            page.get_by_role("button", name="Send now").tap(timeout=1_000)
    settled(page)
    assert sum(lost) >= 5, "otherwise nothing was lost and this proves nothing"
    soon(page, [1, 2, 3, 4, 5])
    assert AppliedCommand.objects.count() == 7


def test_two_tabs_have_one_flusher(phone, crew_user, shift, panel):
    context = phone(crew_user, service_workers="block")
    sent = []
    context.on("request", lambda asked: sent.append(asked.post_data_json["op_id"]) if is_command(asked) else None)
    one, two = context.new_page(), context.new_page()
    for page in (one, two):
        page.goto(table_address(panel.piece, "1/"))
        settled(page)
    context.set_offline(True)
    one.bring_to_front()
    tick(one, 1, 2)
    two.bring_to_front()
    tick(two, 3, 4)
    expect(two.locator("#signal")).to_contain_text("4 ticks wait")
    sent.clear()
    context.set_offline(False)
    for page in (one, two):
        page.evaluate("() => dispatchEvent(new Event('online'))")
    for page in (one, two):
        settled(page)
    assert rows() == [1, 2, 3, 4]
    assert len(sent) == len(set(sent)) == 4


def is_command(asked) -> bool:
    return asked.method == "POST" and asked.url.endswith("/commands/")


def test_a_wrong_tap_is_taken_back_also_after_several(phone, crew_user, shift, panel):
    page = phone(crew_user, service_workers="block").new_page()
    page.goto(table_address(panel.piece, "1/"))
    tick(page, 1, 3)
    page.get_by_role("button", name="Row 4 is in").dblclick()  # a bounce
    expect(page.get_by_role("button", name="Row 5 is in")).to_be_visible()
    for row in (4, 3):
        page.wait_for_timeout(310)
        page.get_by_role("button", name="Back one row").tap()
        expect(page.get_by_role("button", name=f"Row {row} is in")).to_be_visible()
    soon(page, [1, 2])
    settled(page)
    page.reload()
    expect(page.get_by_role("button", name="Row 3 is in")).to_be_visible()


def test_two_loaders_see_each_other(phone, crew_user, planner, shift, panel):
    cory, pat = (phone(user, service_workers="block").new_page() for user in (crew_user, planner))
    cory.goto(table_address(panel.piece, "1/"))
    tick(cory, 1, 1)
    settled(cory)
    # Whoever opens a sheet says so by itself; leaving before that is said would take it back.
    with pat.expect_response(lambda answer: answer.request.method == "POST"):
        pat.goto(table_address(panel.piece, "1/"))
    expect(pat.locator("#together")).to_contain_text("Cory Sedge is at this sheet too")
    expect(pat.get_by_role("button", name="Row 2 is in")).to_be_visible()
    pat.goto(table_address(panel.piece))
    expect(pat.locator("#sheets nav a").first).to_contain_text("are at it")
    assert not faults(pat) and not overflow(pat)


def test_who_is_signed_out_keeps_the_work_and_is_told(phone, crew_user, shift, panel):
    context = phone(crew_user, service_workers="block")
    page = context.new_page()
    page.goto(table_address(panel.piece, "1/"))
    settled(page)
    crew_user.sign_ins.all().delete()
    tick(page, 1, 2)
    expect(page.locator("#signal")).to_contain_text("Sign in, your work is kept: 2 ticks wait")
    assert rows() == []


def test_signing_out_warns_of_what_is_not_sent_and_leaves_nothing(phone, crew_user, shift, panel):
    context = phone(crew_user, service_workers="block")
    page = context.new_page()
    page.goto(table_address(panel.piece, "1/"))
    settled(page)
    context.route("**/commands/", lambda route: route.abort())
    tick(page, 1, 1)
    expect(page.locator("#signal")).to_contain_text("1 tick waits")
    page.goto("/more/")
    page.get_by_role("button", name="Sign out").tap()
    expect(page.locator("#unsent")).to_contain_text("1 thing that you did is not sent yet")
    page.get_by_role("button", name="Sign out and lose it").tap()
    expect(page.get_by_role("heading", level=1)).to_have_text("Sign in")
    left = page.evaluate("async () => [(await indexedDB.databases()).length, localStorage.length]")
    assert left == [0, 0] and rows() == []


def test_signing_out_warns_of_what_was_not_taken(phone, crew_user, shift, panel):
    context = phone(crew_user, service_workers="block")
    page = context.new_page()
    page.goto(table_address(panel.piece, "1/"))
    settled(page)
    context.route("**/commands/", lambda route: refuse(route) if is_command(route.request) else route.continue_())
    tick(page, 1, 1)
    expect(page.locator("#parked")).to_contain_text("Row 1 was not taken")
    page.goto("/more/")
    page.get_by_role("button", name="Sign out").tap()
    expect(page.locator("#unsent")).to_contain_text("1 thing that you did is not taken by the studio")
    expect(page.locator("#unsent").get_by_role("button", name="Send now")).to_be_hidden()
    assert not faults(page) and not overflow(page)


BARE = """
  for (const name of ["locks", "serviceWorker", "wakeLock"]) delete Navigator.prototype[name];
  delete Crypto.prototype.randomUUID;
  Object.defineProperty(self, "isSecureContext", { value: false });
  Object.defineProperty(self, "indexedDB", { get: () => { throw new Error("kept from pages"); } });
"""
"""What a browser has over http, in a window that keeps nothing."""


def test_over_http_in_a_private_window_it_works_and_says_what_it_cannot(phone, crew_user, shift, panel):
    context = phone(crew_user, service_workers="block")
    context.add_init_script(BARE)
    page = context.new_page()
    page.goto(table_address(panel.piece, "1/"))
    tick(page, 1, 2)
    soon(page, [1, 2])
    settled(page)
    for words in ("screen cannot be kept on", "pages cannot be kept", "what is not sent is lost with the page"):
        expect(page.locator("#phone")).to_contain_text(words)


def test_what_the_studio_does_not_take_is_shown_until_somebody_decides(phone, crew_user, shift, panel):
    page = phone(crew_user, service_workers="block").new_page()
    page.goto(table_address(panel.piece, "1/"))
    settled(page)
    page.context.route("**/commands/", lambda route: refuse(route) if is_command(route.request) else route.continue_())
    tick(page, 1, 1)
    expect(page.locator("#parked")).to_contain_text("Row 1 was not taken: No such row.")
    expect(page.get_by_role("button", name="Row 1 is in")).to_be_visible()
    page.context.unroute("**/commands/")
    page.reload()
    expect(page.locator("#parked")).to_contain_text("Row 1 was not taken")
    page.get_by_role("button", name="Try again").tap()
    soon(page, [1])
    expect(page.locator("#parked")).to_be_empty()


def refuse(route) -> None:
    route.fulfill(status=422, json={"status": 422, "answer": {"message": "No such row."}})
