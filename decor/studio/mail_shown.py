"""Letters and how they stand, for pages."""

from collections.abc import Iterable
from dataclasses import dataclass

from decor.studio.mail import KIND
from decor.studio.models import BackgroundJob, Mail


@dataclass(frozen=True)
class Letter:
    """`kind` and `words` make the chip; `why` is the server's answer or what went wrong."""

    mail: Mail
    kind: str
    words: str
    why: str = ""


def letters_shown(mails: Iterable[Mail]) -> list[Letter]:
    rows = list(mails)
    jobs = BackgroundJob.objects.filter(kind=KIND, subject_id__in=[row.pk for row in rows]) if rows else ()
    of = {job.subject_id: job for job in jobs}
    return [_letter(row, of.get(row.pk)) for row in rows]


def _letter(row: Mail, job: BackgroundJob | None) -> Letter:
    if row.sent:
        return Letter(row, "ok", "Sent", row.reply)
    if job is None or job.state == BackgroundJob.State.FAILED:
        return Letter(row, "no", "Not sent", job.reason if job else "")
    return Letter(row, "wait", "Waiting", job.reason)
