"""A list checked on a phone while the caller waits: typed, answered, something else tried; and without script."""

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from tests.browser.conftest import DESK, PHONE
from tests.browser.editing import opened
from tests.browser.test_every_page import SMALL_TARGETS, faults, overflow
from tests.inventory.conftest import on_shelf, pole, sky
from tests.inventory.test_gaps import hold, latex

__all__ = ["opened", "pole", "sky"]

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def store(sky, pole):
    on_shelf(sky, 489)
    on_shelf(pole, 6)
    on_shelf(latex("pale blue", "#86b9dc"), 300)
    hold(timezone.now(), [(sky.pk, 200), (pole.pk, 5)], 19, 23)


def on(days: int) -> str:
    return f"{timezone.localdate() + timedelta(days=days):%Y-%m-%d}"


def typed(page, *rows) -> None:
    page.goto("/stock/")
    page.get_by_role("link", name="Check a list before saying yes").click()
    page.get_by_label("From").fill(on(20))
    page.get_by_label("Until").fill(on(21))
    for number, (name, count) in enumerate(rows, 1):
        page.get_by_label(f"What, line {number}").fill(name)
        page.get_by_label(f"How many, line {number}").fill(str(count))
    page.get_by_role("button", name="Check it").click()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("options", [PHONE, DESK], ids=["phone", "desk"])
def test_short_then_something_else_then_free(opened, store, options, scheme):
    page = opened(options, color_scheme=scheme)
    typed(page, ("5 in sky", 525), ("Pole, 2 m", 2))
    expect(page.get_by_text("2 things are short.")).to_be_visible()
    expect(page.locator(f"#gap-{page_id(page, '5 in sky')} .beside svg").first).to_be_visible()
    assert not faults(page) and not overflow(page) and not page.evaluate(SMALL_TARGETS, "check")
    kept = page.url
    page.get_by_role("link", name="Check with it").first.click()
    expect(page.get_by_text("1 thing is short.")).to_be_visible()
    expect(page.get_by_text("236 asked, 300 free")).to_be_visible()
    page.goto(kept)
    expect(page.get_by_text("525 asked, 289 free")).to_be_visible()
    page.get_by_role("link", name="Order 3 packs of 5 in sky").click()
    # In packs, for they go into the supplier's order.
    expect(page.get_by_label("How many packs")).to_have_value("3")


def page_id(page, name: str) -> int:
    return int(page.get_by_role("link", name=name, exact=True).first.get_attribute("href").strip("/").split("/")[-1])


def test_without_script(opened, store):
    page = opened(java_script_enabled=False)
    typed(page, ("5 in skye", 525))
    expect(page.get_by_text("There is no “5 in skye” in stock.").first).to_be_visible()
    page.get_by_label("What, line 1").fill("5 in sky")
    page.get_by_role("button", name="More lines").click()
    expect(page.get_by_label("How many, line 1")).to_have_value("525")
    expect(page.get_by_label("What, line 4")).to_be_visible()
    page.get_by_role("button", name="Check it").click()
    expect(page.get_by_text("525 asked, 289 free")).to_be_visible()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_free_between_on_the_items_page(opened, store, pole, scheme):
    page = opened(color_scheme=scheme)
    page.goto(f"/stock/{pole.pk}/?weeks=26")
    page.get_by_label("From", exact=True).fill(on(18))
    page.get_by_label("Until", exact=True).fill(on(24))
    page.get_by_role("button", name="How many are free?").click()
    expect(page.get_by_text("Yes: 1 free")).to_be_visible()
    expect(page.get_by_role("heading", name="The coming 26 weeks")).to_be_visible()
    assert not faults(page) and not overflow(page)
    page.goto(f"/stock/?first={on(20)}&last={on(20)}&short=1")
    expect(page.get_by_text("Nothing of this is short.")).to_be_visible()
    assert not faults(page) and not overflow(page)
