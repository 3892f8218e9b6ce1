"""The one command: it serves, it heals, and it leaves nothing behind."""

import os
import re
import shutil
import signal
import socket
import sys
import time
from pathlib import Path

import pytest

from decor.studio import supervisor
from tests.services.serving import alive, family, get, ready, start, stop, told

pytestmark = pytest.mark.services


@pytest.fixture
def var(tmp_path):
    return tmp_path / "var"


def words_of(pid: int) -> list[str]:
    return Path(f"/proc/{pid}/cmdline").read_text().split("\0")


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
        second = start(var)
        told(second, r"(is served already)")
        assert second.wait(20) == 1 and ready(address), "two would share one broker's folder"
        everybody = family(process.pid)
        (listens,) = {found for pid in everybody for found in re.findall(r"/\S*/desk-\w+/s\b", " ".join(words_of(pid)))}
        worker = [pid for pid in everybody if "celery" in words_of(pid) and "worker" in words_of(pid)]
        os.kill(worker[0], signal.SIGKILL)
        told(process, r"(worker stopped)")
        assert ready(address)
        everybody = family(process.pid)
        stop(process)
        time.sleep(0.5)
        assert process.returncode == 0 and not [pid for pid in everybody if alive(pid)]
        assert not Path(listens).parent.exists(), "its socket's folder goes with it"
    finally:
        stop(process)


@pytest.mark.parametrize("bind", ["127.0.0.1", "127.0.0.1:web", ""])
def test_an_address_to_listen_on_that_is_none_is_refused_in_words(var, bind):
    process = start(var, SITE_URL="http://127.0.0.1:8000", KNOTBOOK_BIND=bind)
    told(process, r"(KNOTBOOK_BIND must be an address and a port)")
    assert process.wait(30) == 1


def test_a_port_that_something_else_has_is_refused_in_words(var):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        bind = f"127.0.0.1:{taken.getsockname()[1]}"
        process = start(var, SITE_URL=f"http://{bind}", KNOTBOOK_BIND=bind)
        told(process, rf"(Something else answers at {bind} already)")
        assert process.wait(30) == 1


def test_a_part_that_does_not_start_stops_the_others(capfd, tmp_path):
    folder = tmp_path / "scratch"
    folder.mkdir()
    first = supervisor.Part("first", ["sleep", "60"], scratch=folder)
    second = supervisor.Part("second", [sys.executable, "-c", "raise SystemExit(3)"], after=lambda: False)
    told_ready = []
    before = {number: signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)}
    try:
        assert supervisor.Supervisor([first, second]).run(lambda: told_ready.append(True)) is False
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
    assert "second stopped with code 3 while starting" in capfd.readouterr().err
    assert first.process.poll() is not None and not told_ready and not folder.exists()


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
        shutil.rmtree(part.scratch)
