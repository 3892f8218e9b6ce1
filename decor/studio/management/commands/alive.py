"""Was this part (worker, scheduler) seen lately? Exit code 0 or 1, for a health check."""

from datetime import timedelta

from django.core.management import BaseCommand, CommandError
from django.utils import timezone

from decor.studio.models import Heartbeat


class Command(BaseCommand):
    help = __doc__

    def add_arguments(self, parser) -> None:
        parser.add_argument("part", choices=["worker", "scheduler"])
        parser.add_argument("--seconds", type=int, default=90)

    def handle(self, *args, **options) -> None:
        since = timezone.now() - timedelta(seconds=options["seconds"])
        if not Heartbeat.objects.filter(pk=options["part"], seen__gte=since).exists():
            raise CommandError(f"{options['part']} was not seen in the last {options['seconds']} seconds")
