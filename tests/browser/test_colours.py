"""A panel's colours on a phone: chosen, marked by finger and by keys, taken over."""

import numpy as np
import pytest
from playwright.sync_api import Page, expect

from jobs.designs.models import Panel, PanelDraft
from jobs.designs.pictures.recipe import text_bits
from tests.browser.conftest import DESK, swapped
from tests.browser.editing import opened
from tests.browser.test_every_page import faults, overflow
from tests.jobs.designs.conftest import event, latex, panel_piece, sheets, stocked
from tests.jobs.designs.pictures.conftest import panel, recipe, store

__all__ = ["event", "latex", "opened", "panel", "panel_piece", "recipe", "sheets", "stocked", "store"]

pytestmark = pytest.mark.django_db(transaction=True)


def open_colours(page: Page, panel: Panel) -> None:
    page.goto(f"/events/{panel.piece.event_id}/pieces/{panel.piece_id}/colours/")
    expect(page.get_by_text("four jobs in five")).to_be_visible()


def marked(page: Page) -> np.ndarray:
    return text_bits(page.locator("#id_focus_cells").input_value(), 22 * 26).reshape(22, 26)


def looked(page: Page):
    return swapped(page, lambda answer: answer.url.endswith("/colours/look/"))


def test_colours_are_tried_and_taken_over_by_touch(opened, panel, stocked):
    page = opened()
    open_colours(page, panel)
    assert not faults(page) and not overflow(page)
    with looked(page):
        page.get_by_role("checkbox", name="sky").first.uncheck()
    expect(page.locator("#stands")).not_to_contain_text("sky")
    assert stocked["sky"].pk in PanelDraft.objects.get().recipe["must_not"]
    assert Panel.objects.get().version == panel.version

    with looked(page) as answer:
        page.locator("#ticking").get_by_role("button", name="Tick none").tap()
    assert answer.value.status == 422
    expect(page.locator("#id_may_wrong")).to_contain_text("Tick at least one colour.")
    with looked(page):
        page.locator("#ticking").get_by_role("button", name="Tick all").tap()
    expect(page.locator("#id_may_wrong")).to_be_empty()

    page.get_by_role("button", name="Use this chart").tap()
    expect(page.get_by_text("The chart is in use.")).to_be_visible()
    assert Panel.objects.get().version == panel.version + 1
    page.get_by_role("button", name="Put the earlier chart back").tap()
    expect(page.get_by_text("The earlier chart is back")).to_be_visible()


def test_marking_while_there_is_no_picture_fails_nothing(opened, panel):
    """What the page complains of fails the test."""
    page = opened()
    open_colours(page, panel)
    with looked(page):
        page.locator("#ticking").get_by_role("button", name="Tick none").tap()
    with looked(page):
        page.locator("#id_focus").select_option("painted")
    with looked(page):
        page.locator("#ticking").get_by_role("button", name="Tick all").tap()
    expect(page.locator("#marks")).to_have_class("marking")


def test_what_counts_is_marked_by_finger_and_by_keys(opened, panel):
    page = opened()
    open_colours(page, panel)
    with looked(page):
        page.get_by_label("What keeps its colours", exact=True).select_option("painted")
    marks = page.locator("#marks")
    marks.scroll_into_view_if_needed()
    box = marks.bounding_box()
    with looked(page):
        page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    touched = np.argwhere(marked(page))
    middle = touched.mean(axis=0)
    assert len(touched) and abs(middle[0] - 10.5) <= 1 and abs(middle[1] - 12.75) <= 1.5
    assert PanelDraft.objects.get().recipe["focus"]["act"] == "painted"
    expect(page.locator("#stands")).to_be_visible()
    assert not faults(page)

    # A keyboard reaches every cell: from the spot up one row, and marks it.
    before = marked(page).sum()
    page.locator("#marks").focus()
    for _ in range(4):
        page.keyboard.press("ArrowUp")
    with looked(page):
        page.keyboard.press(" ")
        expect(page.locator("#mark-cell")).to_contain_text("marked")
    assert marked(page).sum() == before + 1


def test_without_script_the_page_still_works(opened, panel):
    page = opened(DESK, java_script_enabled=False)
    page.goto(f"/events/{panel.piece.event_id}/pieces/{panel.piece_id}/colours/")
    page.get_by_label("At most so many colours").fill("0")
    page.get_by_role("button", name="Look at it").click()
    expect(page.get_by_role("alert")).to_contain_text("At least one colour is needed.")
    page.get_by_label("At most so many colours").fill("")
    page.get_by_role("button", name="Use this chart").click()
    expect(page.get_by_text("The chart is in use.")).to_be_visible()
