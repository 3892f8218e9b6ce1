"""What the tests of the chart editor do with their fingers, and the pages that they open."""

import numpy as np
import pytest
from playwright.sync_api import expect

from jobs.designs.charting import cells_array
from jobs.designs.models import Panel
from tests.browser.conftest import PHONE
from tests.conftest import signed_in


@pytest.fixture
def opened(chromium, live_server, planner):
    """Pages signed in as the planner; what a page complains of fails the test."""
    contexts, complaints = [], []
    cookie = signed_in(planner).cookies["sessionid"].value

    def make(options=PHONE, **more):
        context = chromium.new_context(base_url=live_server.url, **options, **more)
        context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("console", lambda said: complaints.append(said.text) if "Content Security" in said.text else None)
        return page

    yield make
    for context in contexts:
        context.close()
    assert not complaints


@pytest.fixture
def panel(panel_piece, sheets, stocked) -> Panel:
    """26 wide, 22 high, all sky."""
    cells = b"\0\0" * (26 * 22)
    palette = [stocked["sky"].pk, stocked["red"].pk]
    return Panel.objects.create(
        piece=panel_piece, sheet=sheets["large"], rows=22, columns=26, palette=palette, cells=cells
    )


def cells(panel: Panel) -> np.ndarray:
    panel.refresh_from_db()
    return cells_array(panel)


def colour(page, name: str) -> None:
    page.locator("label.paint", has_text=name).first.locator("input").check(force=True)


def spot(page, x: float, y: float) -> tuple[float, float]:
    """A place on the chart, as a share of its width and height."""
    box = page.locator("#chart").bounding_box()
    return box["x"] + box["width"] * x, box["y"] + box["height"] * y


def nearer(page) -> None:
    page.locator("#chart").scroll_into_view_if_needed()
    page.touchscreen.tap(*spot(page, 0.5, 0.5))
    expect(page.locator("#chart")).to_have_class("near")


def saved(page) -> None:
    expect(page.locator("#saved")).to_contain_text("Saved")


def stored(page, is_so) -> None:
    """Soon it is so: what a finger did is drawn, counted and sent one after the other."""
    for _ in range(150):
        if is_so():
            return
        page.wait_for_timeout(100)
    assert is_so()


def said(page):
    return page.locator("#chart-cell")


def drag(page, *places: tuple[float, float]) -> None:
    """One finger over the chart; Playwright itself only taps."""
    send = page.context.new_cdp_session(page).send
    first, *rest = [spot(page, *place) for place in places]
    touch = lambda at: [{"x": at[0], "y": at[1], "id": 1}]  # noqa: E731
    send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": touch(first)})
    for at in rest:
        send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": touch(at)})
    send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def address(piece, tail: str = "") -> str:
    return f"/events/{piece.event_id}/pieces/{piece.pk}/{tail}"


def count(page, number: int) -> str:
    return page.locator(f"[data-count='{number}']").inner_text().strip()
