"""Events that wait for what they need beyond their promise get it when the stock rises: by the worker, the nearest
event first, each all that it lacks or nothing, as whoever changes a design.

It comes to an end: an event that was followed waits no more, and one that could not be followed changed nothing. What a
followed one gives back may serve the others, so it is said as every rise is, and the worker looks once more."""

import secrets
from collections.abc import Callable

from django.db import transaction

from decor.studio.background import Progress, job_request
from inventory.models import Hardware
from jobs.desk.following import WAITING, follow_quietly, job_waits
from jobs.desk.models import Unmet
from jobs.desk.unmet import waiting

KIND = WAITING
EVERYBODY = 0
"""The job's subject: one row however many events wait, so that they are taken in their order."""


def stock_rose(item_ids: set[int]) -> None:
    """For the store, in the transaction in which it rose."""
    lines = (line for row in Unmet.objects.values_list("beyond", flat=True) for line in row)
    wanted = {pk for line in lines for pk in (line["item"], *line.get("or", ()))}
    if wanted & item_ids or _alike(wanted, item_ids):
        all_follow_later()


def _alike(wanted: set[int], item_ids: set[int]) -> bool:
    """Whether some of it is hardware of a purpose that is waited for: a note names what served when it was written, and
    not what the studio took into stock since."""
    purposes = Hardware.objects.filter(pk__in=wanted).values_list("purpose", flat=True) if wanted else ()
    return bool(purposes) and Hardware.objects.filter(pk__in=item_ids, purpose__in=set(purposes)).exists()


@transaction.atomic
def all_follow_later() -> None:
    if not job_waits(KIND, EVERYBODY):
        job_request(kind=KIND, subject_id=EVERYBODY, input_key=secrets.token_hex(16))


def all_follow_compute(subject: int, progress: Progress) -> Callable[[], None]:
    """For the worker. Each event in a transaction of its own: a large panel takes a while, and nobody should wait for
    its neighbours' locks. Done twice it changes nothing more."""
    events = [row.event_id for row in waiting()]
    for number, event_id in enumerate(events):
        progress(number / len(events), "")
        follow_quietly(event_id)
    return lambda: None
