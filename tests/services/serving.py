"""The program as it is served, in processes of its own."""

import os
import re
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

from decor.studio import supervisor

ROOT = Path(__file__).resolve().parent.parent.parent


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
        with urllib.request.urlopen(address, timeout=30) as answer:
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


def stop(process: subprocess.Popen) -> None:
    if process.poll() is None:
        process.send_signal(signal.SIGTERM)
        process.wait(40)
