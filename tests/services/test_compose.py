"""No container runs here, so each command, variable and health check of the compose file is tried outside one."""

import os
import re
import signal
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest
import yaml
from django.conf import settings
from django.db import connection

from decor.studio.supervisor import free_port, port_answers

ROOT = Path(__file__).resolve().parent.parent.parent
COMPOSE = yaml.safe_load((ROOT / "docker-compose.yml").read_text())
SERVICES = COMPOSE["services"]
OURS = ["web", "worker", "scheduler"]


def variables(text: str) -> dict[str, str]:
    """Each ${NAME…} of the file with what follows the name."""
    return dict(re.findall(r"\$\{([A-Z_]+)([^}]*)\}", text))


def test_every_service_and_volume_is_there():
    assert set(SERVICES) == {"db", "redis", *OURS}
    named = {v.split(":")[0] for s in SERVICES.values() for v in s["volumes"]}
    assert named == set(COMPOSE["volumes"])


def test_each_service_is_checked_and_waits_for_what_it_needs():
    for name, service in SERVICES.items():
        assert service["healthcheck"]["test"][0] == "CMD", name
        for needed, how in service.get("depends_on", {}).items():
            assert needed in SERVICES and how == {"condition": "service_healthy"}


def test_the_settings_are_a_handful_and_explained_at_the_top():
    text = (ROOT / "docker-compose.yml").read_text()
    head = "".join(line for line in text.splitlines(keepends=True) if line.startswith("#"))
    found = variables(text)
    assert set(found) == {"SITE_URL", "SECRET_KEY", "POSTGRES_PASSWORD", "BEHIND_PROXY", "EMAIL_URL", "MAIL_FROM"}
    assert all(name in head for name in found)
    # what has no safe default must stop the start, not start unsafely
    assert all(found[name].startswith(":?") for name in ("SITE_URL", "SECRET_KEY", "POSTGRES_PASSWORD"))


def test_what_the_program_reads_is_what_the_file_sets():
    read = (ROOT / "decor/settings.py").read_text()
    for service in OURS:
        for name in SERVICES[service]["environment"]:
            assert f'"{name}"' in read, name


def test_the_image_installs_only_what_the_lock_file_names():
    text = (ROOT / "Dockerfile").read_text()
    assert "--require-hashes" in text and "USER desk" in text
    for package in ("libpangoft2-1.0-0", "libharfbuzz-subset0"):
        assert package in text and package in (ROOT / "run").read_text()


def environment(tmp_path: Path, port: int) -> dict[str, str]:
    """As in the container, but with this machine's database and Redis and another port."""
    given = {
        "SITE_URL": f"https://127.0.0.1:{port}",
        "SECRET_KEY": "k" * 50,
        "BEHIND_PROXY": "true",
        "DATABASE_URL": os.environ["DATABASE_URL"].rsplit("/", 1)[0] + "/" + connection.settings_dict["NAME"],
        "REDIS_URL": settings.REDIS_URL,
        "KNOTBOOK_VAR": str(tmp_path),
        "KNOTBOOK_SWEEP_SECONDS": "1",
    }
    kept = {k: v for k, v in os.environ.items() if k not in {"PYTEST_VERSION", "PYTEST_CURRENT_TEST"}}
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    return {**kept, **given, "PATH": path}


def wait(condition, seconds: float = 40) -> bool:
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if condition():
            return True
        time.sleep(0.2)
    return False


@pytest.mark.services
@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif(
    "DATABASE_URL" not in os.environ or not settings.REDIS_URL, reason="runs with PostgreSQL and Redis only"
)
def test_the_commands_start_and_the_health_checks_pass(tmp_path):
    port = free_port("127.0.0.1", 8600)
    env, running = environment(tmp_path, port), []
    try:
        for name in OURS:
            command = [part.replace("0.0.0.0:8000", f"127.0.0.1:{port}") for part in SERVICES[name]["command"]]
            running.append(subprocess.Popen(command, cwd=ROOT, env=env, start_new_session=True))
            if name == "web":
                assert wait(lambda: port_answers("127.0.0.1", port))
        checks = {name: SERVICES[name]["healthcheck"]["test"][1:] for name in OURS}
        checks["web"] = [part.replace(":8000", f":{port}") for part in checks["web"]]
        for name, command in checks.items():
            healthy = wait(lambda c=command: subprocess.run(c, cwd=ROOT, env=env, capture_output=True).returncode == 0)
            assert healthy, f"{name} does not become healthy"
        ready = urllib.request.Request(f"http://127.0.0.1:{port}/readyz", headers={"Host": f"127.0.0.1:{port}"})
        assert b'"worker": true' in urllib.request.urlopen(ready, timeout=5).read()
        assert (tmp_path / "setup_code").stat().st_mode & 0o777 == 0o600
    finally:
        for process in reversed(running):
            os.killpg(process.pid, signal.SIGTERM)
        for process in running:
            process.wait(30)
