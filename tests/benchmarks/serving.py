"""The program as it is served: started, signed in to and tapped from outside, with its worker at work."""

import contextlib
import http.cookiejar
import os
import re
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

from decor.studio.supervisor import free_port

ROOT = Path(__file__).resolve().parent.parent.parent
LONGEST_S = 120.0
# As the page's htmx asks: after 0.3 s, 0.6 s, 1.2 s, then every two seconds.
ASKS_S = (0.3, 0.6, 1.2)

EVENTS_OF_THREE_PIECES = """
import django; django.setup()
from django.utils import timezone
from tests.walk import event_of_three_pieces
for number in range({count}):
    print(event_of_three_pieces(timezone.now(), number).pk)
"""


def environment(var: Path) -> dict[str, str]:
    drop = {"DATABASE_URL", "REDIS_URL", "SITE_URL"}
    kept = {name: value for name, value in os.environ.items() if name not in drop}
    return {**kept, "KNOTBOOK_VAR": str(var), "DJANGO_SETTINGS_MODULE": "decor.settings"}


def events_of_three_pieces(var: Path, count: int) -> list[int]:
    code = EVENTS_OF_THREE_PIECES.format(count=count)
    ran = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, env=environment(var), check=True, capture_output=True, text=True
    )
    return [int(line) for line in ran.stdout.split()]


class Browser:
    def __init__(self, address: str) -> None:
        self.address = address
        self.opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar()))

    def get(self, path: str, **headers: str) -> str:
        asked = urllib.request.Request(self.address + path, headers=headers)
        with self.opener.open(asked, timeout=30) as answer:
            return answer.read().decode()

    def send(self, path: str, page: str, **fields: str) -> str:
        """With the hidden fields of the page that the form stands on."""
        hidden = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', page))
        data = urllib.parse.urlencode(hidden | fields).encode()
        asked = urllib.request.Request(self.address + path, data, {"Referer": self.address + path})
        with self.opener.open(asked, timeout=30) as answer:
            return answer.read().decode()


@contextlib.contextmanager
def served(var: Path) -> Iterator[tuple[Browser, float]]:
    """The program on its own folder; tells the seconds until its first page was there."""
    port = free_port("127.0.0.1", 8900)
    begun = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "manage.py", "up", "--port", str(port)],
        cwd=ROOT,
        env=environment(var),
        stdout=subprocess.DEVNULL,
        start_new_session=True,
    )
    browser = Browser(f"http://127.0.0.1:{port}")
    try:
        _wait(lambda: "Sign in" in browser.get("/sign-in/"))
        yield browser, time.perf_counter() - begun
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(60)


def _wait(holds: Callable[[], bool]) -> None:
    until = time.perf_counter() + LONGEST_S
    while time.perf_counter() < until:
        with contextlib.suppress(OSError, urllib.error.HTTPError):
            if holds():
                return
        time.sleep(0.02)
    raise TimeoutError("the program did not come up")


def sign_in(browser: Browser, var: Path) -> None:
    passphrase = re.search(r"passphrase for all: (.+)", (var / "demo_logins").read_text())[1].strip()
    page = browser.send("/sign-in/", browser.get("/sign-in/"), username="olive", password=passphrase)
    assert "Sign in" not in page
    _wait(lambda: '"worker": true' in browser.get("/readyz"))


def tap_to_figures_ms(browser: Browser, event: int) -> float:
    path = f"/events/{event}/estimate/"
    page = browser.get(path)
    begun = time.perf_counter()
    page = browser.send(f"{path}start/", page)
    for number in range(60):
        if "Working it out" not in page:
            break
        time.sleep(ASKS_S[number] if number < len(ASKS_S) else 2.0)
        page = browser.get(f"{path}state/?n={number}", **{"HX-Request": "true"})
    spent = (time.perf_counter() - begun) * 1000.0
    assert "The day backwards" in page, page[:2000]
    return spent
