"""The job row is the truth: lost, doubled and late messages change nothing."""

import time
from datetime import timedelta

import pytest
from django.utils import timezone

from decor.studio import background
from decor.studio.models import BackgroundJob, Heartbeat

State = BackgroundJob.State


@pytest.fixture
def sent(monkeypatch):
    ids: list[int] = []
    monkeypatch.setattr(background, "_send", ids.append)
    return ids


def request_one(**kwargs) -> BackgroundJob:
    return background.job_request(**{"kind": "count", "subject_id": 7, "input_key": "a", **kwargs})


class Counter:
    def __init__(self) -> None:
        self.computed = self.written = 0

    def __call__(self, subject_id, progress):
        self.computed += 1
        progress(0.5, "half")

        def write() -> None:
            self.written += 1

        return write


def test_the_same_input_is_one_job_sent_after_commit(db, sent, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks(execute=True):
        first, second = request_one(), request_one()
    assert first == second and sent == [first.pk]


def test_a_doubled_message_counts_once(db, sent):
    job, counter = request_one(), Counter()
    for _ in range(3):
        background.job_run(job_id=job.pk, handlers={"count": counter})
    job.refresh_from_db()
    assert (counter.computed, counter.written, job.state, job.progress_percent) == (1, 1, State.DONE, 100)


def test_a_worker_that_lost_its_lease_writes_nothing(db, sent):
    job, counter = request_one(), Counter()

    def slow(subject_id, progress):
        write = counter(subject_id, progress)
        # meanwhile the lease ran out and another worker took the job
        BackgroundJob.objects.filter(pk=job.pk).update(lease_until=timezone.now() - timedelta(seconds=1))
        background.job_run(job_id=job.pk, handlers={"count": counter})
        return write

    background.job_run(job_id=job.pk, handlers={"count": slow})
    job.refresh_from_db()
    assert (counter.computed, counter.written, job.state) == (2, 1, State.DONE)


def test_the_sweep_finds_what_was_lost(db, sent):
    now = timezone.now()
    lost, gone, fresh = request_one(), request_one(subject_id=8), request_one(subject_id=9)
    BackgroundJob.objects.filter(pk=lost.pk).update(created=now - timedelta(seconds=30))
    BackgroundJob.objects.filter(pk=gone.pk).update(state=State.RUNNING, lease_until=now - timedelta(seconds=1))
    sent.clear()
    background.job_sweep()
    assert sorted(sent) == sorted([lost.pk, gone.pk]) and fresh.pk not in sent
    assert Heartbeat.objects.get(pk="scheduler").seen >= now


def test_bad_input_fails_at_once_with_its_reason(db, sent):
    job = request_one()

    def refuse(subject_id, progress):
        raise ValueError("a panel needs at least one cell")

    background.job_run(job_id=job.pk, handlers={"count": refuse})
    job.refresh_from_db()
    assert (job.state, job.reason) == (State.FAILED, "a panel needs at least one cell")


def test_an_accident_is_tried_five_times_then_listed(db, sent, as_owner):
    job = request_one()

    def fall(subject_id, progress):
        raise RuntimeError("disk full")

    for attempt in range(1, 6):
        BackgroundJob.objects.filter(pk=job.pk).update(lease_until=None)
        background.job_run(job_id=job.pk, handlers={"count": fall})
        job.refresh_from_db()
        assert job.attempts == attempt
        assert job.state == (State.FAILED if attempt == 5 else State.QUEUED)
    assert "disk full" in as_owner.get("/more/failed-jobs/").content.decode()
    as_owner.post(f"/more/failed-jobs/{job.pk}/retry/")
    job.refresh_from_db()
    assert (job.state, job.attempts) == (State.QUEUED, 0)


def test_a_broken_write_leaves_the_job_undone(db, sent):
    job = request_one()

    def breaks(subject_id, progress):
        def write() -> None:
            raise RuntimeError("no")

        return write

    background.job_run(job_id=job.pk, handlers={"count": breaks})
    job.refresh_from_db()
    assert job.state == State.QUEUED and job.attempts == 1


def test_a_job_that_takes_its_worker_with_it_each_time_is_given_up(db, sent):
    job = request_one()

    def lost() -> None:
        BackgroundJob.objects.filter(pk=job.pk).update(lease_until=timezone.now() - timedelta(seconds=1))

    for attempt in range(1, background.MOST_ATTEMPTS + 1):
        claimed = background.job_claim(job_id=job.pk)
        assert claimed is not None and claimed.attempts == attempt
        lost()
    assert background.job_claim(job_id=job.pk) is None
    background.job_sweep()
    job.refresh_from_db()
    assert job.state == State.FAILED and "lost 5 times" in job.reason


def test_an_unknown_kind_is_said_and_not_tried_again(db, sent):
    job = request_one(kind="fold")
    background.job_run(job_id=job.pk, handlers={})
    job.refresh_from_db()
    assert (job.state, job.attempts) == (State.FAILED, 1) and "does not know the job “fold”" in job.reason


def test_an_accident_in_words_that_no_database_keeps_is_recorded(db, sent):
    job = request_one()

    def fall(subject_id, progress):
        raise RuntimeError("bad byte \0" + "x" * 9000)

    background.job_run(job_id=job.pk, handlers={"count": fall})
    job.refresh_from_db()
    assert job.state == State.QUEUED and job.reason.startswith("RuntimeError: bad byte xxx")


def test_trying_again_twice_is_trying_again_once(db, sent, django_capture_on_commit_callbacks):
    job = request_one()
    BackgroundJob.objects.filter(pk=job.pk).update(state=State.FAILED, attempts=5)
    stale = BackgroundJob.objects.get(pk=job.pk)
    with django_capture_on_commit_callbacks(execute=True):
        background.job_retry(job=BackgroundJob.objects.get(pk=job.pk))
    claimed = background.job_claim(job_id=job.pk)
    with django_capture_on_commit_callbacks(execute=True):
        background.job_retry(job=stale)
    job.refresh_from_db()
    assert (job.state, job.lease_token) == (State.RUNNING, claimed.lease_token) and sent == [job.pk]


@pytest.mark.django_db(transaction=True)
def test_a_silent_handler_keeps_its_lease_and_shows_that_the_worker_lives(sent, settings):
    settings.BACKGROUND_LEASE_SECONDS = 0.6
    job, counter = request_one(), Counter()

    def silent(subject_id, progress):
        time.sleep(1.5)
        assert background.job_claim(job_id=job.pk) is None, "another worker took it meanwhile"
        return counter(subject_id, progress)

    background.job_run(job_id=job.pk, handlers={"count": silent})
    job.refresh_from_db()
    assert (counter.written, job.state) == (1, State.DONE) and background.worker_is_alive()
