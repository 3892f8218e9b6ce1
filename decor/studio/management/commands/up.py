"""Serve the studio: database, static files, then broker, worker, scheduler and web, together."""

import io
import os
import sys
from pathlib import Path

from django.conf import settings
from django.core.management import BaseCommand, CommandError, call_command

from decor.studio import supervisor
from decor.studio.models import Studio


class Command(BaseCommand):
    help = __doc__
    # They look for mistakes in the code, as the tests do, and read every page's module for it.
    requires_system_checks = []

    def add_arguments(self, parser) -> None:
        parser.add_argument("--empty", action="store_true", help="a real studio instead of the demo")
        parser.add_argument("--lan", action="store_true", help="also for phones on this network")
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *args, **options) -> None:
        if not supervisor.only_one(settings.VAR_DIR):
            where = _short(settings.VAR_DIR)
            raise CommandError(f"{where} is served already. Stop that first, or name another folder in KNOTBOOK_VAR.")
        host, address = self._address(lan=options["lan"], port=options["port"])
        call_command("prepare", empty=options["empty"], stdout=io.StringIO())
        os.environ["SITE_URL"] = address
        parts, logs = self._parts(host), settings.VAR_DIR / "log"
        logs.mkdir(exist_ok=True)
        for part in parts:
            part.log = logs / f"{part.name}.log"
        if not supervisor.Supervisor(parts).run(lambda: self._say(address, lan=options["lan"])):
            raise CommandError(f"The studio could not be served. What was said is in {_short(logs)}.")

    def _address(self, *, lan: bool, port: int) -> tuple[str, str]:
        if "SITE_URL" in os.environ and not lan:
            return _free(os.environ.get("KNOTBOOK_BIND", f"127.0.0.1:{port}")), settings.SITE_URL
        bind = "0.0.0.0" if lan else "127.0.0.1"
        try:
            port = supervisor.free_port(bind, port)
            here = supervisor.lan_address() if lan else "127.0.0.1"
        except RuntimeError as trouble:
            raise CommandError(f"There is {trouble}. Name another with --port.") from trouble
        except OSError as trouble:
            raise CommandError("This machine is on no network: leave --lan out, or connect it first.") from trouble
        return f"{bind}:{port}", f"http://{here}:{port}"

    def _parts(self, bind: str) -> list[supervisor.Part]:
        parts = []
        if not settings.REDIS_URL:
            part, url = supervisor.broker(settings.VAR_DIR)
            os.environ["KNOTBOOK_BROKER"] = url
            if part:
                parts.append(part)
            else:
                self.stderr.write("No Redis server found: jobs wait in folders, and start a few seconds later.")
        host, port = bind.rsplit(":", 1)
        here = "127.0.0.1" if host == "0.0.0.0" else host
        web = [*PYTHON, "gunicorn", "decor.wsgi", "--bind", bind, "--log-level", "warning", *WEB_FLAGS]
        return [
            *parts,
            supervisor.Part("web", web, after=lambda: supervisor.port_answers(here, int(port))),
            supervisor.Part("worker", [*PYTHON, "celery", "-A", "decor", "worker", *WORKER_FLAGS]),
            supervisor.Part("scheduler", [*PYTHON, "celery", "-A", "decor", "beat", *BEAT_FLAGS]),
        ]

    def _say(self, address: str, *, lan: bool) -> None:
        code, demo = settings.VAR_DIR / "setup_code", settings.VAR_DIR / "demo_logins"
        self.stdout.write(f"\n  Knotbook is at {address}\n")
        if not Studio.objects.exists():
            self.stdout.write(f"  Open your studio: {address}/first-run/?code={code.read_text().strip()}\n")
        elif demo.exists():
            self.stdout.write("  A demo studio; sign in as\n" + demo.read_text())
        if lan:
            self.stdout.write("  This network only, without https: no offline day sheet, no stay-awake.\n")
        self.stdout.write("  Stop with Ctrl-C. Everything is kept in " + _short(settings.VAR_DIR) + ", logs too.\n")
        self.stdout.flush()


def _free(bind: str) -> str:
    host, _, port = bind.rpartition(":")
    if not host or not port.isdigit():
        raise CommandError(f"KNOTBOOK_BIND must be an address and a port, as 127.0.0.1:8000: {bind}")
    if supervisor.port_answers("127.0.0.1" if host == "0.0.0.0" else host, int(port)):
        raise CommandError(f"Something else answers at {bind} already. Name another in KNOTBOOK_BIND.")
    return bind


def _short(path: Path) -> str:
    return str(path.relative_to(Path.cwd())) if path.is_relative_to(Path.cwd()) else str(path)


PYTHON = [sys.executable, "-m"]
WEB_FLAGS = ["--preload", "--workers", "2", "--threads", "4", "--timeout", "60", "--graceful-timeout", "10"]
WORKER_FLAGS = ["--concurrency", "1", "--without-gossip", "--without-mingle", "--loglevel", "warning"]
BEAT_FLAGS = ["--loglevel", "warning", "--pidfile", ""]
