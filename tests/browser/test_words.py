"""Words on a phone: they appear while they are typed, what has no letter is said, and the chart is taken over."""

import pytest
from playwright.sync_api import expect

from jobs.designs.models import Panel, PanelDraft
from tests.browser.editing import opened
from tests.browser.test_every_page import faults, overflow
from tests.jobs.designs.conftest import event, latex, panel_piece, sheets, stocked

__all__ = ["event", "latex", "opened", "panel_piece", "sheets", "stocked"]

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_words_are_typed_seen_and_used(opened, panel_piece, stocked):
    page = opened()
    page.goto(f"/events/{panel_piece.event_id}/pieces/{panel_piece.pk}/words/")
    expect(page.get_by_text("Write the words, and they appear here.")).to_be_visible()
    page.get_by_label("Words", exact=True).press_sequentially("Mia 18")
    # M 7, i 1, a 4, a word's space 4, 1 2, 8 4, a cell between letters, two cells around
    expect(page.get_by_role("img", name="Lighthouse: 29 wide, 11 high")).to_be_visible()
    assert page.locator("#seen").bounding_box()["y"] < page.locator("#id_text").bounding_box()["y"]
    assert not faults(page) and not overflow(page)

    page.get_by_label("Words", exact=True).press_sequentially("☃")
    expect(page.locator("#id_text_wrong")).to_have_text("There is no letter for ☃.")
    page.get_by_label("Words", exact=True).press("Backspace")
    expect(page.locator("#id_text_wrong")).to_be_empty()
    page.get_by_text("Letters:").tap()
    page.get_by_role("radio", name="red").first.check()
    expect(page.locator("#now_letter")).to_have_text("red")
    assert PanelDraft.objects.get().recipe["words"]["colours"]["letter"] == stocked["red"].pk

    page.get_by_role("button", name="Use this chart").tap()
    expect(page.get_by_text("The chart is in use.")).to_be_visible()
    assert Panel.objects.get().recipe["words"]["text"] == "Mia 18"
