"""Asking for an estimate, working it out in the worker, and telling whether it still is the event's."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from decor.calc.estimate import EstimateInput, compute, input_key, to_json
from decor.studio.background import Progress, job_request
from jobs.designs.models import Piece
from jobs.estimates.inputs import Background, background_now, event_input
from jobs.estimates.models import Estimate
from jobs.estimates.needs import needs_of_input, shortages_of, stock_lines
from jobs.estimates.stored import input_from_plain, input_to_plain
from jobs.events.models import Event
from jobs.events.shelf import event_stock_span

KIND = "estimate"


def input_now(event: Event, background: Background, now: datetime) -> EstimateInput:
    """With what would have to be bought for it as the stock stands: its upper price depends on that.

    Raises ValueError in words for people."""
    bare = event_input(event, background)
    needs = needs_of_input(bare, background.catalogue, background.store)
    span = event_stock_span(event, background.studio.turn_round_hours)
    lines = stock_lines(needs, span, now=now, exclude=event.reservation)
    return replace(bare, to_buy=shortages_of(lines))


def estimate_request(*, event: Event) -> Estimate:
    """The estimate of what the event is now: found where the same input was asked for before, otherwise queued for
    the worker. A failed one is tried again. Raises ValueError in words for people."""
    given = input_now(event, background_now(), timezone.now())
    with transaction.atomic():
        estimate = _estimate_of(event, given)
        if estimate.result is None:
            estimate.job = job_request(kind=KIND, subject_id=estimate.pk, input_key=estimate.input_key)
            estimate.save(update_fields=["job"])
    return estimate


def estimate_now(*, event: Event) -> Estimate:
    """The same without the worker, for an answer that is waited for on the phone."""
    given = input_now(event, background_now(), timezone.now())
    known = Estimate.objects.filter(event=event, input_key=input_key(given), result__isnull=False).exists()
    result = None if known else to_json(compute(given))
    with transaction.atomic():
        estimate = _estimate_of(event, given)
        if result is not None:
            _write(estimate.pk, result)
    estimate.refresh_from_db()
    return estimate


def _estimate_of(event: Event, given: EstimateInput) -> Estimate:
    """Asked for again, an earlier one is the event's newest again."""
    estimate, made = Estimate.objects.get_or_create(
        event=event, input_key=input_key(given), defaults={"inputs": input_to_plain(given)}
    )
    if not made:
        estimate.created = timezone.now()
        estimate.save(update_fields=["created"])
    return estimate


def estimate_compute(estimate_id: int, progress: Progress) -> Callable[[], None]:
    """The worker's part: works on the stored input, so that a change of the event meanwhile can't mix in."""
    estimate = Estimate.objects.filter(pk=estimate_id).first()
    if estimate is None:
        raise ValueError("The event is gone, and its estimate with it.")
    result = to_json(compute(input_from_plain(estimate.inputs), progress))
    return lambda: _write(estimate_id, result)


def _write(estimate_id: int, result: dict) -> None:
    """Only where there is none: figures that somebody has seen never change under them."""
    Estimate.objects.filter(pk=estimate_id, result__isnull=True).update(result=result, finished=timezone.now())


def newest_estimate(event: Event) -> Estimate | None:
    return _of(event, Estimate.objects.filter(event=event).select_related("job").first())


def finished_estimate(event: Event) -> Estimate | None:
    """The newest that has figures; a newer one may still be in the worker."""
    return _of(event, Estimate.objects.filter(event=event, result__isnull=False).first())


def _of(event: Event, found: Estimate | None) -> Estimate | None:
    """Whoever asks has read the event and its venue already."""
    if found is not None:
        found.event = event
    return found


def estimate_is_current(
    estimate: Estimate,
    background: Background,
    pieces: Sequence[Piece] | None = None,
    bare: EstimateInput | None = None,
) -> bool:
    """Whether the event, its pieces and the studio's rates are still what it was worked out from. What is free in
    the store moves all day and is left out of the comparison: the stock page tells that. `bare` is what the event is
    now, if it is at hand."""
    try:
        to_buy = input_from_plain(estimate.inputs).to_buy
        now = bare or event_input(estimate.event, background, pieces=pieces)
        return input_key(replace(now, to_buy=to_buy)) == estimate.input_key
    except ValueError:
        return False
