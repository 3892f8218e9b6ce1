"""A panel on a phone, from the picture file to one painted cell."""

import pytest
from playwright.sync_api import expect

from jobs.designs.charting import cells_array
from jobs.designs.models import Panel
from tests.browser.conftest import DESK, PHONE
from tests.browser.test_every_page import faults, overflow
from tests.conftest import signed_in
from tests.jobs.designs.conftest import encoded, event, latex, lighthouse, panel_piece, sheets, stocked

__all__ = ["event", "latex", "panel_piece", "sheets", "stocked"]

pytestmark = pytest.mark.django_db(transaction=True)


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


def address(piece, tail: str = "") -> str:
    return f"/events/{piece.event_id}/pieces/{piece.pk}/{tail}"


def count(page, colour: int) -> str:
    return page.locator(f"[data-count='{colour}']").inner_text().strip()


def test_from_a_picture_file_to_the_chart(opened, panel_piece, stocked, sheets, tmp_path):
    (tmp_path / "lighthouse.png").write_bytes(encoded(lighthouse()))
    page = opened()
    page.goto(address(panel_piece))
    page.get_by_role("link", name="Put in a picture").tap()
    page.get_by_label("Picture").set_input_files(tmp_path / "lighthouse.png")
    page.get_by_label("Sheet").select_option(label="Net 22 × 13, offset rows")
    with page.expect_response(lambda answer: "colours" in answer.url):
        page.get_by_label("Way to load").select_option("strung")
    page.wait_for_selector(f".swatches input[value='{stocked['sky double'].pk}']")
    page.get_by_label("Size in").select_option("cells")
    page.get_by_label("Wide").fill("26")
    for colour in ("white", "red", "navy", "sky", "black"):
        page.locator(".swatches label", has_text=colour).tap()
    page.get_by_role("button", name="Show the chart").tap()
    page.wait_for_selector("svg.balloons")
    assert page.locator("svg.balloons .cells use").count() == 26 * 22
    assert "26 wide, 22 high" in page.locator(".when").inner_text()
    assert not faults(page) and not overflow(page)
    page.get_by_role("link", name="Plain chart").tap()
    page.wait_for_selector("svg.plain")
    assert not faults(page) and not overflow(page)


def test_a_tap_on_small_cells_zooms_and_the_next_one_paints(opened, panel):
    page = opened()
    page.goto(address(panel.piece, "chart/"))
    page.locator("label.paint", has_text="red").tap()
    box = page.locator("#chart").bounding_box()
    assert box["width"] / 26 < 24, "small enough that a tap must zoom in"
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.touchscreen.tap(*middle)
    page.wait_for_timeout(100)
    assert count(page, 1) == "0"
    with page.expect_response(lambda answer: answer.url.endswith("/paint/")) as answer:
        page.touchscreen.tap(*middle)
    assert answer.value.status == 200
    expect(page.locator("[data-count='1']")).to_have_text("1")
    assert (count(page, 0), count(page, 1)) == ("571", "1")
    panel.refresh_from_db()
    assert cells_array(panel).sum() == 1 and cells_array(panel)[9:13, 11:15].sum() == 1
    with page.expect_response(lambda answer: answer.url.endswith("/paint/")):
        page.get_by_role("button", name="Undo").tap()
    panel.refresh_from_db()
    assert not cells_array(panel).any()
    assert not faults(page) and not overflow(page)


def test_quick_taps_are_all_kept(opened, panel):
    page = opened()
    page.goto(address(panel.piece, "chart/"))
    page.locator("label.paint", has_text="red").tap()
    box = page.locator("#chart").bounding_box()
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.touchscreen.tap(*middle)
    for step in range(8):
        page.touchscreen.tap(box["x"] + 30 + 40 * step, middle[1])
    expect(page.locator("[data-count='1']")).to_have_text("8")
    panel.refresh_from_db()
    assert cells_array(panel).sum() == 8


def test_by_keys_alone_at_the_desk(opened, panel):
    page = opened(DESK, color_scheme="dark")
    page.goto(address(panel.piece, "chart/"))
    page.locator("#chart").focus()
    for key in ("ArrowRight", "ArrowRight", "ArrowDown", "2"):
        page.keyboard.press(key)
    with page.expect_response(lambda answer: answer.url.endswith("/paint/")):
        page.keyboard.press("Enter")
    panel.refresh_from_db()
    assert cells_array(panel)[1, 1] == 1, "the first arrow shows where one stands, the next ones move"
    assert "Row 2, column 2: red" in page.locator("#chart-cell").inner_text()
    assert not faults(page)


def test_somebody_elses_cells_are_shown_and_ones_own_are_not_lost_in_silence(opened, panel):
    mine, theirs = opened(DESK), opened(DESK)
    for page in (mine, theirs):
        page.goto(address(panel.piece, "chart/"))
        page.locator("#chart").focus()
        for key in ("ArrowDown", "ArrowDown", "2"):
            page.keyboard.press(key)
    with theirs.expect_response(lambda answer: answer.status == 200 and "paint" in answer.url):
        theirs.keyboard.press("Enter")
    mine.keyboard.press("ArrowDown")
    with mine.expect_response(lambda answer: answer.status == 409):
        mine.keyboard.press("Enter")
    mine.wait_for_selector("#chart-problem:not([hidden])")
    assert "Somebody else changed this chart" in mine.locator("#chart-problem").inner_text()
    assert count(mine, 1) == "1"
    with mine.expect_response(lambda answer: answer.status == 200 and "paint" in answer.url):
        mine.keyboard.press("Enter")
    panel.refresh_from_db()
    assert cells_array(panel).sum() == 2


def test_without_script_a_cell_is_painted_by_its_numbers(opened, panel):
    page = opened(java_script_enabled=False)
    page.goto(address(panel.piece, "chart/"))
    page.locator("summary").tap()
    page.get_by_label("Row, from the top").fill("3")
    page.get_by_label("Column, from the left").fill("5")
    page.get_by_label("Colour", exact=True).select_option("1")
    page.get_by_role("button", name="Paint this cell").tap()
    expect(page.locator(".outcome[role=status]")).to_contain_text("Row 3, column 5 is painted.")
    panel.refresh_from_db()
    assert cells_array(panel)[2, 4] == 1
