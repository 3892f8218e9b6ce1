"""The program's pages served by processes of their own, and people who work on them as a browser would: they sign in,
read the page, and send its form with what stands hidden in it."""

import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Iterator
from http.client import HTTPException
from http.cookiejar import CookieJar
from pathlib import Path

from decor.studio import supervisor
from decor.studio.management.commands.up import WEB_FLAGS
from tests.services.serving import ROOT, ready
from tests.services.test_killed_worker import database_url

HIDDEN = {name: re.compile(rf'name="{name}" value="([^"]+)"') for name in ("csrfmiddlewaretoken", "request_key")}
GONE = (urllib.error.URLError, HTTPException, OSError)


def any_port() -> int:
    """One that the kernel gives: two who look for the next free one at the same moment would find the same."""
    with socket.socket() as asked:
        asked.bind(("127.0.0.1", 0))
        return int(asked.getsockname()[1])


class Web:
    """The web server as `up` starts it, on the test's database."""

    def __init__(self, var: Path, url: str = "") -> None:
        self.port = any_port()
        self.address = f"http://127.0.0.1:{self.port}"
        self.var = var
        self.env = {
            **{name: value for name, value in os.environ.items() if name != "REDIS_URL"},
            "DATABASE_URL": url or database_url(),
            "KNOTBOOK_VAR": str(var),
            "KNOTBOOK_BROKER": "filesystem://",
            "SITE_URL": self.address,
        }
        self.start()

    def start(self) -> None:
        log = (self.var / "web.log").open("a")
        flags = [*WEB_FLAGS, "--workers", "3"]
        command = [sys.executable, "-m", "gunicorn", "decor.wsgi", "--bind", f"127.0.0.1:{self.port}", *flags]
        self.process = subprocess.Popen(command, cwd=ROOT, env=self.env, stdout=log, stderr=log, start_new_session=True)
        log.close()
        until = time.monotonic() + 60
        while not supervisor.port_answers("127.0.0.1", self.port) and time.monotonic() < until:
            time.sleep(0.1)

    def kill(self, number: int = signal.SIGKILL) -> None:
        """All of it at once, as a power cut would."""
        os.killpg(self.process.pid, number)
        self.process.wait(20)

    def log(self) -> str:
        """Its first traceback, where there is one, and its end."""
        text = (self.var / "web.log").read_text()
        first = text.find("Traceback")
        return (text[max(first - 300, 0) : first + 6000] + "\n…\n" if first >= 0 else "") + text[-3000:]


class Seen(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *args: object) -> None:
        return None


class Hand:
    """One person with a browser."""

    def __init__(self, address: str, username: str, password: str) -> None:
        self.address, self.jar, self.sent = address, CookieJar(), False
        self.opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(self.jar), Seen)
        status, text = self.send("/sign-in/", "/sign-in/", username=username, password=password, next="/")
        assert status == 302, text

    def get(self, path: str) -> tuple[int, str]:
        return self._open(path, None)

    def send(self, page: str, to: str, **fields: object) -> tuple[int, str]:
        """Reads `page`, then sends its form to `to`."""
        self.sent = False
        status, text = self.get(page)
        hidden = self.hidden(text)
        if status != 200 or "csrfmiddlewaretoken" not in hidden:
            return status, text  # no form on it any more
        self.sent = True
        return self._open(to, {**hidden, **fields})

    def hidden(self, text: str) -> dict[str, str]:
        found = {name: pattern.search(text) for name, pattern in HIDDEN.items()}
        return {name: hit.group(1) for name, hit in found.items() if hit}

    def _open(self, path: str, fields: dict | None) -> tuple[int, str]:
        data = urllib.parse.urlencode(fields).encode() if fields is not None else None
        request = urllib.request.Request(self.address + path, data, {"Referer": self.address + path})
        try:
            with self.opener.open(request, timeout=90) as answer:
                return answer.status, answer.read().decode()
        except urllib.error.HTTPError as error:
            return error.code, error.read().decode()


def served(var: Path) -> Iterator[Web]:
    var.mkdir(exist_ok=True)
    web = Web(var)
    try:
        assert ready(web.address, 1) or supervisor.port_answers("127.0.0.1", web.port), web.log()
        yield web
    finally:
        if web.process.poll() is None:
            web.kill()
