"""A panel on a phone, from the picture file to its painted cells, by touch, by keys and without script."""

import pytest
from playwright.sync_api import expect

from decor.calc.materials import spares_and_why
from tests.browser.conftest import DESK, PHONE
from tests.browser.editing import address, cells, colour, count, drag, nearer, opened, panel, said, saved, spot, stored
from tests.browser.test_every_page import faults, overflow
from tests.jobs.designs.conftest import encoded, event, latex, lighthouse, panel_piece, sheets, stocked

__all__ = ["event", "latex", "opened", "panel", "panel_piece", "sheets", "stocked"]

pytestmark = pytest.mark.django_db(transaction=True)


def test_what_is_short_counts_spares_as_the_pages_do(opened, panel, stocked):
    """572 sky take 23 spares at 4 %; of 400 free, 195 are short. The editor's spares are those of the estimate."""
    page = opened(DESK)
    page.goto(f"/events/{panel.piece.event_id}/pieces/{panel.piece_id}/chart/")
    expect(page.locator("#chart-short")).to_contain_text("572 and 23 spare, 400 free")
    expect(page.locator("#chart-short")).to_contain_text("195 short")
    asked = [[n, burst] for n in (0, 1, 25, 399, 4000, 4001, 60_000) for burst in (None, 0.0, 0.004, 0.02, 0.3)]
    source = page.locator("script[type=module][src*='chart/main']").get_attribute("src")
    told = page.evaluate(
        """async ([source, asked]) => {
          const { sparesFor } = await import(new URL("spares.js", new URL(source, location.href)).href);
          return asked.map(([n, burst]) => sparesFor(n, 0.04, burst ?? undefined));
        }""",
        [source, asked],
    )
    assert told == [spares_and_why(n, 0.04, burst)[0] for n, burst in asked]


def test_from_a_picture_file_to_the_chart(opened, panel_piece, stocked, sheets, tmp_path):
    (tmp_path / "lighthouse.png").write_bytes(encoded(lighthouse()))
    page = opened()
    page.goto(address(panel_piece))
    page.get_by_role("link", name="Put in a picture").tap()
    page.locator("#id_picture").set_input_files(tmp_path / "lighthouse.png")
    page.get_by_label("Sheet").select_option(label="Net 22 × 13, offset rows")
    with page.expect_response(lambda answer: "colours" in answer.url):
        page.get_by_label("Way to load").select_option("strung")
    page.wait_for_selector(f".swatches input[value='{stocked['sky double'].pk}']")
    page.get_by_label("Size in").select_option("cells")
    page.get_by_label("Wide").fill("26")
    boxes = page.locator(".swatches input")
    expect(page.locator(".swatches input:checked")).to_have_count(boxes.count())
    page.get_by_role("button", name="Show the chart").tap()
    page.wait_for_selector("svg.balloons")
    assert page.locator("svg.balloons .cells use").count() == 26 * 22
    assert "26 wide, 22 high" in page.locator(".when").inner_text()
    assert not faults(page) and not overflow(page)
    page.get_by_role("link", name="Plain chart").tap()
    page.wait_for_selector("svg.plain")
    assert not faults(page) and not overflow(page)


def undone(page) -> None:
    """On a busy machine a tap can last so long that the browser takes it for a long press, which is no click."""
    before = count(page, 1)
    for _ in range(4):
        page.get_by_role("button", name="Undo").tap()
        for _ in range(15):
            if count(page, 1) != before:
                return
            page.wait_for_timeout(100)
    raise AssertionError(f"still {before} after four taps")


def test_a_tap_on_small_cells_comes_nearer_and_the_next_one_paints(opened, panel):
    page = opened()
    page.goto(address(panel.piece, "chart/"))
    colour(page, "red")
    assert page.locator("#chart").bounding_box()["width"] / 26 < 24, "small enough that a tap must zoom in"
    nearer(page)
    assert count(page, 1) == "0"
    page.touchscreen.tap(*spot(page, 0.5, 0.5))
    expect(page.locator("[data-count='1']")).to_have_text("1")
    expect(said(page)).to_contain_text("red")
    for step in range(8):
        page.touchscreen.tap(*spot(page, 0.16 + 0.1 * step, 0.7))
    drag(page, (0.2, 0.25), (0.5, 0.25), (0.9, 0.4))
    expect(said(page)).to_contain_text("painted red")
    saved(page)
    stored(page, lambda: (cells(panel) == 1).sum() == int(count(page, 1)) > 14)
    # A whole stroke is one step back.
    undone(page)
    assert count(page, 1) == "9"
    for _ in range(9):
        undone(page)
    expect(page.get_by_role("button", name="Undo")).to_be_disabled()
    saved(page)
    stored(page, lambda: not cells(panel).any())
    assert not faults(page) and not overflow(page)


def test_all_by_keys_and_read_row_by_row(opened, panel):
    page = opened(DESK, color_scheme="dark")
    page.goto(address(panel.piece, "chart/"))
    page.locator("#chart").focus()

    def press(*keys: str) -> None:
        for key in keys:
            page.keyboard.press(key)

    press("ArrowRight", "2", "x", "Enter", "ArrowRight", "ArrowRight", "ArrowDown", "Enter")
    expect(said(page)).to_contain_text("cells painted red")
    press("r")
    expect(said(page)).to_have_text("Row 2: 3 red, 23 sky")
    for key, words in (("y", "Left and right alike: on."), ("y", "Left and right alike: off."), ("g", "Grid: off.")):
        press(key)
        expect(said(page)).to_have_text(words)
    press("Control+End", "0", "x", "Enter", "ArrowLeft", "Enter")
    expect(said(page)).to_have_text("Without balloons now: 2 cells.")
    press("z", "Control+Home", "ArrowRight", "ArrowRight", "ArrowRight", "ArrowDown", "2")
    press(
        "s", "Control+Home", "Enter", "ArrowRight", "ArrowDown", "Enter", "m", "ArrowRight", "ArrowDown", "1", "Enter"
    )
    expect(said(page)).to_contain_text("It is put down.")
    press("z", "Shift+Z", "k", "ArrowUp", "?")
    expect(page.locator("#chart-keys")).to_have_attribute("open", "")
    page.get_by_text("Rows in words").click()
    rows = page.locator("#chart-rows li")
    expect(rows).to_have_count(22)
    saved(page)
    stored(page, lambda: (cells(panel) == 1).sum() > 2 and bytes(panel.locked))
    for row, reds in enumerate((cells(panel)[:3] == 1).sum(axis=1).tolist()):
        asked = expect(rows.nth(row))
        asked.to_contain_text(f"{reds} red") if reds else asked.not_to_contain_text("red")
    assert not faults(page) and not overflow(page)


def test_what_is_done_with_a_selection_scrolls_by_itself_on_a_phone(opened, panel):
    """The words that only a screen reader hears must not make the page wider than the screen."""
    page = opened(PHONE)
    page.goto(f"/events/{panel.piece.event_id}/pieces/{panel.piece_id}/chart/")
    page.get_by_role("button", name="Select all").click()
    expect(page.locator("#chart-selected")).to_be_visible()
    assert page.evaluate("[innerWidth, document.documentElement.scrollWidth]") == [390, 390]


def test_without_script_a_cell_is_painted_by_its_numbers(opened, panel):
    page = opened(java_script_enabled=False)
    page.goto(address(panel.piece, "chart/"))
    page.get_by_text("By row and column").tap()
    page.get_by_label("Row, from the top").fill("3")
    page.get_by_label("Column, from the left").fill("5")
    page.get_by_label("Colour", exact=True).select_option("1")
    page.get_by_role("button", name="Paint this cell").tap()
    expect(page.locator(".outcome[role=status]")).to_contain_text("Row 3, column 5 is painted.")
    assert cells(panel)[2, 4] == 1
    page.get_by_role("link", name="the rows in words").tap()
    expect(page.locator(".row-words li").nth(2)).to_have_text("4 sky, 1 red, 21 sky")
