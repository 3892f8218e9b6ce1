"""A list brought in and a colour read from a photo, on a phone, with the worker behind it."""

import re

from playwright.sync_api import expect

from tests.browser.test_every_page import faults, overflow
from tests.walk import card_photo


def choose(page, data: bytes, name: str, mime: str) -> None:
    page.locator("input[type=file]").set_input_files({"name": name, "mimeType": mime, "buffer": data})


def looked_at(page, words: str):
    page.goto("/stock/lists/")
    choose(page, words.encode(), "crates.csv", "text/csv")
    page.get_by_role("button", name="Look at the list").tap()


def sound(page) -> None:
    assert not overflow(page) and not faults(page)


def test_a_list_is_looked_at_taken_over_and_taken_back(desk):
    page = desk().sign_in("olive")
    page.goto("/stock/new/")
    page.get_by_role("link", name="Many at once: bring in a list").tap()
    expect(page.get_by_role("heading", name="Bring in a list")).to_be_visible()
    sound(page)
    looked_at(page, "Kind,Name,Pack price,On hand\nhardware,Reed crate,4,12\nhardware,Reed tray,-1,3\n")
    expect(page.get_by_text("1 row is in error.")).to_be_visible(timeout=30_000)
    expect(page.get_by_text("Pack price: This must be 0 or more.")).to_be_visible()
    sound(page)
    with page.expect_download() as download:
        page.get_by_role("link", name="The errors as CSV").tap()
    assert "Reed tray,Pack price" in download.value.path().read_text("utf-8-sig")
    looked_at(page, "Kind,Name,Pack price,On hand\nhardware,Reed crate,4,12\nhardware,Reed tray,1,3\n")
    expect(page.get_by_text("2 new. Nothing is in error.")).to_be_visible(timeout=30_000)
    page.get_by_role("button", name="Take these over").tap()
    expect(page.get_by_text("Taken over", exact=True)).to_be_visible(timeout=30_000)
    sound(page)
    address = page.url
    page.goto("/stock/?find=reed")
    expect(page.get_by_text("12 on hand")).to_be_visible()
    page.goto(address)
    page.get_by_role("button", name="Take it all back").tap()
    expect(page.get_by_text("Everything is as it was before.")).to_be_visible(timeout=30_000)
    page.goto("/stock/?find=reed")
    expect(page.get_by_text("Nothing matches “reed”.")).to_be_visible()


def test_headings_that_are_not_known_are_said_by_hand(desk):
    page = desk(dark=True).sign_in("olive")
    looked_at(page, "Art;Bezeichnung;Pack price\nhardware;Reed box;4,20\n")
    expect(page.get_by_role("heading", name="What are its columns?")).to_be_visible()
    sound(page)
    page.get_by_label("Art").select_option(label="Kind")
    page.get_by_label("Bezeichnung").select_option(label="Name")
    page.get_by_role("button", name="Look at the rows").tap()
    expect(page.get_by_text("1 new. Nothing is in error.")).to_be_visible(timeout=30_000)
    sound(page)


def test_a_colour_from_a_photo(desk):
    page = desk().sign_in("olive")
    page.goto("/stock/?kind=latex")
    page.locator("#lines a").first.tap()
    page.get_by_role("link", name="Read its colour from a photo").tap()
    expect(page.get_by_role("heading", name="Colour from a photo")).to_be_visible()
    sound(page)
    choose(page, card_photo((122, 62, 147)), "purple.jpg", "image/jpeg")
    page.get_by_role("button", name="Read the colour").tap()
    expect(page.get_by_text("Read well")).to_be_visible()
    first = re.search(r"#[0-9a-f]{6}", page.locator("main").inner_text())[0]
    sound(page)
    photo = page.locator("#photo")
    photo.scroll_into_view_if_needed()
    box = photo.bounding_box()
    photo.tap(position={"x": box["width"] * 0.25, "y": box["height"] * 0.5})
    page.wait_for_url("**which=balloon")
    expect(page.get_by_text("Plainly another colour.").or_(page.get_by_text("Another shade."))).to_be_visible()
    second = re.search(r"#[0-9a-f]{6}", page.locator("main").inner_text())[0]
    assert second != first and int(second[1:3], 16) > 240  # the card itself
    photo = page.locator("#photo")
    photo.tap(position={"x": box["width"] * 0.75, "y": box["height"] * 0.5})
    expect(page.get_by_text(first)).to_be_visible()
    page.get_by_role("button", name="Use this colour").tap()
    expect(page.get_by_text("has the colour of the photo now.")).to_be_visible()


def test_a_colour_from_a_photo_without_a_script(desk, chromium, served):
    context = chromium.new_context(
        base_url=served.address, java_script_enabled=False, viewport={"width": 320, "height": 640}
    )
    page = context.new_page()
    page.goto("/sign-in/")
    page.get_by_label("Sign-in name").fill("olive")
    page.get_by_label("Password").fill(served.passphrase)
    page.get_by_role("button", name="Sign in").click()
    page.goto("/stock/?kind=latex")
    page.goto(page.locator("#lines a").first.get_attribute("href") + "photo/")
    choose(page, card_photo((122, 62, 147)), "purple.jpg", "image/jpeg")
    page.get_by_role("button", name="Read the colour").click()
    photo = page.locator("#photo")
    box = photo.bounding_box()
    assert box["width"] == 256
    photo.click(position={"x": 64, "y": box["height"] / 2})
    page.wait_for_url("**which=balloon")
    shown = re.search(r"#[0-9a-f]{6}", page.locator("main").inner_text())[0]
    assert int(shown[1:3], 16) > 240 and int(shown[5:], 16) > 240  # the card itself is white
    context.close()
