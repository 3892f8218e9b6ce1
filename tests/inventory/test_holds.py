"""Holds say that they lapse, each thing once, whatever is doubled, late or begun anew."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Barrier

import pytest
from django.core import mail as outbox
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from decor.studio import background, mail
from decor.studio.models import BackgroundJob, Mail
from inventory import holds
from inventory.models import HoldNotice, Reservation
from inventory.services import reservation_change, reservation_confirm, reservation_hold, reservation_release
from jobs.tasks import HANDLERS, holds_sweep
from tests.inventory.conftest import day, on_shelf, stock

END = day(10, 12)
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


@pytest.fixture
def on(settings, monkeypatch):
    settings.MAIL_ON = True
    monkeypatch.setattr(background, "_send", lambda job_id: None)


@pytest.fixture
def held(sky, pole) -> Reservation:
    stock(sky, 500), stock(pole, 5)
    lines = [(sky.pk, 120), (pole.pk, 2)]
    return reservation_hold(lines=lines, starts=day(20), ends=day(22), label="Harbour supper", expires=END)


def said(at) -> list[str]:
    return [notice.kind for notice in holds.holds_tell(now=at)]


def walk(first, last, step=timedelta(minutes=10)) -> list[tuple[timedelta, str]]:
    """What is said while the clock goes on, and how long before the end."""
    found, at = [], first
    while at <= last:
        found += [(END - at, kind) for kind in said(at)]
        at += step
    return found


def test_two_days_before_two_hours_before_and_once_it_has(held):
    told = walk(END - 5 * DAY, END + 2 * DAY)
    assert told == [(2 * DAY, "days"), (2 * HOUR, "hours"), (0 * HOUR, "lapsed")]


def test_said_once_whatever_is_doubled(held):
    for _ in range(3):
        said(END - 2 * DAY)
    assert HoldNotice.objects.count() == 1


def test_two_workers_at_the_same_moment_say_it_once(held, monkeypatch):
    """The second has read that nothing was said before the first has written that it was."""
    rows = list(holds._ending(END - DAY))
    assert holds._tell(Reservation.objects.get(pk=held.pk), END - DAY) is not None
    assert holds._tell(rows[0], END - DAY) is None
    assert HoldNotice.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_four_sweeps_at_once_say_it_once(on, studio, held):
    start = Barrier(4)

    def sweep(_: int) -> int:
        try:
            start.wait()
            return len(holds.holds_tell(now=END - DAY))
        finally:
            connection.close()

    with ThreadPoolExecutor(4) as pool:
        told = list(pool.map(sweep, range(4)))
    assert sum(told) == HoldNotice.objects.count() == Mail.objects.count() == 1


def test_after_a_day_without_the_program_only_what_is_still_true_is_said(held):
    assert said(END - 30 * HOUR) == ["days"]
    assert said(END - HOUR) == ["hours"]
    HoldNotice.objects.all().delete()
    assert said(END + HOUR) == ["lapsed"]
    HoldNotice.objects.all().delete()
    assert said(END + 8 * DAY) == []


@pytest.mark.parametrize(
    "made, expected",
    [
        (timedelta(days=2, minutes=1), ["days", "hours", "lapsed"]),
        (timedelta(days=2), ["days", "hours", "lapsed"]),
        (timedelta(hours=47), ["hours", "lapsed"]),
        (timedelta(hours=1), ["lapsed"]),
    ],
)
def test_a_hold_that_was_made_with_less_to_go_skips_what_is_past(held, made, expected):
    Reservation.objects.update(end_set=END - made)
    assert [kind for _, kind in walk(END - made, END + DAY)] == expected


@pytest.mark.parametrize("act", [reservation_confirm, reservation_release])
def test_nothing_is_said_once_it_is_settled(held, act):
    act(reservation=held)
    assert walk(END - 3 * DAY, END + DAY, HOUR) == []


def test_confirmed_between_the_look_and_the_word(held):
    stale = holds._ending(END - DAY)[0]
    reservation_confirm(reservation=held)
    assert holds._tell(stale, END - DAY) is None and not HoldNotice.objects.exists()


def test_nothing_is_said_of_an_event_that_is_over(held):
    Reservation.objects.update(starts=END - 2 * DAY, ends=END - HOUR)
    assert said(END) == []


def test_a_hold_that_lasts_longer_says_so_anew_for_its_new_end(sky):
    on_shelf(sky, 500)
    now = timezone.now()
    starts, lines = now + timedelta(days=30), [(sky.pk, 10)]
    held = reservation_hold(lines=lines, starts=starts, ends=starts + DAY, label="Supper", expires=now + 3 * DAY)
    assert said(now + DAY + HOUR) == ["days"]
    span = {"starts": held.starts, "ends": held.ends}
    reservation_change(reservation=held, lines=lines, **span)
    assert said(now + DAY + HOUR) == []
    reservation_change(reservation=held, lines=lines, **span, expires=now + 9 * DAY)
    assert said(now + DAY + HOUR) == [] and said(now + 7 * DAY + HOUR) == ["days"]
    # less than two days from now on: whoever says so knows it
    reservation_change(reservation=held, lines=lines, **span, expires=now + DAY)
    assert said(now + HOUR) == [] and said(now + 23 * HOUR) == ["hours"]
    assert [n.kind for n in HoldNotice.objects.all()] == ["days", "days", "hours"]


def test_owner_and_planners_get_a_letter_each(on, held, owner, planner, crew_user):
    for user in (owner, planner, crew_user):
        user.email = f"{user.username}@works.example"
        user.save()
    said(END - 2 * DAY), said(END - 2 * DAY)
    assert sorted(Mail.objects.values_list("to", flat=True)) == ["olive@works.example", "pat@works.example"]
    Mail.objects.update(not_after=None)
    for job in BackgroundJob.objects.filter(kind=mail.KIND):
        background.job_run(job_id=job.pk, handlers=HANDLERS)
    assert len(outbox.outbox) == 2
    letter = outbox.outbox[0]
    # 12:00 in UTC is 13:00 of the studio's own summer
    assert letter.subject == "The hold for Harbour supper ends Sun 11 May, 13:00"
    assert "120 × 5 in sky\n2 × Pole, 2 m" in letter.body and letter.reply_to == [
        "Saltmarsh Balloon Works <desk@saltmarsh.example>"
    ]


def test_a_hold_of_nothing_yet_promises_no_free_things(on, studio):
    reservation_hold(lines=[], starts=day(20), ends=day(22), label="Harbour supper", expires=END, waits=True)
    told = [holds.letter_of(notice)[1] for at in (END - 2 * DAY, END) for notice in holds.holds_tell(now=at)]
    assert len(told) == 2 and "none was free" in told[0] and "waits no more" in told[1]
    assert not any("free for other events" in text or "It holds:" in text for text in told)


def test_a_warning_is_worth_nothing_after_the_end_and_a_lapse_is_told_for_a_day(on, held, studio):
    said(END - 2 * HOUR)
    assert Mail.objects.get().not_after == END
    said(END)
    last = Mail.objects.first()
    assert last.not_after == END + DAY and "has lapsed" in last.subject and last.to == "desk@saltmarsh.example"


def test_without_mail_it_is_known_in_the_program_only(held, studio):
    assert said(END - 2 * DAY) == ["days"] and not Mail.objects.exists()


def test_a_letter_that_can_not_be_written_is_no_word_that_was_said(on, held, studio, monkeypatch):
    def broken(**letter):
        raise RuntimeError("no room left")

    monkeypatch.setattr(mail, "mail_write", broken)
    with pytest.raises(RuntimeError):
        said(END - DAY)
    monkeypatch.undo()
    assert not HoldNotice.objects.exists() and said(END - DAY) == ["days"]


def test_the_scheduler_asks_for_it_every_minute(held, settings):
    plan = settings.CELERY_BEAT_SCHEDULE["holds"]
    assert plan == {"task": holds_sweep.name, "schedule": 60}
    assert {one["task"] for one in settings.CELERY_BEAT_SCHEDULE.values()} <= holds_sweep.app.tasks.keys()
    now = timezone.now()
    Reservation.objects.update(end_set=now - 3 * DAY, expires=now + HOUR)
    holds_sweep()
    assert HoldNotice.objects.get().kind == "hours"


def test_a_sweep_with_nothing_to_say_asks_twice(held):
    said(END - DAY)
    with CaptureQueriesContext(connection) as captured:
        said(END - DAY)
    assert len(captured) == 2


@pytest.mark.parametrize(
    "minutes, words",
    [(0, "0 minutes"), (1, "1 minute"), (99, "99 minutes"), (100, "2 hours"), (1439, "1 day"), (2700, "1 day 21 h")],
)
def test_how_long_is_left(minutes, words):
    assert holds.left_words(timedelta(minutes=minutes)) == words
