"""Make the demo studio: one invented studio with a few weeks of invented work."""

from django.conf import settings
from django.core.management import BaseCommand, CommandError
from django.db import transaction
from django.utils import timezone

from decor.studio.models import Studio
from jobs.management.demo import events, people, stock


class Command(BaseCommand):
    help = __doc__

    def handle(self, *args, **options) -> None:
        if Studio.objects.exists():
            raise CommandError("There is a studio already; the demo is only made in an empty database.")
        now = timezone.now()
        with transaction.atomic():
            people.open_studio()
            users = people.hire(settings.VAR_DIR / "demo_logins", now)
            stock.fill_store(now.date())
            events.work(now, users)
