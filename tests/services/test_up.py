"""The one command: it serves, it heals, and it leaves nothing behind."""

import os
import re
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import pytest

from decor.studio import supervisor

ROOT = Path(__file__).resolve().parent.parent.parent
pytestmark = pytest.mark.services


def start(var: Path, *words: str, **env: str) -> subprocess.Popen:
    drop = {"PYTEST_VERSION", "PYTEST_CURRENT_TEST", "DATABASE_URL", "REDIS_URL", "SITE_URL", "KNOTBOOK_VAR"}
    kept = {k: v for k, v in os.environ.items() if k not in drop}
    return subprocess.Popen(
        [sys.executable, "manage.py", "up", "--port", str(supervisor.free_port("127.0.0.1", 8700)), *words],
        cwd=ROOT,
        env={**kept, "KNOTBOOK_VAR": str(var), "KNOTBOOK_SWEEP_SECONDS": "1", **env},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
    )


def told(process: subprocess.Popen, pattern: str, seconds: float = 90) -> str:
    said, until = "", time.monotonic() + seconds
    while time.monotonic() < until:
        line = process.stdout.readline()
        said += line
        if found := re.search(pattern, said):
            return found.group(1)
        if not line and process.poll() is not None:
            break
    raise AssertionError(f"not said: {pattern}\n{said}")


def get(address: str) -> tuple[int, str]:
    try:
        with urllib.request.urlopen(address, timeout=10) as answer:
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as error:
        return error.code, error.read().decode()


def ready(address: str, seconds: float = 40) -> bool:
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        try:
            if get(f"{address}/readyz")[0] == 200:
                return True
        except OSError:
            pass
        time.sleep(0.2)
    return False


def family(pid: int) -> list[int]:
    """This process's children, and theirs."""
    found = subprocess.run(["ps", "-o", "pid=", "--ppid", str(pid)], capture_output=True, text=True).stdout.split()
    return [child for line in found for child in (int(line), *family(int(line)))]


def alive(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().split(")")[1].split()[0] != "Z"
    except OSError:
        return False


@pytest.fixture
def var(tmp_path):
    return tmp_path / "var"


def stop(process: subprocess.Popen) -> None:
    if process.poll() is None:
        process.send_signal(signal.SIGTERM)
        process.wait(40)


def test_it_serves_a_demo_heals_a_fallen_worker_and_stops_clean(var):
    process = start(var)
    try:
        address = told(process, r"Knotbook is at (http://\S+)")
        passphrase = told(process, r"passphrase for all: (.+)")
        assert len(passphrase) >= 15
        assert get(f"{address}/")[1].count("Sign in") and ready(address)
        assert "Saltmarsh" in get(f"{address}/sign-in/")[1]
        css = re.search(r'href="(/static/css/desk\.[0-9a-f]+\.css)"', get(f"{address}/sign-in/")[1])
        assert css and get(address + css.group(1))[0] == 200
        everybody = family(process.pid)
        worker = [pid for pid in everybody if "worker" in Path(f"/proc/{pid}/cmdline").read_text()]
        os.kill(worker[0], signal.SIGKILL)
        told(process, r"(worker stopped)")
        assert ready(address)
        everybody = family(process.pid)
        stop(process)
        time.sleep(0.5)
        assert process.returncode == 0 and not [pid for pid in everybody if alive(pid)]
    finally:
        stop(process)


def test_killed_it_leaves_nothing_running(var):
    process = start(var)
    try:
        told(process, r"Knotbook is at (\S+)")
        everybody = family(process.pid)
        assert len(everybody) >= 4
    finally:
        process.kill()
    until = time.monotonic() + 15
    while time.monotonic() < until and any(alive(pid) for pid in everybody):
        time.sleep(0.2)
    assert not [pid for pid in everybody if alive(pid)]


def test_an_empty_studio_waits_for_its_owner_and_keeps_its_data(var):
    process = start(var, "--empty")
    try:
        address = told(process, r"Open your studio: (http://\S+)")
        assert "Open your studio" in get(address)[1]
    finally:
        stop(process)
    again = start(var)
    try:
        assert told(again, r"(Open your studio: http://\S+)").split("code=")[1] == address.split("code=")[1]
    finally:
        stop(again)


def test_without_any_server_jobs_wait_in_folders(monkeypatch, tmp_path):
    monkeypatch.setattr(supervisor.shutil, "which", lambda name: None)
    monkeypatch.setattr(supervisor, "_wheel_binary", lambda: None)
    assert supervisor.broker(tmp_path) == (None, "filesystem://")


def test_the_wheels_own_server_answers(monkeypatch, tmp_path):
    monkeypatch.setattr(supervisor.shutil, "which", lambda name: None)
    part, url = supervisor.broker(tmp_path)
    assert part is not None and url.startswith("redis+socket:///") and len(url) < 107
    part.start()
    try:
        until = time.monotonic() + 10
        while not part.after() and time.monotonic() < until:
            time.sleep(0.05)
        assert part.after()
    finally:
        part.signal(signal.SIGKILL)
