"""Celery's doors into the services: each three lines."""

from celery import shared_task
from django.utils import timezone

from decor.studio import background, requests, services
from jobs.designs import books
from jobs.estimates import services as estimates

HANDLERS: dict[str, background.Handler] = {
    "build book": books.book_make,
    estimates.KIND: estimates.estimate_compute,
}


@shared_task(name="jobs.background_run")
def background_run(job_id: int) -> None:
    background.job_run(job_id=job_id, handlers=HANDLERS)


@shared_task(name="jobs.background_sweep", expires=30)
def background_sweep() -> None:
    background.job_sweep()
    background.heartbeat(name="worker")


@shared_task(name="jobs.daily_sweep", expires=3600)
def daily_sweep() -> None:
    now = timezone.now()
    services.sessions_sweep(now=now)
    services.files_sweep(now=now)
    requests.keys_sweep(now=now)
