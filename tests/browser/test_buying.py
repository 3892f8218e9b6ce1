"""From what is short to an order that came, on a phone and at the desk; and all of it without script."""

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from inventory.ledger import on_hand
from inventory.models import Item, Latex, Lot, Order
from inventory.ordering import order_send, orders_draft
from tests.browser.conftest import DESK, PHONE
from tests.browser.editing import opened
from tests.browser.test_every_page import SMALL_TARGETS, faults, overflow
from tests.inventory.conftest import pole, red, sky
from tests.inventory.test_buying import promised, short_sky
from tests.inventory.test_gaps import latex

__all__ = ["opened", "pole", "red", "short_sky", "sky"]

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def right(page) -> None:
    assert not faults(page), faults(page)
    assert not overflow(page) and not page.evaluate(SMALL_TARGETS, page.url)


def test_names_of_one_long_word_make_no_page_wider_than_the_phone(opened, short_sky, red):
    # The one act of such a page lay outside the screen. With two colours before it, the long one stands at the edge.
    latex("amber", "#ffbf00")
    long = "Weatherproofgroundanchorforlargeoutdoorarchesandcolumnsxxxxl"
    Item.objects.filter(pk=short_sky.pk).update(name=long, supplier=long[:40] * 2, bin=long[:20])
    page = opened(PHONE)
    wide = []

    def look(path: str) -> None:
        page.goto(path)
        page.evaluate("() => document.querySelectorAll('details').forEach(one => (one.open = true))")
        if overflow(page):
            wide.append(path)

    Latex.objects.filter(pk=short_sky.pk).update(colour=long[:30].lower())
    for path in ("/ask/", "/stock/new/latex/"):
        look(path)
    for path in ("", f"{short_sky.pk}/", f"{short_sky.pk}/order/", "buy/", "needs/", "work/", "count/", "bins/"):
        look(f"/stock/{path}")
    page.goto(f"/stock/{short_sky.pk}/order/")
    page.get_by_label("How many packs").fill("3")
    page.get_by_role("button", name="Put it into").click()
    expect(page.locator(".outcome")).to_contain_text("in draft order")
    if overflow(page):
        wide.append("the draft, with what was done")
    order = Order.objects.get()
    look(f"/stock/orders/{order.pk}/send/")
    order_send(order=order, due_on=timezone.localdate() + timedelta(days=6))
    look(f"/stock/orders/{order.pk}/received/")
    assert wide == []


def on(days: int) -> str:
    return f"{timezone.localdate() + timedelta(days=days):%Y-%m-%d}"


@pytest.mark.parametrize(
    ("options", "more"),
    [
        (PHONE, {"color_scheme": "light"}),
        (PHONE, {"color_scheme": "dark"}),
        (DESK, {}),
        (PHONE, {"java_script_enabled": False}),
    ],
    ids=["phone", "dark", "desk", "without script"],
)
def test_bought_sent_put_off_and_received_in_two_parts(opened, short_sky, red, options, more):
    Item.objects.filter(pk=red.pk).update(reorder_level=60)
    script = more.get("java_script_enabled", True)
    page = opened(options, **more)
    page.goto("/stock/needs/")
    expect(page.get_by_text("5 in sky: 250 short")).to_be_visible()
    if script:
        right(page)
    page.get_by_role("link", name="See what to buy").first.click()
    expect(page.get_by_text("250 short")).to_be_visible()
    if script:
        right(page)
    page.get_by_role("checkbox", name="11 in red").uncheck()
    page.get_by_label("packs of 100 of 5 in sky").fill("none")
    page.get_by_role("button", name="Write the orders").click()
    expect(page.get_by_text("Say how many, in whole figures.").first).to_be_visible()
    expect(page.get_by_role("checkbox", name="11 in red")).not_to_be_checked()
    if script:
        right(page)
    page.get_by_label("packs of 100 of 5 in sky").fill("3")
    page.get_by_role("button", name="Write the orders").click()
    expect(page.get_by_role("heading", name="Estuary Latex", level=1)).to_be_visible()
    page.get_by_label("What, new line 1").fill("11 in red")
    page.get_by_label("Packs, new line 1").fill("2")
    if script:
        right(page)
    page.get_by_role("button", name="Send it").click()
    page.get_by_label("Day it should come").fill(on(6))
    if script:
        right(page)
    page.get_by_role("button", name="It is sent").click()
    expect(page.get_by_text("400 pieces are expected on")).to_be_visible()
    if script:
        right(page)
    page.get_by_role("link", name="It is here").click()
    page.get_by_role("group", name="5 in sky").get_by_label("How many came").fill("200")
    page.get_by_role("group", name="5 in sky").get_by_label("Maker's batch").fill("K 7")
    page.get_by_role("button", name="Put it in the store").click()
    expect(page.get_by_text("Not all of it came. When should the rest come?").first).to_be_visible()
    expect(page.get_by_role("group", name="5 in sky").get_by_label("Maker's batch")).to_have_value("K 7")
    if script:
        right(page)
    page.get_by_label("Day the rest should come").fill(on(8))
    page.get_by_role("button", name="Put it in the store").click()
    expect(page.get_by_text("100 are still to come").first).to_be_visible()
    expect(page.get_by_text("All that is promised to Choir jubilee is here now.")).to_be_visible()
    page.get_by_role("link", name="It is here").click()
    page.get_by_role("button", name="Put it in the store").click()
    expect(page.get_by_text("All that is promised to Regatta supper is here now.")).to_be_visible()
    assert on_hand([short_sky.pk, red.pk]) == {short_sky.pk: 500, red.pk: 100}
    assert Order.objects.get().state == "done" and Lot.objects.filter(batch="K 7").count() == 1
    page.goto(f"/stock/{short_sky.pk}/")
    expect(page.get_by_text("batch K 7")).to_be_visible()
    if script:
        right(page)


def test_a_second_tap_receives_once(opened, short_sky):
    order = order_send(order=orders_draft(packs={short_sky.pk: 3})[0], due_on=timezone.localdate())
    page = opened(PHONE)
    page.goto(f"/stock/orders/{order.pk}/received/")
    page.get_by_role("button", name="Put it in the store").dblclick()
    expect(page.get_by_text("300 pieces came; nothing more is expected.")).to_be_visible()
    assert on_hand([short_sky.pk]) == {short_sky.pk: 500}


def test_cancelling_names_who_counted_on_it(opened, sky):
    order = order_send(order=orders_draft(packs={sky.pk: 3})[0], due_on=timezone.localdate())
    promised(sky, 250, in_days=7, label="Harbour fair")
    page = opened(PHONE)
    page.goto(f"/stock/orders/{order.pk}/")
    page.get_by_role("link", name="Cancel the order").click()
    right(page)
    page.get_by_role("button", name="Cancel it").click()
    expect(page.get_by_text("This would leave a promise short")).to_be_visible()
    expect(page.get_by_text("Harbour fair")).to_be_visible()
    right(page)
    page.get_by_label("It is so all the same").check()
    page.get_by_role("button", name="Cancel it").click()
    expect(page.get_by_text("is cancelled. Nothing of it is expected any more.")).to_be_visible()
