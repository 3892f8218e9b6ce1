"""Asking for an estimate: same input, same estimate, one job."""

from decimal import Decimal

import pytest
from django.urls import reverse

from decor.studio.background import job_run
from decor.studio.models import BackgroundJob
from jobs.estimates import services
from jobs.estimates.inputs import background_now
from jobs.estimates.models import Estimate
from jobs.tasks import HANDLERS
from tests.shelf import empty


def work(job):
    job_run(job_id=job.pk, handlers=HANDLERS)


@pytest.fixture
def pieces(panel_piece, column_piece, store):
    return panel_piece, column_piece


def test_same_input_same_estimate(event, pieces):
    first = services.estimate_request(event=event)
    again = services.estimate_request(event=event)
    assert first.pk == again.pk
    assert BackgroundJob.objects.filter(kind="estimate", subject_id=first.pk).count() == 1


def test_no_second_computation(event, pieces, monkeypatch):
    estimate = services.estimate_request(event=event)
    work(estimate.job)
    monkeypatch.setattr(services, "compute", lambda *_: pytest.fail("worked out a second time"))
    again = services.estimate_request(event=event)
    assert again.result is not None
    work(estimate.job)
    assert services.estimate_now(event=event).pk == estimate.pk
    estimate.job.refresh_from_db()
    assert estimate.job.attempts == 1


def test_the_worker_writes_figures_once(event, pieces):
    estimate = services.estimate_request(event=event)
    work(estimate.job)
    estimate.refresh_from_db()
    assert estimate.job.state == "done"
    assert estimate.result["balloons"] == 520 + 2 * 38
    assert Decimal(estimate.result["price_to"]) >= Decimal(estimate.result["price_from"]) > 0
    finished = estimate.finished
    services._write(estimate.pk, {"balloons": 1})
    estimate.refresh_from_db()
    assert (estimate.result["balloons"], estimate.finished) == (596, finished)


def test_worked_out_directly_it_is_the_same(event, pieces):
    queued = services.estimate_request(event=event)
    direct = services.estimate_now(event=event)
    assert direct.pk == queued.pk
    figures = dict(direct.result)
    Estimate.objects.update(result=None)
    work(queued.job)
    queued.refresh_from_db()
    assert queued.result == figures


def test_a_change_makes_another_and_changing_back_finds_the_first(event, pieces):
    _, column = pieces
    first = services.estimate_now(event=event)
    column.count = 3
    column.save()
    second = services.estimate_now(event=event)
    assert second.pk != first.pk
    assert services.finished_estimate(event).pk == second.pk
    column.count = 2
    column.save()
    assert services.estimate_now(event=event).pk == first.pk
    assert services.finished_estimate(event).pk == first.pk


def test_it_works_on_what_was_asked_not_on_what_the_event_became(event, pieces):
    estimate = services.estimate_request(event=event)
    pieces[1].delete()
    work(estimate.job)
    estimate.refresh_from_db()
    assert len(estimate.result["pieces"]) == 2


def test_older_input_is_noticed(event, pieces, studio):
    estimate = services.estimate_now(event=event)
    assert services.estimate_is_current(estimate, background_now())
    studio.wage_per_hour += 1
    studio.save()
    assert not services.estimate_is_current(estimate, background_now())


def test_stock_that_moves_does_not_make_it_older(event, pieces):
    estimate = services.estimate_now(event=event)
    empty()
    assert services.estimate_is_current(estimate, background_now())
    # Asked for again, though, the price holds what has to be bought now.
    again = services.estimate_now(event=event)
    assert again.pk != estimate.pk
    assert Decimal(again.result["price_to"]) > Decimal(estimate.result["price_to"])


def test_a_failure_has_its_reason_and_is_retried(event, pieces):
    estimate = services.estimate_request(event=event)
    Estimate.objects.filter(pk=estimate.pk).update(inputs={"is": "decor.calc.inputs:EstimateInput", "sheet": 1})
    work(estimate.job)
    estimate.job.refresh_from_db()
    assert estimate.job.state == "failed"
    assert "other formulas" in estimate.job.reason
    services.estimate_request(event=event)
    estimate.job.refresh_from_db()
    assert estimate.job.state == "queued"


def test_an_event_that_is_gone(event, pieces):
    estimate = services.estimate_request(event=event)
    estimate.delete()
    work(estimate.job)
    estimate.job.refresh_from_db()
    assert estimate.job.reason == "The event is gone, and its estimate with it."


def start(client, event, key="k1"):
    return client.post(reverse("jobs:estimate-start", args=[event.pk]), {"request_key": key})


def test_posting_starts_one(as_planner, event, pieces):
    response = start(as_planner, event)
    assert response.url == reverse("jobs:event-estimate", args=[event.pk])
    assert start(as_planner, event).url == response.url
    assert Estimate.objects.count() == BackgroundJob.objects.count() == 1


def test_getting_starts_nothing(as_planner, event, pieces):
    assert as_planner.get(reverse("jobs:estimate-start", args=[event.pk])).status_code == 405
    for name in ("event-estimate", "estimate-state"):
        as_planner.get(reverse(f"jobs:{name}", args=[event.pk]))
    assert not Estimate.objects.exists() and not BackgroundJob.objects.exists()


def test_no_pieces_is_said_on_the_page(as_planner, event, store):
    response = start(as_planner, event)
    assert response.status_code == 422
    assert "Add a piece first" in response.content.decode()


@pytest.mark.parametrize("name", ["event-estimate", "estimate-state"])
def test_pages_are_not_for_crew_or_strangers(as_crew, as_nobody, event, name):
    address = reverse(f"jobs:{name}", args=[event.pk])
    assert as_crew.get(address).status_code == 403
    assert as_nobody.get(address).status_code == 302


def test_starting_is_not_for_crew_or_strangers(as_crew, as_nobody, event, pieces):
    assert start(as_crew, event).status_code == 403
    assert start(as_nobody, event).status_code == 302
    assert not Estimate.objects.exists()


def test_an_event_that_is_not_there(as_planner, studio):
    assert as_planner.get(reverse("jobs:event-estimate", args=[999])).status_code == 404
