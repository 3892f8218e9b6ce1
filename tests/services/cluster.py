"""A PostgreSQL server of the test's own, which may be killed: its data in a folder that goes afterwards."""

import getpass
import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.services.hands import any_port
from tests.services.serving import alive, family

SETTINGS = {"listen_addresses": "127.0.0.1", "fsync": "on", "full_page_writes": "on", "max_connections": "40"}


def _binaries() -> Path:
    folders = sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda path: float(path.parent.name), reverse=True)
    for folder in [*folders, *(Path(found).resolve().parent for found in [shutil.which("initdb")] if found)]:
        if all((folder / name).exists() for name in ("initdb", "pg_ctl", "postgres")):
            return folder
    pytest.skip("no initdb on this machine: a PostgreSQL server of the test's own cannot be made")


def _who() -> str:
    """It refuses to run as root."""
    if os.geteuid():
        return getpass.getuser()
    names = {entry.pw_name for entry in pwd.getpwall()}
    for name in ("postgres", "nobody"):
        if name in names:
            return name
    pytest.skip("this machine has neither postgres nor nobody: PostgreSQL does not run as root")


class Cluster:
    def __init__(self, folder: Path) -> None:
        self.folder, self.port, self.bin, self.who = folder, any_port(), _binaries(), _who()
        self.url = f"postgres://knotbook@127.0.0.1:{self.port}/postgres"
        if os.geteuid() == 0:
            shutil.chown(folder, self.who)
        self._run("initdb", "-U", "knotbook", "--auth", "trust", "--encoding", "UTF8", "--locale", "C", "--no-sync")
        self.start()

    def _command(self, name: str, *words: str) -> list[str]:
        return [str(self.bin / name), "-D", str(self.folder / "data"), *words]

    def _as_who(self) -> dict:
        return {"user": self.who} if os.geteuid() == 0 else {}

    def _run(self, name: str, *words: str) -> None:
        command = self._command(name, *words)
        done = subprocess.run(command, capture_output=True, text=True, cwd=self.folder, timeout=120, **self._as_who())
        assert done.returncode == 0, done.stderr + self.log()

    def start(self) -> None:
        given = SETTINGS | {"port": str(self.port), "unix_socket_directories": str(self.folder)}
        words = [word for name, value in given.items() for word in ("-c", f"{name}={value}")]
        with (self.folder / "log").open("a") as log:
            self.process = subprocess.Popen(
                self._command("postgres", *words), cwd=self.folder, stdout=log, stderr=log, **self._as_who()
            )
        until = time.monotonic() + 60
        while not self._answers() and time.monotonic() < until:
            assert self.process.poll() is None, self.log()
            time.sleep(0.1)

    def _answers(self) -> bool:
        ready = [str(self.bin / "pg_isready"), "-q", "-h", "127.0.0.1", "-p", str(self.port)]
        return subprocess.run(ready, timeout=20).returncode == 0

    def kill(self) -> None:
        """All of it at once: the first process and each of its children, which are in groups of their own."""
        everybody = [self.process.pid, *family(self.process.pid)]
        for pid in everybody:
            try:
                os.kill(pid, signal.SIGKILL)
            except ProcessLookupError:
                continue
        self.process.wait(20)
        until = time.monotonic() + 20
        while any(alive(pid) for pid in everybody) and time.monotonic() < until:
            time.sleep(0.02)

    def stop_at_once(self) -> None:
        """Without a checkpoint: the next start has to recover."""
        self._run("pg_ctl", "stop", "-m", "immediate")
        self.process.wait(20)

    def log(self) -> str:
        path = self.folder / "log"
        return path.read_text()[-4000:] if path.exists() else ""


@contextmanager
def own_cluster() -> Iterator[Cluster]:
    """Beside pytest's folders, which only their owner may enter."""
    folder = Path(tempfile.mkdtemp(prefix="cluster-"))
    made = None
    try:
        made = Cluster(folder)
        yield made
    finally:
        if made is not None and made.process.poll() is None:
            made.kill()
        shutil.rmtree(folder, ignore_errors=True)
