"""A picture framed on a phone: cut by a finger, levelled, seen as balloons, handed on."""

import pytest
from playwright.sync_api import expect

from jobs.designs.models import PanelDraft
from jobs.designs.pictures.recipe import Recipe
from tests.browser.conftest import swapped
from tests.browser.editing import address, opened
from tests.browser.test_every_page import faults, overflow
from tests.jobs.designs.conftest import event, latex, panel_piece, sheets, stocked
from tests.jobs.designs.pictures.conftest import panel, recipe, store

__all__ = ["event", "latex", "opened", "panel", "panel_piece", "recipe", "sheets", "stocked", "store"]

pytestmark = pytest.mark.django_db(transaction=True)


def finger(page, name: str, across: float, down: float) -> None:
    """Drags a grip with one finger by so many pixels; Playwright itself only taps."""
    box = page.locator(f"[data-grip='{name}'] .knob").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    send = page.context.new_cdp_session(page).send
    send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
    for part in (0.3, 0.7, 1.0):
        point = {"x": x + across * part, "y": y + down * part}
        send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [point]})
    send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def looked(page):
    return swapped(page, lambda answer: "/frame/look/" in answer.url and answer.status == 200)


def test_cut_by_a_finger_levelled_by_keys_and_handed_on(opened, panel):
    page = opened()
    page.goto(address(panel.piece, "frame/"))
    wide = page.locator("#stage").bounding_box()["width"]
    with looked(page):
        finger(page, "right", -wide / 4, 0)
    assert float(page.input_value("#id_cut_right")) == pytest.approx(25, abs=2)
    with looked(page):
        page.locator("[data-grip='top']").press("Shift+ArrowDown")
    assert page.input_value("#id_cut_top") == "5"
    with looked(page):
        finger(page, "all", 400, 0)  # as far as the picture goes
    assert page.input_value("#id_cut_right") == "0"
    assert float(page.input_value("#id_cut_left")) == pytest.approx(25, abs=2)
    with looked(page):
        page.locator("#id_level").press("ArrowRight")
    assert "rotate(0.5 " in page.locator("#stage-picture").get_attribute("transform")
    expect(page.locator("#versions input").first).to_have_value("4")
    assert not faults(page) and not overflow(page)
    page.get_by_role("button", name="Go on to the colours").tap()
    page.wait_for_url("**/colours/")
    frame = Recipe.from_plain(PanelDraft.objects.get().recipe).frame
    assert (frame.right, frame.top, frame.level_deg) == (1.0, 0.05, 0.5)
    assert frame.left == pytest.approx(0.25, abs=0.02)


def test_without_script_it_is_framed_by_numbers(opened, panel):
    page = opened(java_script_enabled=False)
    page.goto(address(panel.piece, "frame/"))
    page.locator("#numbers summary").tap()
    page.fill("#id_cut_left", "30")
    page.get_by_role("button", name="Turn a quarter").tap()
    expect(page.locator("#id_cut_top")).to_have_value("30")
    page.get_by_role("button", name="Go on to the colours").tap()
    page.wait_for_url("**/colours/")
    frame = Recipe.from_plain(PanelDraft.objects.get().recipe).frame
    assert (frame.left, frame.turn) == (0.3, 90)
