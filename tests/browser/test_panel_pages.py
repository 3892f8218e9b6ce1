"""Every page of a picture panel and of the library, each opened by its own address: the walk over links sees one page
of each shape, and that need not be a panel's."""

import re

import pytest
from django.urls import reverse

from decor.studio.access import MATRIX
from decor.studio.models import Role, User
from jobs.designs.models import Panel
from tests.browser.conftest import DESK, PHONE
from tests.browser.test_every_page import SMALL_TARGETS, faults, overflow
from tests.conftest import signed_in
from tests.walk import ADDRESSES, address, arguments, open_demo, the_event

pytestmark = pytest.mark.django_db(transaction=True)

OF_PANELS = re.compile(r"pieces/<int:piece>/|library/|/table/")
MORE = {
    "jobs:piece": ["?view=plain"],
    "jobs:build-book-read": ["?page=1", "?page=1&lies=turned"],
    "jobs:panel-ways": ["?way=strung"],
}
"""States of a page that have an address."""
SOME = 25


@pytest.fixture
def planner(db) -> User:
    return open_demo()[Role.PLANNER]


@pytest.fixture
def opened(chromium, live_server, planner):
    contexts, complaints = [], []
    cookie = signed_in(planner).cookies["sessionid"].value

    def make(options=PHONE, **more):
        context = chromium.new_context(base_url=live_server.url, **options, **more)
        context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: complaints.append(f"{page.url}: {error}"))
        return page

    yield make
    for context in contexts:
        context.close()
    assert not complaints


def paths() -> list[str]:
    found = []
    for name, pattern in ADDRESSES:
        route = str(pattern.pattern)
        if not (name.startswith("jobs:") and OF_PANELS.search(route)) or Role.PLANNER not in MATRIX[name].roles:
            continue
        found += [address(name, pattern) + more for more in ["", *MORE.get(name, [])]]
    return found


def pages(page, wanted: list[str]):
    """Opens what is a page: not what only takes a form, nor a file, nor what leads elsewhere."""
    for path in wanted:
        kind = page.request.get(path, max_redirects=0)
        if kind.status != 200 or "text/html" not in kind.headers["content-type"] or "<html" not in kind.text():
            assert kind.status < 400 or kind.status in (404, 405), f"{path} answers {kind.status}"
            continue
        page.goto(path)
        page.wait_for_load_state("networkidle")  # figures come in after the page
        yield path


def wrong_with(page, path: str) -> list[str]:
    """On a phone by day and in the dark, on a narrow one, at the desk."""
    wrong = faults(page) + page.evaluate(SMALL_TARGETS, path)
    filled = page.locator("main .btn:not(.second):not(.quiet):visible, .act .btn:not(.second):not(.quiet):visible")
    wrong += [f"{filled.count()} filled buttons"] if filled.count() > 1 else []
    page.emulate_media(color_scheme="dark")
    wrong += [f"in the dark: {fault}" for fault in faults(page)]
    page.emulate_media(color_scheme="light")
    for size in ({"width": 320, "height": 640}, DESK["viewport"], PHONE["viewport"]):
        page.set_viewport_size(size)
        wrong += [f"wider than {size['width']}"] if overflow(page) else []
        wrong += [f"at the desk: {fault}" for fault in faults(page)] if size == DESK["viewport"] else []
    return [f"{path}: {one}" for one in wrong]


def test_every_page_of_a_panel(opened):
    page, wrong, count = opened(), [], 0
    for path in pages(page, paths()):
        count += 1
        wrong += wrong_with(page, path)
    assert not wrong, "\n".join(wrong)
    assert count >= SOME


@pytest.mark.parametrize("way", Panel.Loading.values)
def test_what_is_tied_and_loaded_each_way(opened, way):
    """Pairs, strings, units, the book and the table of a panel that is loaded this way."""
    Panel.objects.update(loading=way)
    names = ("piece", "panel-pairs", "panel-strings", "panel-sheets", "build-book-read", "panel-table", "panel-ways")
    known = dict(ADDRESSES)
    wanted = [reverse(f"jobs:{name}", kwargs=arguments(f"jobs:{name}", known[f"jobs:{name}"])) for name in names]
    page = opened()
    assert the_event().piece_set.get(panel__isnull=False).panel.loading == way
    wrong, seen = [], 0
    for path in pages(page, wanted):
        seen += 1
        wrong += [f"{path}: {fault}" for fault in faults(page)]
        wrong += [f"{path}: wider than the screen"] if overflow(page) else []
    assert not wrong, "\n".join(wrong)
    assert seen >= 5
