"""Every page that a person can reach by links, as each role, in light and dark: accessible, within the screen,
and without a word from the browser's console."""

import re
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.base import AXE_FILE_PATH
from playwright.sync_api import expect

RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
AXE = AXE_FILE_PATH.read_text()
SMALL_TARGETS = """path => [...document.querySelectorAll(
    'button, .btn, .tabs a, select, input:not([type=hidden]):not([type=checkbox]):not([type=radio]):not([type=file])'
  )]
  .filter(e => e.checkVisibility() && !e.closest('[hidden], [aria-hidden=true]'))
  .filter(e => { const b = e.getBoundingClientRect(); return b.height < 44 || b.width < 44; })
  .map(e => path + ': ' + e.outerHTML.slice(0, 120))"""


def shape(path: str) -> str:
    """Two events have the same page; one of them will do."""
    path = re.sub(r"[0-9a-f]{8}-[0-9a-f-]{27}", "<draft>", path)
    path = re.sub(r"/p/[^/]+", "/p/<token>", path)
    return re.sub(r"/\d+", "/<n>", path)


FILES = (".csv", ".pdf", ".png", ".jpg", ".jpeg", ".svg", ".json")


def walk(page, start: str = "/"):
    """Breadth first over links of this site, a page of each shape."""
    seen, waiting = set(), [start]
    while waiting:
        path = waiting.pop(0)
        if shape(path) in seen or path.endswith(FILES):
            continue
        seen.add(shape(path))
        answer = page.goto(path)
        assert answer is not None and answer.status < 400, f"{path} answers {answer.status}"
        if "text/html" not in answer.headers["content-type"]:
            continue
        yield path
        for link in page.eval_on_selector_all("a[href]", "links => links.map(a => [a.href, a.pathname])"):
            if urlsplit(link[0]).netloc == urlsplit(page.url).netloc:
                waiting.append(link[1])


def faults(page) -> list[str]:
    page.evaluate(AXE)
    found = page.evaluate("rules => axe.run(document, rules)", RULES)
    return [f"{v['id']}: {v['nodes'][0]['html'][:160]}" for v in found["violations"]]


def overflow(page) -> bool:
    return page.evaluate("() => document.documentElement.scrollWidth > document.documentElement.clientWidth + 1")


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("name", ["olive", "cory"])
def test_every_page_is_accessible_and_fits_the_phone(desk, name, dark):
    page = desk(dark=dark).sign_in(name)
    wrong = []
    count = 0
    for path in walk(page):
        count += 1
        wrong += [f"{path}: {fault}" for fault in faults(page)]
        if overflow(page):
            wrong.append(f"{path}: wider than the screen")
    assert not wrong, "\n".join(wrong)
    assert count >= (25 if name == "olive" else 5)


def test_every_page_fits_a_narrow_phone(desk):
    page = desk().sign_in("olive")
    page.set_viewport_size({"width": 320, "height": 640})
    assert [path for path in walk(page) if overflow(page)] == []


def test_every_page_at_the_desk(desk):
    page = desk(wide=True).sign_in("olive")
    wrong = []
    for path in walk(page):
        wrong += [f"{path}: {fault}" for fault in faults(page)]
        if overflow(page):
            wrong.append(f"{path}: wider than the screen")
    assert not wrong, "\n".join(wrong)


def test_signed_out_pages(desk):
    for dark in (False, True):
        page = desk(dark=dark).page
        page.goto("/sign-in/")
        assert faults(page) == [] and not overflow(page)
        page.get_by_role("button", name="Sign in").tap()
        expect(page.locator(".errors")).to_be_focused()
        assert page.locator(".errors a").count() == 2
        assert faults(page) == []


def test_touch_targets_are_large_enough(desk):
    """Actions of 44 px or more each way; links inside running text are exempt (WCAG 2.2, 2.5.8)."""
    page = desk().sign_in("olive")
    small = []
    for path in walk(page):
        small += page.evaluate(SMALL_TARGETS, path)
    assert not small, "\n".join(small)
