"""The program as it is served, in processes of its own."""

import os
import re
import select
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

from decor.studio import supervisor

# Two test processes looking for a free port at the same moment would find the same one.
FIRST_PORT = 8700 + 40 * int(os.environ.get("PYTEST_XDIST_WORKER", "gw0")[2:])
ROOT = Path(__file__).resolve().parent.parent.parent


def start(var: Path, *words: str, **env: str) -> subprocess.Popen:
    drop = {"PYTEST_VERSION", "PYTEST_CURRENT_TEST", "DATABASE_URL", "REDIS_URL", "SITE_URL", "KNOTBOOK_VAR"}
    kept = {k: v for k, v in os.environ.items() if k not in drop}
    return subprocess.Popen(
        [sys.executable, "manage.py", "up", "--port", str(supervisor.free_port("127.0.0.1", FIRST_PORT)), *words],
        cwd=ROOT,
        env={**kept, "KNOTBOOK_VAR": str(var), "KNOTBOOK_SWEEP_SECONDS": "1", **env},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        start_new_session=True,
    )


def told(process: subprocess.Popen, pattern: str, seconds: float = 90) -> str:
    """Waits for these words; a program that stays silent must fail the test, not hold it up for ever."""
    said, until = getattr(process, "said", ""), time.monotonic() + seconds
    if found := re.search(pattern, said):
        return found.group(1)
    assert process.stdout is not None
    while (left := until - time.monotonic()) > 0:
        if not select.select([process.stdout], [], [], min(left, 1.0))[0]:
            continue
        chunk = os.read(process.stdout.fileno(), 65536).decode(errors="replace")
        said += chunk
        # Whole lines only: an address must not be read while half of it is still on its way.
        if found := re.search(pattern, said[: said.rfind("\n") + 1]):
            process.said = said[found.end() :]  # type: ignore[attr-defined]
            return found.group(1)
        if not chunk and process.poll() is not None:
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
