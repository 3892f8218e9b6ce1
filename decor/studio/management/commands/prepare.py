"""Bring the database and the static files up to date; on the first start make the demo studio, or with --empty
the code that lets the owner in."""

import hashlib
import secrets
from importlib.metadata import version
from pathlib import Path

import django
from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.core.management import BaseCommand, call_command

from decor.studio.models import Studio


class Command(BaseCommand):
    help = __doc__
    requires_system_checks = []

    def add_arguments(self, parser) -> None:
        parser.add_argument("--empty", action="store_true", help="a real studio instead of the demo")

    def handle(self, *args, **options) -> None:
        call_command("migrate", verbosity=0, interactive=False)
        self._static()
        code = settings.VAR_DIR / "setup_code"
        if Studio.objects.exists():
            return
        if options["empty"] or code.exists():
            if not code.exists():
                code.touch(mode=0o600)
                code.write_text(secrets.token_urlsafe(9))
            self.stdout.write(f"Open your studio: {settings.SITE_URL}/first-run/?code={code.read_text().strip()}")
        else:
            call_command("demo")

    def _static(self) -> None:
        """Copying and compressing takes longer than all the rest, so only when a file changed."""
        stamp, now = settings.VAR_DIR / "static_stamp", _static_stamp()
        if stamp.exists() and stamp.read_text() == now and (settings.STATIC_ROOT / "staticfiles.json").exists():
            return
        call_command("collectstatic", verbosity=0, interactive=False)
        stamp.write_text(now)


def _static_stamp() -> str:
    found = hashlib.sha256(f"{django.__version__} {version('whitenoise')} {settings.STORAGES}".encode())
    for finder in get_finders():
        for name, storage in sorted(finder.list([]), key=lambda pair: pair[0]):
            about = Path(storage.path(name)).stat()
            found.update(f"{name} {about.st_size} {about.st_mtime_ns}\n".encode())
    return found.hexdigest()
