"""The demo studio, served by the one command, in a real Chromium at phone size. No mocks: a web server, a
scheduler, a worker, a broker, and on CI's second round PostgreSQL and Redis."""

import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Playwright, Response, Route, expect, sync_playwright

from tests.services.serving import ready, start, stop, told

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
QUIET = (
    "--no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync"
)
PHONE = {"viewport": {"width": 390, "height": 844}, "device_scale_factor": 2, "is_mobile": True, "has_touch": True}
DESK = {"viewport": {"width": 1280, "height": 860}}
# Two suites and their servers share two cores: what comes, comes late at times.
expect.set_options(timeout=20_000)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if "browser" in Path(item.fspath).parts:
            item.add_marker(pytest.mark.browser)
            if CHROMIUM is None:
                item.add_marker(pytest.mark.skip(reason="no Chromium here: apt-get install chromium"))


@dataclass
class Served:
    address: str
    passphrase: str


def _fresh_database() -> dict[str, str]:
    """On PostgreSQL a database of its own beside the suite's; on SQLite the file in the server's own folder."""
    if not os.environ.get("DATABASE_URL", "").startswith("postgres"):
        return {}
    import psycopg

    number = int(os.environ.get("PYTEST_XDIST_WORKER", "gw0")[2:])
    base, name = os.environ["DATABASE_URL"].rsplit("/", 1)
    name = f"{name}_served_{number}"
    with psycopg.connect(f"{base}/postgres", autocommit=True) as connection:
        connection.execute(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')
        connection.execute(f'CREATE DATABASE "{name}"')
    # A Redis number of its own too: a worker must not take another studio's jobs.
    host, _, redis_number = os.environ.get("REDIS_URL", "").rpartition("/")
    redis_url = f"{host}/{int(redis_number) + 1 + number}" if host else ""
    return {"DATABASE_URL": f"{base}/{name}", "REDIS_URL": redis_url}


@pytest.fixture(scope="session")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    process = start(tmp_path_factory.mktemp("served"), **_fresh_database())
    try:
        address = told(process, r"Knotbook is at (http://\S+)")
        passphrase = told(process, r"passphrase for all: (.+)").strip()
        assert ready(address), "the server does not become ready"
        yield Served(address, passphrase)
    finally:
        stop(process)


@pytest.fixture(scope="session")
def own_playwright() -> Iterator[Playwright]:
    with sync_playwright() as playwright:
        yield playwright


@pytest.fixture(scope="session")
def chromium(own_playwright: Playwright) -> Iterator[Browser]:
    browser = own_playwright.chromium.launch(executable_path=CHROMIUM, args=QUIET.split())
    yield browser
    browser.close()


class Desk:
    """A person's browser: signed in, and failing the test on what the page itself complains of."""

    def __init__(self, browser: Browser, served: Served, *, dark: bool = False, wide: bool = False) -> None:
        self.served = served
        scheme = "dark" if dark else "light"
        self.context: BrowserContext = browser.new_context(
            base_url=served.address, color_scheme=scheme, **(DESK if wide else PHONE)
        )
        self.complaints: list[str] = []
        self.page: Page = self.context.new_page()
        self.page.on("pageerror", lambda error: self.complaints.append(f"{self.page.url}: {error}"))
        self.page.on("console", self._console)

    def _console(self, message) -> None:
        # The browser reports a refused form (422) and the like as errors; what counts is the page's own code.
        if message.type == "error" and "Failed to load resource" not in message.text:
            self.complaints.append(f"{self.page.url}: {message.text}")

    def sign_in(self, name: str) -> Page:
        self.page.goto("/sign-in/")
        self.page.get_by_label("Sign-in name").fill(name)
        self.page.get_by_label("Password").fill(self.served.passphrase)
        self.page.get_by_role("button", name="Sign in").tap() if self.page.viewport_size["width"] < 600 else (
            self.page.get_by_role("button", name="Sign in").click()
        )
        self.page.wait_for_url(f"{self.served.address}/")
        return self.page


@pytest.fixture
def desk(chromium: Browser, served: Served) -> Iterator:
    opened: list[Desk] = []

    def make(**kwargs: bool) -> Desk:
        opened.append(Desk(chromium, served, **kwargs))
        return opened[-1]

    yield make
    complaints = [line for one in opened for line in one.complaints]
    for one in opened:
        one.context.close()
    assert not complaints


SETTLED = """() => {
  if (window.settledSwaps === undefined) {
    window.settledSwaps = 0;
    document.addEventListener("htmx:afterSettle", () => { window.settledSwaps += 1; });
  }
  return window.settledSwaps;
}"""
# An older answer may settle after the newer one was asked for: nothing is on its way any more either.
STANDS = """before => window.settledSwaps > before
  && !document.querySelector(".htmx-request, .htmx-swapping, .htmx-settling, .htmx-added")"""


@contextmanager
def swapped(page: Page, wanted: Callable[[Response], bool]) -> Iterator:
    """Until an answer like this has come and what it brought stands in the page: what is touched before that may be
    taken away under the finger."""
    before = page.evaluate(SETTLED)
    with page.expect_response(wanted) as answer:
        yield answer
    page.wait_for_function(STANDS, arg=before)


def every_second_answer_lost(context: BrowserContext) -> list[int]:
    """Commands arrive and are done, but of two answers one is lost on its way: 1 in the list for each that is."""
    lost: list[int] = []

    def drop(route: Route) -> None:
        if route.request.method != "POST":
            return route.continue_()
        answer = route.fetch()
        lost.append(1 - len(lost) % 2)
        return route.abort() if lost[-1] else route.fulfill(response=answer)

    context.route("**/commands/", drop)
    return lost
