"""Background-job rows. The row is the truth and Celery carries its id, so a lost or doubled message changes
nothing: what should have run is found by the sweep, and what has run is not counted twice."""

import logging
import secrets
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import timedelta
from threading import Event, Thread

from celery import current_app
from django.conf import settings
from django.db import DatabaseError, connection, transaction
from django.db.models import F, Q, QuerySet
from django.utils import timezone

from decor.studio.models import BackgroundJob, Heartbeat

log = logging.getLogger(__name__)

Progress = Callable[[float, str], None]
# A handler computes without a transaction and gives back what writes the result; that runs once, in the
# same transaction that marks the job done.
Handler = Callable[[int, Progress], Callable[[], None]]

MOST_ATTEMPTS = 5
USUAL_WAITS = tuple(timedelta(seconds=2**tries) for tries in range(1, MOST_ATTEMPTS))
WORKER_LOST = f"The worker was lost {MOST_ATTEMPTS} times while it was at this: too little memory, or too much work."
State = BackgroundJob.State


class TryLater(Exception):
    """Nothing is wrong with the input; somebody else is not ready. `waits` says how long to wait after each try; once
    they are used up the job has failed."""

    def __init__(self, reason: str, waits: Sequence[timedelta]) -> None:
        self.waits = waits
        super().__init__(reason)


def job_request(*, kind: str, subject_id: int, input_key: str) -> BackgroundJob:
    """The job of this input, made now or found again. A failed one is queued anew."""
    with transaction.atomic():
        job, made = BackgroundJob.objects.get_or_create(kind=kind, subject_id=subject_id, input_key=input_key)
        if not made and job.state == State.FAILED:
            job = job_retry(job=job)
        elif made:
            transaction.on_commit(lambda: _send(job.pk))
    return job


def job_retry(*, job: BackgroundJob) -> BackgroundJob:
    """Queued anew, once: a second tap finds it queued or running already and leaves it alone."""
    failed = BackgroundJob.objects.filter(pk=job.pk, state=State.FAILED)
    if failed.update(
        state=State.QUEUED, attempts=0, reason="", lease_until=None, progress_percent=0, progress_text="", finished=None
    ):
        transaction.on_commit(lambda: _send(job.pk))
    job.refresh_from_db()
    return job


def _send(job_id: int) -> None:
    try:
        current_app.send_task("jobs.background_run", args=[job_id], retry=False)
    except Exception:
        # The row is committed; the sweep sends it again once the broker is back.
        log.warning("job %s could not be sent yet", job_id, exc_info=True)


def job_claim(*, job_id: int) -> BackgroundJob | None:
    """One conditional UPDATE: whoever changes the row has the job, everybody else has nothing to do."""
    now, token = timezone.now(), secrets.token_hex(16)
    free = Q(state=State.QUEUED) & (Q(lease_until__isnull=True) | Q(lease_until__lte=now))
    abandoned = Q(state=State.RUNNING, lease_until__lte=now, attempts__lt=MOST_ATTEMPTS)
    claimed = (
        BackgroundJob.objects.filter(pk=job_id)
        .filter(free | abandoned)
        .update(
            state=State.RUNNING,
            attempts=F("attempts") + 1,
            lease_token=token,
            lease_until=now + timedelta(seconds=settings.BACKGROUND_LEASE_SECONDS),
        )
    )
    return BackgroundJob.objects.get(pk=job_id) if claimed else None


def job_run(*, job_id: int, handlers: Mapping[str, Handler]) -> None:
    job = job_claim(job_id=job_id)
    if job is None:
        return
    mine = BackgroundJob.objects.filter(pk=job.pk, lease_token=job.lease_token, state=State.RUNNING)

    def progress(fraction: float, text: str) -> None:
        mine.update(
            progress_percent=min(99, round(fraction * 100)),
            progress_text=text[:120],
            lease_until=timezone.now() + timedelta(seconds=settings.BACKGROUND_LEASE_SECONDS),
        )

    try:
        if job.kind not in handlers:
            raise ValueError(f"This program does not know the job “{job.kind}”; a newer one asked for it.")
        with _lease_held(mine):
            write_result = handlers[job.kind](job.subject_id, progress)
        with transaction.atomic():
            now = timezone.now()
            if mine.update(state=State.DONE, progress_percent=100, finished=now, lease_until=None):
                write_result()
    except ValueError as refusal:
        # Bad input stays bad: trying again would only delay the message.
        mine.update(state=State.FAILED, reason=_plain(str(refusal)), finished=timezone.now(), lease_until=None)
    except TryLater as later:
        _job_failed(job=job, reason=str(later), waits=later.waits)
    except Exception as error:
        log.exception("job %s failed", job.pk)
        _job_failed(job=job, reason=f"{type(error).__name__}: {error}")


@contextmanager
def _lease_held(mine: QuerySet[BackgroundJob]) -> Iterator[None]:
    """Renews the lease while the handler computes, however long it says nothing: another worker would otherwise
    begin anew, and this one's work would be for nothing. Dies with the process, as it must."""
    over = Event()
    thread = Thread(target=_renew, args=(mine, over), daemon=True)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


def _renew(mine: QuerySet[BackgroundJob], over: Event) -> None:
    try:
        while not over.wait(settings.BACKGROUND_LEASE_SECONDS / 3):
            if not mine.update(lease_until=timezone.now() + timedelta(seconds=settings.BACKGROUND_LEASE_SECONDS)):
                return
            heartbeat(name="worker")
    except DatabaseError:
        log.warning("the lease of a job could not be renewed", exc_info=True)
    finally:
        connection.close()


def _plain(reason: str) -> str:
    """What can be kept: an accident's own words can be anything."""
    return reason.replace("\0", "")[:2000]


def _job_failed(*, job: BackgroundJob, reason: str, waits: Sequence[timedelta] = USUAL_WAITS) -> None:
    mine = BackgroundJob.objects.filter(pk=job.pk, lease_token=job.lease_token, state=State.RUNNING)
    if job.attempts > len(waits):
        mine.update(state=State.FAILED, reason=_plain(reason), finished=timezone.now(), lease_until=None)
    else:
        wait = waits[job.attempts - 1]
        mine.update(state=State.QUEUED, reason=_plain(reason), lease_until=timezone.now() + wait)


def job_sweep() -> int:
    """Send again what waits without a worker: never sent, lost on the way, or its worker is gone."""
    now = timezone.now()
    waiting = Q(state=State.QUEUED, created__lt=now - timedelta(seconds=2)) & (
        Q(lease_until__isnull=True) | Q(lease_until__lte=now)
    )
    abandoned = Q(state=State.RUNNING, lease_until__lte=now)
    # A job that takes its worker with it each time must not do so for ever.
    BackgroundJob.objects.filter(abandoned, attempts__gte=MOST_ATTEMPTS).update(
        state=State.FAILED, reason=WORKER_LOST, finished=now, lease_until=None
    )
    found = list(BackgroundJob.objects.filter(waiting | abandoned).values_list("pk", flat=True)[:200])
    for job_id in found:
        _send(job_id)
    heartbeat(name="scheduler")
    return len(found)


def heartbeat(*, name: str) -> None:
    Heartbeat.objects.update_or_create(name=name, defaults={"seen": timezone.now()})


def worker_is_alive() -> bool:
    return Heartbeat.objects.filter(name="worker", seen__gte=timezone.now() - timedelta(seconds=90)).exists()
