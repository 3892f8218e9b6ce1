"""The page while the worker is at it, when it failed, and when there are figures."""

import pytest
from django.urls import reverse

from decor.studio.background import heartbeat, job_claim, job_run
from decor.studio.models import BackgroundJob
from jobs.estimates import services
from jobs.tasks import HANDLERS


@pytest.fixture
def asked(event, panel_piece, column_piece, store):
    return services.estimate_request(event=event)


def page(client, event):
    response = client.get(reverse("jobs:event-estimate", args=[event.pk]))
    return response, response.content.decode().replace("\u00a0", " ")


def state(client, event, number):
    address = reverse("jobs:estimate-state", args=[event.pk])
    response = client.get(address, {"n": number}, headers={"HX-Request": "true"})
    return response, response.content.decode()


def test_not_yet(as_planner, event):
    _, text = page(as_planner, event)
    assert "Not estimated yet" in text
    assert reverse("jobs:estimate-start", args=[event.pk]) in text


def test_it_may_be_left_and_come_back_to(as_planner, event, asked):
    for _ in range(2):
        _, text = page(as_planner, event)
        assert "<progress" in text and "You can leave this page" in text
        assert ">Reload</a>" in text


def test_progress_is_the_jobs_own(as_planner, event, asked):
    job_claim(job_id=asked.job_id)
    BackgroundJob.objects.update(progress_percent=50, progress_text="Timing the work")
    _, text = page(as_planner, event)
    assert 'value="50"' in text and "Timing the work" in text


def test_asked_at_growing_intervals(as_planner, event, asked):
    _, text = page(as_planner, event)
    waits = ["load delay:300ms"] if 'hx-trigger="load delay:300ms"' in text else []
    for number in (0, 1, 2, 3, 99):
        response, text = state(as_planner, event, number)
        assert response.status_code == 200
        waits.append(text.split('hx-trigger="')[1].split('"')[0])
    assert waits == ["load delay:300ms", "load delay:600ms", "load delay:1200ms", "every 2s", "every 2s", "every 2s"]


def test_286_ends_the_asking(as_planner, event, asked):
    job_run(job_id=asked.job_id, handlers=HANDLERS)
    response, text = state(as_planner, event, 3)
    assert response.status_code == 286
    assert "hx-trigger" not in text
    assert 'hx-swap-oob="true"' in text and "See what stock it takes" in text


def test_without_script_the_state_leads_to_the_page(as_planner, event, asked):
    response = as_planner.get(reverse("jobs:estimate-state", args=[event.pk]))
    assert response.url == reverse("jobs:event-estimate", args=[event.pk])


def test_a_missing_worker_is_told(as_planner, event, asked):
    assert "worker has not been heard of" in page(as_planner, event)[1]
    heartbeat(name="worker")
    assert "worker has not been heard of" not in page(as_planner, event)[1]


def test_failed_with_reason_and_retry(as_planner, event, asked):
    BackgroundJob.objects.update(state="failed", reason="The sheet has no cells.")
    response, text = state(as_planner, event, 1)
    assert response.status_code == 286
    assert "The sheet has no cells." in text and "Try again" in text


def test_every_figure_says_what_it_came_from(as_planner, event, asked):
    job_run(job_id=asked.job_id, handlers=HANDLERS)
    _, text = page(as_planner, event)
    result = services.finished_estimate(event).result
    for says in (
        *(line["says"] for line in (*result["latex"], *result["sheets"], *result["hardware"], *result["tasks"])),
        *(line["says"] for line in result["costs"]),
        *(result[name] for name in ("latex_says", "work_says", "people_says", "day_says", "weight_says", "price_says")),
        result["van"]["says"],
        result["gas"]["says"],
        result["joins"]["says"],
    ):
        assert says.replace("'", "&#x27;") in text, says
    assert "at most" in text and "0 m above the sea, 20 °C" in text
    assert "can choke children" in text


def test_the_day_backwards_is_drawn_in_the_venues_time(as_planner, event, asked):
    job_run(job_id=asked.job_id, handlers=HANDLERS)
    _, text = page(as_planner, event)
    assert text.count('<rect class="bar') == len(services.finished_estimate(event).result["day_backwards"])
    # Doors at 16:00 UTC are 17:00 in Dublin in June.
    assert "doors 17:00" in text


def test_helium_in_cubic_metres_and_cylinders(as_planner, event, column_piece, store):
    column_piece.fill, column_piece.count = "helium", 4
    column_piece.save()
    event.venue.altitude_m, event.venue.temperature_c = 1200, 8
    event.venue.save()
    services.estimate_now(event=event)
    _, text = page(as_planner, event)
    gas = services.finished_estimate(event).result["gas"]
    assert f"{gas['helium_m3']:.2f} m³ of helium, {gas['cylinders']} cylinder" in text
    assert "1,200 m above the sea, 8 °C" in text and gas["says"] in text
    assert "Helium pushes out the air" in text


def test_older_figures_are_marked_and_offered_again(as_planner, event, asked, column_piece):
    job_run(job_id=asked.job_id, handlers=HANDLERS)
    column_piece.count = 5
    column_piece.save()
    _, text = page(as_planner, event)
    assert "changed since" in text and "Estimate again" in text
