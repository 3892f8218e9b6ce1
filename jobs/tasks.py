"""Celery's doors into the services: each three lines."""

from celery import shared_task
from django.utils import timezone

from decor.studio import background, commands, mail, requests, services
from inventory import holds, photos
from inventory.tables import services as imports
from jobs.designs import books
from jobs.designs.sheets import keeping
from jobs.desk import following, waiting
from jobs.estimates import services as estimates

HANDLERS: dict[str, background.Handler] = {
    "build book": books.book_make,
    estimates.KIND: following.estimate_compute,
    following.ESTIMATED: following.estimated_compute,
    following.KIND: following.follow_compute,
    keeping.KIND: following.plan_compute,
    mail.KIND: mail.mail_compute,
    waiting.KIND: waiting.all_follow_compute,
    **imports.HANDLERS,
}


@shared_task(name="jobs.background_run")
def background_run(job_id: int) -> None:
    background.job_run(job_id=job_id, handlers=HANDLERS)


@shared_task(name="jobs.background_sweep", expires=30)
def background_sweep() -> None:
    background.job_sweep()
    background.heartbeat(name="worker")


@shared_task(name="jobs.holds_sweep", expires=60)
def holds_sweep() -> None:
    holds.holds_tell(now=timezone.now())


@shared_task(name="jobs.daily_sweep", expires=3600)
def daily_sweep() -> None:
    now = timezone.now()
    services.sessions_sweep(now=now)
    services.files_sweep(now=now)
    requests.keys_sweep(now=now)
    commands.commands_sweep(now=now)
    mail.mails_sweep(now=now)
    imports.imports_sweep(now=now)
    photos.photos_sweep(now=now)
    waiting.all_follow_later()
