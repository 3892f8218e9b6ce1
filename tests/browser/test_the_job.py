"""The whole job on a phone, from the first call to the crew's day: real picture, real date, real stock, the served
studio with its worker. Each step uses what a thumb would touch."""

import io
import re
from datetime import date, timedelta

import pytest
from PIL import Image, ImageDraw
from playwright.sync_api import Page, expect

WAIT_MS = 40_000


@pytest.fixture(scope="module")
def photograph(tmp_path_factory) -> str:
    """A phone's photograph: large, turned by its metadata, with a place in it."""
    image = Image.new("RGB", (2400, 3200))
    draw = ImageDraw.Draw(image)
    for y in range(3200):
        draw.line([(0, y), (2400, y)], (60 + y // 32, 110 + y // 40, 190))
    draw.ellipse((500, 900, 1900, 2300), "#c62f28")
    draw.ellipse((800, 1200, 1300, 1700), "#f4f1ea")
    exif = Image.Exif()
    exif[0x0112] = 6
    exif[0x8825] = {1: "N", 2: (53.0, 20.0, 0.0)}
    out = io.BytesIO()
    image.save(out, "JPEG", quality=90, exif=exif)
    path = tmp_path_factory.mktemp("picture") / "buoy.jpg"
    path.write_bytes(out.getvalue())
    return str(path)


def act(page: Page, name: str | re.Pattern) -> None:
    """The page's one filled button."""
    page.locator(".act").get_by_role("button", name=name).or_(page.locator(".act").get_by_role("link", name=name)).tap()


def book(page: Page, day: date) -> None:
    page.goto("/")
    act(page, "Book an event")
    screens = 0
    page.get_by_label("Name", exact=True).fill("Nora Quill")
    page.get_by_label(re.compile("^Telephone")).fill("01632 960 777")
    for heading in ("Where is it?", "When is it?", "What goes up?"):
        act(page, "Continue")
        screens += 1
        expect(page.get_by_role("heading", level=1)).to_have_text(heading)
        if heading == "Where is it?":
            page.get_by_label("Find a venue").fill("quay")
            page.get_by_role("button", name=re.compile("Quay Hall")).tap()
            # Back keeps what was entered, and Continue goes on from there.
            expect(page.get_by_role("heading", level=1)).to_have_text("When is it?")
            page.go_back()
            expect(page.get_by_text("Chosen")).to_be_visible()
            continue
        if heading == "When is it?":
            page.get_by_label("Day of the event").fill(day.isoformat())
            for label, at in (("Load-in", "12:00"), ("Doors", "18:00"), ("End", "23:00"), ("Strike", "23:30")):
                page.get_by_label(label, exact=True).fill(at)
    page.get_by_role("link", name="Picture panel").tap()
    page.get_by_label("Wide").fill("1.8")
    page.get_by_label("High").fill("2.4")
    page.get_by_label(re.compile("^Called")).fill("Buoy panel")
    page.get_by_role("button", name="Add it and another").tap()
    page.get_by_role("link", name="Column of clusters").tap()
    page.get_by_label("High", exact=True).fill("1.8")
    page.get_by_label("How many alike").fill("2")
    act(page, "Continue")
    screens += 2
    expect(page.get_by_role("heading", level=1)).to_have_text("Check and save")
    assert screens <= 5
    expect(page.locator(".verdict").first).to_contain_text("You can")
    page.get_by_label("What to call the event").fill("Quill birthday")


def test_from_the_first_call_to_the_crews_day(desk, photograph):
    day = date.today() + timedelta(days=23)
    planner = desk()
    page = planner.sign_in("pat")
    page.set_default_timeout(WAIT_MS)
    book(page, day)
    # A double tap makes one event.
    save = page.locator(".act").get_by_role("button", name="Save the event")
    save.evaluate("button => { button.click(); button.click(); }")
    expect(page.get_by_role("heading", level=1)).to_have_text("Quill birthday")
    address = page.url
    page.goto("/events/?q=Quill")
    expect(page.get_by_text("Quill birthday")).to_have_count(1)

    page.goto(address)
    page.get_by_role("link", name=re.compile("Buoy panel")).first.tap()
    act(page, re.compile("picture", re.I))
    page.get_by_label("Picture", exact=True).set_input_files(photograph)
    for colour in ("red", "white", "sky", "navy", "pale blue", "blue"):
        page.get_by_role("checkbox", name=re.compile(rf"^{colour}\b")).check()
    page.get_by_label("Never more of a colour than is free").check()
    act(page, "Show the chart")
    # Another event holds all the sky there is; the picture is not asked for again.
    expect(page.locator(".errors")).to_contain_text("No sky balloons are free")
    expect(page.get_by_text("buoy.jpg is kept")).to_be_visible()
    page.get_by_role("checkbox", name=re.compile(r"^sky\b")).uncheck()
    act(page, "Show the chart")
    drawing = page.locator("svg.balloons")
    expect(drawing).to_be_visible()
    rows, columns = (int(drawing.get_attribute(f"data-{name}")) for name in ("rows", "columns"))
    assert columns > rows, "the photograph lies on its side and its metadata says so: it must stand turned"
    page.get_by_role("link", name="Plain chart").tap()
    expect(page.locator("svg.plain")).to_be_visible()
    change_one_cell(page)

    page.goto(address)
    estimate(page)
    page.goto(address + "stock/")
    held = page.get_by_role("button", name=re.compile("^Hold"))
    held.first.tap()
    expect(page.locator(".verdict")).to_contain_text("until")

    link = prove(page, address)
    approve(desk, link)
    page.goto(address + "stock/")
    page.get_by_role("button", name="Confirm: the client said yes").tap()
    expect(page.locator(".verdict")).to_have_text("All of it is reserved.")
    page.goto(address)
    expect(page.locator("header")).to_contain_text("confirmed")
    put_on(page, address, day)

    number = int(address.rstrip("/").rsplit("/", 1)[1])
    crew_day(desk, number)


def change_one_cell(page: Page) -> None:
    """By touch: small cells come nearer with the first tap, and the next one paints."""
    page.get_by_role("link", name="Balloons", exact=True).tap()
    page.get_by_role("link", name=re.compile("^Cells")).tap()
    counts = page.locator(".paints").first
    before = counts.inner_text()
    page.locator(".paint", has_text="red").first.tap()
    chart = page.locator("#chart")
    chart.tap(position={"x": 60, "y": 60})
    expect(chart).to_have_class("near")
    # Three far apart, as one of them may be red already.
    for x in (60, 100, 140):
        chart.tap(position={"x": x, "y": 60})
    expect(page.locator("#saved")).to_contain_text("Saved")
    after = counts.inner_text()
    assert after != before
    page.reload()
    expect(counts).to_have_text(after, use_inner_text=True)


def estimate(page: Page) -> None:
    page.get_by_role("link", name=re.compile("^(Price|Estimate)")).first.tap()
    act(page, re.compile("Estimate"))
    expect(page.locator(".big").first).to_contain_text("€", timeout=WAIT_MS)
    expect(page.get_by_text("four jobs in five").first).to_be_visible()


def prove(page: Page, address: str) -> str:
    page.goto(address + "proof/new/")
    act(page, "Make version 1")
    page.get_by_label("Who gets the link").fill("Nora")
    act(page, "Make the link")
    return page.locator("input[readonly]").first.input_value()


def approve(desk, link: str) -> None:
    client = desk().page
    client.goto(link)
    expect(client.get_by_text("Buoy panel").first).to_be_visible()
    client.get_by_role("link", name="Approve this version").tap()
    client.get_by_label("Your name").fill("Nora Quill")
    client.get_by_role("button", name=re.compile("approve", re.I)).tap()
    expect(client.locator("main")).to_contain_text(re.compile("approved", re.I))
    dead = client.goto(link.rsplit("/", 2)[0] + "/" + "x" * 43 + "/")
    assert dead.status == 410
    expect(client.locator("main")).to_contain_text("01632 960 114")


def put_on(page: Page, address: str, day: date) -> None:
    number = address.rstrip("/").rsplit("/", 1)[1]
    for member, task in (("Olive Marsh", "lead"), ("Cory Sedge", "rig")):
        page.goto(f"/crew/event/{number}/add/")
        page.get_by_label("Who", exact=True).select_option(label=member)
        page.get_by_label("Task", exact=True).select_option(task)
        act(page, "Put on")
        expect(page.locator("main")).to_contain_text(member)
    # The same person a second time at the same hours is refused, and told before saving.
    page.goto(f"/crew/event/{number}/add/")
    page.get_by_label("Who", exact=True).select_option(label="Olive Marsh")
    page.get_by_label("Task", exact=True).select_option("lead")
    expect(page.locator("#check")).to_contain_text("nobody is in two places")


def crew_day(desk, number: int) -> None:
    phone = desk().sign_in("cory")
    expect(phone.locator("main")).to_contain_text("Quill birthday")
    phone.get_by_text("Quill birthday").first.tap()
    expect(phone.get_by_role("heading", level=1)).to_contain_text("Quill birthday")
    text = phone.locator("main").inner_text()
    for words in ("Cooper Lane", "01632 960 210", "Buoy panel", "Order of work", "Local codes"):
        assert words in text, words
    assert "€" not in text
    other = desk().sign_in("drew")
    assert other.goto(f"/day/{number}/").status == 404
