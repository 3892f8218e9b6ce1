"""The README's pictures, taken anew from the demo studio: `python -m tests.browser.pictures`."""

import io
import tempfile
from datetime import date, timedelta
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page, sync_playwright

from tests.browser.conftest import CHROMIUM, QUIET, Desk, Served
from tests.services.serving import ready, start, stop, told

DOCS = Path(__file__).resolve().parent.parent.parent / "docs"
TALL = 1180


def keep(page: Page, name: str) -> None:
    # Tall enough for the whole answer, with the bar at its foot as on a phone.
    page.set_viewport_size({"width": 390, "height": TALL})
    page.wait_for_load_state("networkidle")
    image = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
    image.quantize(192, dither=Image.Dither.NONE).save(DOCS / f"{name}.png", optimize=True)


def ask(page: Page) -> None:
    page.goto("/ask/")
    page.get_by_label("Day of the event").fill((date.today() + timedelta(days=24)).isoformat())
    page.get_by_label("Wide").fill("3")
    page.get_by_label("High").first.fill("2.5")
    page.locator(".act button").click()
    page.wait_for_selector(".verdict")


def main() -> None:
    DOCS.mkdir(exist_ok=True)
    process = start(Path(tempfile.mkdtemp()) / "var")
    try:
        served = Served(
            told(process, r"Knotbook is at (http://\S+)"), told(process, r"passphrase for all: (.+)").strip()
        )
        assert ready(served.address)
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=CHROMIUM, args=QUIET.split())
            desk = Desk(browser, served)
            page = desk.sign_in("pat")
            page.goto("/events/?q=Harbour")
            page.get_by_text("Harbour library centenary").first.click()
            keep(page, "glance")
            page.goto(page.url + "proof/")
            link = page.locator("input[readonly]").first.input_value()
            ask(page)
            keep(page, "answer")
            client = Desk(browser, served).page
            client.goto(link)
            keep(client, "proof")
    finally:
        stop(process)


if __name__ == "__main__":
    main()
