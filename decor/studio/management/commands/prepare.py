"""Bring the database and the static files up to date; on the first start make the demo studio, or with --empty
the code that lets the owner in."""

import secrets

from django.conf import settings
from django.core.management import BaseCommand, call_command

from decor.studio.models import Studio


class Command(BaseCommand):
    help = __doc__

    def add_arguments(self, parser) -> None:
        parser.add_argument("--empty", action="store_true", help="a real studio instead of the demo")

    def handle(self, *args, **options) -> None:
        call_command("migrate", verbosity=0, interactive=False)
        call_command("collectstatic", verbosity=0, interactive=False)
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
