"""A panel on a phone, from the picture file to its painted cells: quick, and nothing lost on the way."""

import re

import numpy as np
import pytest
from playwright.sync_api import expect

from decor.calc.materials import spares_and_why
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


@pytest.fixture
def seven_thousand(panel_piece, sheets, stocked) -> Panel:
    """84 wide, 84 high, in broad bands of five colours."""
    row, column = np.mgrid[0:84, 0:84]
    names = ("sky", "red", "navy", "green", "white")
    return Panel.objects.create(
        piece=panel_piece, sheet=sheets["large"], rows=84, columns=84,
        palette=[stocked[name].pk for name in names], cells=((row // 9 + column // 11) % 5).astype("<i2").tobytes(),
    )  # fmt: skip


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


def test_without_a_signal_and_over_a_reload_nothing_is_lost(opened, panel):
    page = opened()
    page.goto(address(panel.piece, "chart/"))
    page.route("**/commands/", lambda route: route.abort())
    colour(page, "red")
    nearer(page)
    for step in range(6):
        page.touchscreen.tap(*spot(page, 0.2 + 0.12 * step, 0.5))
    expect(page.locator("#saved")).to_have_text("Kept on this phone")
    assert not cells(panel).any()
    page.reload()
    expect(page.locator("[data-count='1']")).to_have_text("6")
    nearer(page)
    colour(page, "red")
    page.touchscreen.tap(*spot(page, 0.3, 0.85))
    expect(page.locator("[data-count='1']")).to_have_text("7")
    page.unroute("**/commands/")
    page.evaluate("() => dispatchEvent(new Event('online'))")
    saved(page)
    stored(page, lambda: (cells(panel) == 1).sum() == 7 and panel.version == 8)


def disputed(mine, theirs, panel) -> None:
    """Two people paint the same three cells; mine come in second, and a fourth beside them."""
    for page in (mine, theirs):
        page.goto(address(panel.piece, "chart/"))
        page.locator("#chart").focus()
    mine.route("**/commands/", lambda route: route.abort())
    for page, keys in ((mine, "0"), (theirs, "2")):
        page.keyboard.press("ArrowRight")
        page.keyboard.press(keys)
        for _ in range(3):
            page.keyboard.press("Enter")
            page.keyboard.press("ArrowRight")
        saved(page) if page is theirs else None
    mine.keyboard.press("ArrowDown")
    mine.keyboard.press("Enter")
    stored(theirs, lambda: (cells(panel) == 1).sum() == 3)
    mine.unroute("**/commands/")
    mine.evaluate("() => dispatchEvent(new Event('online'))")
    notice = mine.locator("#chart-dispute")
    expect(notice).to_contain_text("painted 3 of the same cells. Theirs are shown, yours are kept.")


def test_two_editors_keep_both_versions_until_somebody_chooses(opened, panel, stocked):
    mine, theirs = opened(DESK), opened(DESK)
    disputed(mine, theirs, panel)
    notice = mine.locator("#chart-dispute")
    # The cell that nobody else touched is joined; what is shown is what the studio has.
    stored(mine, lambda: (cells(panel) == 1).sum() == 3 and (cells(panel) == -1).sum() == 1)
    expect(mine.locator("[data-count='1']")).to_have_text("3")
    mine.reload()
    expect(notice).to_contain_text("3 of the same cells")
    mine.get_by_role("button", name="Use mine").click()
    expect(notice).to_be_hidden()
    expect(mine.locator("[data-count='-1']")).to_have_text("4")
    saved(mine)
    stored(mine, lambda: (cells(panel) == -1).sum() == 4 and not (cells(panel) == 1).any())
    theirs.evaluate("() => document.dispatchEvent(new Event('visibilitychange'))")
    expect(theirs.locator("[data-count='-1']")).to_have_text("4")


def test_signing_out_warns_of_cells_that_nobody_has_chosen_between(opened, panel, stocked):
    mine, theirs = opened(), opened(DESK)
    disputed(mine, theirs, panel)
    mine.goto("/more/")
    mine.get_by_role("button", name="Sign out").tap()
    warning = mine.locator("#unsent")
    expect(warning).to_contain_text("3 cells that somebody else painted too wait for you to choose.")
    expect(warning.get_by_role("button", name="Send now")).to_be_hidden()
    expect(mine.get_by_role("button", name="Sign out and lose it")).to_be_visible()
    assert not faults(mine) and not overflow(mine)
    mine.get_by_role("link", name="Choose now").tap()
    mine.get_by_role("button", name="Use mine").tap()
    expect(mine.locator("#chart-dispute")).to_be_hidden()
    saved(mine)
    stored(mine, lambda: (cells(panel) == -1).sum() == 4)
    mine.goto("/more/")
    mine.get_by_role("button", name="Sign out").tap()
    expect(mine.get_by_role("heading", level=1)).to_have_text("Sign in")
    assert (cells(panel) == -1).sum() == 4


def test_a_chart_of_another_size_under_an_open_editor_is_said(opened, panel):
    page = opened()
    page.goto(address(panel.piece, "chart/"))
    colour(page, "red")
    nearer(page)
    Panel.objects.update(rows=11, cells=b"\0\0" * (26 * 11), version=2)
    page.touchscreen.tap(*spot(page, 0.5, 0.5))
    notice = page.locator("#chart-remade")
    expect(notice).to_contain_text("This panel has another size now.")
    page.touchscreen.tap(*spot(page, 0.7, 0.5))
    notice.get_by_role("button").tap()
    expect(page.locator(".chart-box canvas#chart")).to_have_attribute("aria-label", re.compile("26 wide, 11 high"))
    assert not cells(panel).any()


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


QUICK = """() => {
  window.taps = new Map();
  new PerformanceObserver((list) => list.getEntries().forEach((one) => one.interactionId &&
    taps.set(one.interactionId, Math.max(one.duration, taps.get(one.interactionId) ?? 0))
  )).observe({ type: 'event', durationThreshold: 16, buffered: true });
}"""


def round_of_taps(page) -> list[float]:
    """How long each tap took to be seen, the quickest first."""
    page.evaluate("() => taps.clear()")
    for number, name in enumerate(("red", "navy")):
        colour(page, name)
        page.locator("[data-tool=brush]").tap()
        for step in range(10):
            page.touchscreen.tap(*spot(page, 0.15 + 0.08 * step, 0.3 + 0.3 * number))
        page.locator("[data-tool=fill]").tap()
        page.touchscreen.tap(*spot(page, 0.6, 0.9))
    for _ in range(20):
        page.get_by_role("button", name="Undo").tap()
    page.wait_for_timeout(300)
    return sorted(page.evaluate("() => [...taps.values()]"))


@pytest.mark.alone
def test_painting_filling_and_undoing_follow_the_finger_on_a_slow_phone(opened, seven_thousand):
    """Interaction to Next Paint by Event Timing (W3C): the 98th percentile of all taps, at a quarter of the speed.
    What else runs on the machine only makes it worse, so the best of three rounds counts."""
    page = opened()
    page.goto(address(seven_thousand.piece, "chart/"))
    nearer(page)
    page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": 4})
    page.evaluate(QUICK)
    slow = []
    for _ in range(3):
        taps = round_of_taps(page)
        assert len(taps) > 25, "taps shorter than 16 ms are not told"
        slow.append(taps[int(0.98 * (len(taps) - 1))])
        if slow[-1] <= 200:
            break
    assert min(slow) <= 200, slow
    saved(page)


DRAWN = """() => {
  const real = CanvasRenderingContext2D.prototype.drawImage;
  window.drawn = [];
  CanvasRenderingContext2D.prototype.drawImage = function (...given) {
    if (this.canvas.isConnected) drawn[drawn.length - 1]++;
    return real.apply(this, given);
  };
  const frame = () => { drawn.push(0); requestAnimationFrame(frame); };
  frame();
}"""


def pinch(page, reaches: list[int]) -> None:
    send = page.context.new_cdp_session(page).send
    x, y = spot(page, 0.5, 0.5)
    for reach in reaches:
        points = [{"x": x - reach, "y": y, "id": 1}, {"x": x + reach, "y": y, "id": 2}]
        if reach == reaches[0]:
            send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": points[:1]})
            send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": points})
        send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": points})
    send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def test_a_pinch_copies_the_picture_and_draws_it_sharply_once_the_fingers_rest(opened, seven_thousand):
    """What a frame costs is what is drawn in it: a few hundred balloons while the fingers move, whatever is seen."""
    page = opened()
    page.goto(address(seven_thousand.piece, "chart/"))
    page.locator("#chart").scroll_into_view_if_needed()
    page.evaluate(DRAWN)
    pinch(page, list(range(30, 60, 3)))
    moving = max(page.evaluate("() => drawn.splice(0, drawn.length - 1)"))
    assert moving <= 420, "the layer, or some 300 balloons and those at the edge"
    page.wait_for_timeout(600)
    for _ in range(2):
        page.get_by_role("button", name="Zoom in").tap()
        page.wait_for_timeout(600)
    assert page.evaluate("() => Math.max(...drawn)") > 40, "drawn one by one where they are large and at rest"
    assert not faults(page)


def test_a_hundred_thousand_cells_open_fill_and_come_back(opened, panel_piece, sheets, stocked):
    noise = np.random.default_rng(3).integers(0, 2, (250, 400))
    noise[:, :200] = 0
    panel = Panel.objects.create(
        piece=panel_piece, sheet=sheets["large"], rows=250, columns=400, cells=noise.astype("<i2").tobytes(),
        palette=[stocked["sky"].pk, stocked["red"].pk, stocked["navy"].pk],
    )  # fmt: skip
    page = opened()
    page.goto(address(panel.piece, "chart/"))
    colour(page, "navy")
    page.locator("#chart").focus()
    page.keyboard.press("Control+Home")
    page.locator("[data-tool=fill]").tap()
    page.locator("#chart").focus()
    page.keyboard.press("Enter")
    expect(said(page)).to_contain_text("cells filled with navy")
    saved(page)
    stored(page, lambda: (cells(panel) == 2).sum() == int(count(page, 2).replace(",", "")) > 0)
    assert (cells(panel) == 2)[:, :200].all()
    page.get_by_role("button", name="Undo").tap()
    expect(page.locator("[data-count='2']")).to_have_text("0")
    page.get_by_text("Rows in words").tap()
    expect(page.locator("#chart-rows li")).to_have_count(40)
    saved(page)
    stored(page, lambda: (cells(panel) == noise).all())


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
