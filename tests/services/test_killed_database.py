"""The database is killed while eight processes promise the last stock: whoever was told has it, and nobody else. Of
PostgreSQL a server of the test's own, first process and all; of SQLite everybody who has its file open."""

import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.services.cluster import own_cluster
from tests.services.serving import ROOT

pytestmark = pytest.mark.services

PLUGS = 20 if os.environ.get("KNOTBOOK_THOROUGH") else 3


class Store:
    """A studio's store on the database of this address, and the eight who work in it."""

    def __init__(self, folder: Path, url: str) -> None:
        self.folder = folder
        dropped = {"PYTEST_VERSION", "PYTEST_CURRENT_TEST", "REDIS_URL"}
        kept = {name: value for name, value in os.environ.items() if name not in dropped}
        self.env = kept | {"DATABASE_URL": url, "KNOTBOOK_VAR": str(folder), "KNOTBOOK_BROKER": "filesystem://"}
        self.run("prepare")

    def _command(self, word: str) -> list[str]:
        return [sys.executable, "-m", "tests.services.reserving", word, str(self.folder)]

    def run(self, word: str) -> str:
        done = subprocess.run(self._command(word), cwd=ROOT, env=self.env, capture_output=True, text=True, timeout=300)
        assert done.returncode == 0, done.stderr
        return done.stdout

    def begin(self) -> None:
        with (self.folder / "work.log").open("a") as log:
            self.eight = subprocess.Popen(
                self._command("work"), cwd=ROOT, env=self.env, stdout=log, stderr=log, start_new_session=True
            )

    def kill(self) -> None:
        os.killpg(self.eight.pid, signal.SIGKILL)
        self.eight.wait(20)

    def end(self) -> None:
        (self.folder / "stop").touch()
        self.eight.wait(60)

    def told(self) -> int:
        """How many things were done and acknowledged so far."""
        return sum(path.read_text().count('"what": "done"') for path in self.folder.glob("*.book"))

    def works(self, more: int, seconds: float = 300) -> None:
        """Until so many more things are acknowledged, so that each plug is pulled in the middle of work; on a machine
        that others keep busy it takes a minute and more."""
        wanted, until = self.told() + more, time.monotonic() + seconds
        while self.told() < wanted:
            assert self.eight.poll() is None and time.monotonic() < until, self.log()
            time.sleep(0.05)
        time.sleep(random.uniform(0, 0.1))

    def log(self) -> str:
        return (self.folder / "work.log").read_text()[-4000:]

    def check(self) -> dict:
        found = json.loads(self.run("check"))
        print({name: value for name, value in found.items() if name != "wrong"})
        assert not found["wrong"], found["wrong"]
        assert found["done"] > 20 * PLUGS and found["short"] and found["standing"], found
        return found


@pytest.fixture
def folder(tmp_path):
    made = tmp_path / "store"
    made.mkdir()
    return made


def test_the_server_is_killed_and_every_promise_that_was_told_is_there(folder):
    with own_cluster() as cluster:
        store = Store(folder, cluster.url)
        store.begin()
        try:
            for plug in range(PLUGS):
                store.works(more=40)
                if plug % 2:
                    cluster.stop_at_once()
                else:
                    cluster.kill()
                cluster.start()
            store.works(more=40)
            store.end()
        finally:
            if store.eight.poll() is None:
                store.kill()
        assert "database system was not properly shut down" in (cluster.folder / "log").read_text()
        assert store.check()["read"] >= PLUGS


def test_all_who_have_the_file_open_are_killed_and_every_promise_that_was_told_is_there(folder):
    store = Store(folder, f"sqlite:///{folder / 'studio.sqlite3'}")
    for plug in range(PLUGS + 1):
        store.begin()
        try:
            store.works(more=40)
            if plug == PLUGS:
                store.end()
        finally:
            if store.eight.poll() is None:
                store.kill()
    # Of eight killed at once hardly all were between two things.
    assert store.check()["read"]
