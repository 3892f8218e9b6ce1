from decimal import Decimal

from django.urls import reverse

from jobs.estimates.known import Known
from jobs.estimates.models import Estimate
from jobs.estimates.shown import hours_words, price_words
from jobs.events.models import ENDED, Event
from jobs.events.rows import Row

FIRST, FAILED, OLDER, WONT_WORK = 30, 45, 40, 80


def glance_row(event: Event, known: Known | None = None) -> Row:
    """Price and hours of one event, for its page."""
    known = known or Known(event)
    estimate = known.newest
    url = reverse("jobs:event-estimate", args=[event.pk])
    ended = event.stage in ENDED
    if estimate is None:
        act = None if ended else ("Estimate it", url)
        return Row("Price", "Not estimated yet", url=url, act=act, urgency=FIRST if act else 0)
    if estimate.result is None:
        return _unfinished(estimate, url)
    stands, small = _figures(estimate)
    problems = estimate.result["problems"]
    if problems and known.is_current and not ended:
        act = ("See what won't work", url)
        return Row("Price", stands, f"{problems[0]['says']}.", "no", "Won't work", url, act, WONT_WORK)
    if ended or known.is_current:
        return Row("Price", stands, small, state="ok", state_words="Estimated", url=url)
    return Row(
        "Price",
        stands,
        f"{small}; the event, a price or a rate changed since",
        state="warn",
        state_words="Older",
        url=url,
        act=("Estimate again", url),
        urgency=OLDER,
    )


def _unfinished(estimate: Estimate, url: str) -> Row:
    job = estimate.job
    if job is None or job.state == job.State.FAILED:
        reason = job.reason if job else "its worker was lost"
        return Row(
            "Price",
            "Could not be worked out",
            reason,
            "no",
            "Failed",
            url,
            ("See why the estimate failed", url),
            FAILED,
        )
    return Row("Price", "Being worked out", "figures come in a moment", "wait", "Working", url)


def _figures(estimate: Estimate) -> tuple[str, str]:
    result = estimate.result or {}
    currency = estimate.inputs["prices"]["currency"]
    price = price_words(Decimal(result["price_from"]), Decimal(result["price_to"]), currency)
    return f"{price} with tax", f"{hours_words(result)} of work"
