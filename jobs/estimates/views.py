from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe
from django_htmx.http import HttpResponseStopPolling

from decor.studio.background import worker_is_alive
from decor.studio.models import BackgroundJob
from decor.studio.numbers import whole
from decor.studio.requests import once
from jobs.estimates import services
from jobs.estimates.inputs import background_now
from jobs.estimates.models import Estimate
from jobs.estimates.shown import shown
from jobs.events.models import Event

POLLS = ("load delay:300ms", "load delay:600ms", "load delay:1200ms")
POLL_ON = "every 2s"


def _event(pk: int) -> Event:
    return get_object_or_404(Event.objects.select_related("venue", "client", "reservation"), pk=pk)


@require_safe
def event_estimate(request: HttpRequest, event: int) -> HttpResponse:
    return render(request, "jobs/estimates/estimate.html", _context(_event(event), request))


@require_POST
@once
def estimate_start(request: HttpRequest, event: int) -> HttpResponse:
    found = _event(event)
    try:
        services.estimate_request(event=found)
    except ValueError as refusal:
        context = _context(found, request) | {"refusal": str(refusal)}
        return render(request, "jobs/estimates/estimate.html", context, status=422)
    return redirect("jobs:event-estimate", found.pk)


@require_safe
def estimate_state(request: HttpRequest, event: int) -> HttpResponse:
    """The part of the page that changes while the worker is at it; 286 tells the browser to ask no more."""
    number = whole(request.GET.get("n", ""))
    context = _context(_event(event), request, polled=min(number, len(POLLS)) + 1)
    if not request.htmx:
        return redirect("jobs:event-estimate", event)
    response = render(request, "jobs/estimates/_estimate.html", context | {"swapped": True})
    return response if context["standing"] == "working" else HttpResponseStopPolling(response.content)


def _context(event: Event, request: HttpRequest, polled: int = 0) -> dict[str, object]:
    estimate = services.newest_estimate(event)
    standing = _standing(estimate)
    context: dict[str, object] = {
        "tab": "events",
        "event": event,
        "estimate": estimate,
        "standing": standing,
        "poll": POLLS[polled] if polled < len(POLLS) else POLL_ON,
        "polled": polled,
    }
    if standing == "working":
        return context | {"worker_missing": not worker_is_alive()}
    if standing == "done":
        background = background_now(request.studio)
        context["current"] = services.estimate_is_current(estimate, background)
        context["shown"] = shown(estimate, event, background.catalogue)
    return context


def _standing(estimate: Estimate | None) -> str:
    """none, working, failed or done."""
    if estimate is None:
        return "none"
    if estimate.result is not None:
        return "done"
    failed = estimate.job is None or estimate.job.state == BackgroundJob.State.FAILED
    return "failed" if failed else "working"
