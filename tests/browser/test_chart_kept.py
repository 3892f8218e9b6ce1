"""Nothing painted is lost: without a signal, over a reload, between two editors, under a chart that was made anew."""

import re

import pytest
from playwright.sync_api import expect

from jobs.designs.models import Panel
from tests.browser.conftest import DESK
from tests.browser.editing import address, cells, colour, nearer, opened, panel, saved, spot, stored
from tests.browser.test_every_page import faults, overflow
from tests.jobs.designs.conftest import event, latex, panel_piece, sheets, stocked

__all__ = ["event", "latex", "opened", "panel", "panel_piece", "sheets", "stocked"]

pytestmark = pytest.mark.django_db(transaction=True)


def test_without_a_signal_and_over_a_reload_nothing_is_lost(opened, panel):
    page = opened()
    page.goto(address(panel.piece, "chart/"))
    page.route("**/commands/", lambda route: route.abort())
    colour(page, "red")
    nearer(page)
    for step in range(6):
        page.touchscreen.tap(*spot(page, 0.2 + 0.12 * step, 0.5))
    expect(page.locator("#saved")).to_have_text("Kept on this phone")
    assert not cells(panel).any()
    page.reload()
    expect(page.locator("[data-count='1']")).to_have_text("6")
    nearer(page)
    colour(page, "red")
    page.touchscreen.tap(*spot(page, 0.3, 0.85))
    expect(page.locator("[data-count='1']")).to_have_text("7")
    page.unroute("**/commands/")
    page.evaluate("() => dispatchEvent(new Event('online'))")
    saved(page)
    stored(page, lambda: (cells(panel) == 1).sum() == 7 and panel.version == 8)


def disputed(mine, theirs, panel) -> None:
    """Two people paint the same three cells; mine come in second, and a fourth beside them."""
    for page in (mine, theirs):
        page.goto(address(panel.piece, "chart/"))
        page.locator("#chart").focus()
    mine.route("**/commands/", lambda route: route.abort())
    for page, keys in ((mine, "0"), (theirs, "2")):
        page.keyboard.press("ArrowRight")
        page.keyboard.press(keys)
        for _ in range(3):
            page.keyboard.press("Enter")
            page.keyboard.press("ArrowRight")
        saved(page) if page is theirs else None
    mine.keyboard.press("ArrowDown")
    mine.keyboard.press("Enter")
    stored(theirs, lambda: (cells(panel) == 1).sum() == 3)
    mine.unroute("**/commands/")
    mine.evaluate("() => dispatchEvent(new Event('online'))")
    notice = mine.locator("#chart-dispute")
    expect(notice).to_contain_text("painted 3 of the same cells. Theirs are shown, yours are kept.")


def test_two_editors_keep_both_versions_until_somebody_chooses(opened, panel, stocked):
    mine, theirs = opened(DESK), opened(DESK)
    disputed(mine, theirs, panel)
    notice = mine.locator("#chart-dispute")
    # The cell that nobody else touched is joined; what is shown is what the studio has.
    stored(mine, lambda: (cells(panel) == 1).sum() == 3 and (cells(panel) == -1).sum() == 1)
    expect(mine.locator("[data-count='1']")).to_have_text("3")
    mine.reload()
    expect(notice).to_contain_text("3 of the same cells")
    mine.get_by_role("button", name="Use mine").click()
    expect(notice).to_be_hidden()
    expect(mine.locator("[data-count='-1']")).to_have_text("4")
    saved(mine)
    stored(mine, lambda: (cells(panel) == -1).sum() == 4 and not (cells(panel) == 1).any())
    theirs.evaluate("() => document.dispatchEvent(new Event('visibilitychange'))")
    expect(theirs.locator("[data-count='-1']")).to_have_text("4")


def test_signing_out_warns_of_cells_that_nobody_has_chosen_between(opened, panel, stocked):
    mine, theirs = opened(), opened(DESK)
    disputed(mine, theirs, panel)
    mine.goto("/more/")
    mine.get_by_role("button", name="Sign out").tap()
    warning = mine.locator("#unsent")
    expect(warning).to_contain_text("3 cells that somebody else painted too wait for you to choose.")
    expect(warning.get_by_role("button", name="Send now")).to_be_hidden()
    expect(mine.get_by_role("button", name="Sign out and lose it")).to_be_visible()
    assert not faults(mine) and not overflow(mine)
    mine.get_by_role("link", name="Choose now").tap()
    mine.get_by_role("button", name="Use mine").tap()
    expect(mine.locator("#chart-dispute")).to_be_hidden()
    saved(mine)
    stored(mine, lambda: (cells(panel) == -1).sum() == 4)
    mine.goto("/more/")
    mine.get_by_role("button", name="Sign out").tap()
    expect(mine.get_by_role("heading", level=1)).to_have_text("Sign in")
    assert (cells(panel) == -1).sum() == 4


def test_a_chart_of_another_size_under_an_open_editor_is_said(opened, panel):
    page = opened()
    page.goto(address(panel.piece, "chart/"))
    colour(page, "red")
    nearer(page)
    Panel.objects.update(rows=11, cells=b"\0\0" * (26 * 11), version=2)
    page.touchscreen.tap(*spot(page, 0.5, 0.5))
    notice = page.locator("#chart-remade")
    expect(notice).to_contain_text("This panel has another size now.")
    page.touchscreen.tap(*spot(page, 0.7, 0.5))
    notice.get_by_role("button").tap()
    expect(page.locator(".chart-box canvas#chart")).to_have_attribute("aria-label", re.compile("26 wide, 11 high"))
    assert not cells(panel).any()
