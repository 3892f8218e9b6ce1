"""Asking for a build book, waiting for it, and who may open it."""

import pytest
from django.template.loader import render_to_string

from decor.studio import background
from decor.studio.models import BackgroundJob
from decor.studio.services import file_path
from jobs.designs.models import BuildBook
from jobs.tasks import HANDLERS
from tests.jobs.crew.makers import member, shift
from tests.jobs.designs.conftest import encoded, lighthouse
from tests.jobs.designs.test_panel_views import file, sent
from tests.jobs.designs.test_piece_views import url

__all__ = ["sent"]


@pytest.fixture
def panel(as_planner, panel_piece, sent, monkeypatch):
    monkeypatch.setattr(background, "_send", lambda job_id: None)
    as_planner.post(url("piece-measures", panel_piece), sent | {"picture": file(encoded(lighthouse()))})
    panel_piece.refresh_from_db()
    return panel_piece


def work() -> None:
    for job in BackgroundJob.objects.filter(state="queued"):
        background.job_run(job_id=job.pk, handlers=HANDLERS)


def made(client, panel) -> BuildBook:
    assert client.post(url("build-book-make", panel)).status_code == 302
    work()
    return BuildBook.objects.get()


def test_a_book_is_made_once_for_the_same_panel(as_planner, panel):
    assert "Make the build book" in as_planner.get(url("build-book", panel)).content.decode()
    as_planner.post(url("build-book-make", panel))
    waiting = as_planner.get(url("build-book", panel), headers={"HX-Request": "true"})
    assert waiting.status_code == 200 and "<progress" in waiting.content.decode()
    work()
    done = as_planner.get(url("build-book", panel), headers={"HX-Request": "true"})
    assert done.status_code == 286 and "Ready" in done.content.decode()
    as_planner.post(url("build-book-make", panel))
    assert BuildBook.objects.count() == 1 and BackgroundJob.objects.filter(kind="build book").count() == 1


def test_the_file_is_a_pdf_and_an_older_charts_book_is_gone(as_planner, panel):
    made(as_planner, panel)
    answer = as_planner.get(url("build-book-file", panel))
    assert answer["Content-Type"] == "application/pdf" and b"".join(answer).startswith(b"%PDF-1.")
    as_planner.post(url("chart-paint", panel), {"row": "1", "column": "1", "colour": "1", "version": "1"})
    panel.panel.refresh_from_db()
    if panel.panel.version == 1:
        pytest.fail("the cell was not painted")
    assert as_planner.get(url("build-book-file", panel)).status_code == 404
    assert "Not made yet" in as_planner.get(url("build-book", panel)).content.decode()


def test_a_studio_that_measures_in_feet_gets_its_own_book_in_feet(as_planner, panel, studio, monkeypatch):
    from jobs.designs import books

    pages = []
    monkeypatch.setattr(books, "pdf_of", lambda name, context, paper: pages.append((name, context, paper)) or b"%PDF-")
    made(as_planner, panel)
    studio.units, studio.paper = "imperial", "letter"
    studio.save()
    assert "Not made yet" in as_planner.get(url("build-book", panel)).content.decode()
    as_planner.post(url("build-book-make", panel))
    work()
    metric, imperial = (render_to_string(name, context) for name, context, _ in pages)
    assert "26 wide, 22 high; 3.37 × 2.79 m" in metric
    assert "26 wide, 22 high; 11.0 × 9.2 ft" in imperial and pages[1][2] == "letter"


def test_a_failed_book_says_why_and_can_be_asked_for_again(as_planner, panel, monkeypatch):
    from jobs.designs import books

    def refuse(*args, **kwargs):
        raise ValueError("PDFs need a system library that is not installed here")

    monkeypatch.setattr(books, "pdf_of", refuse)
    as_planner.post(url("build-book-make", panel))
    work()
    page = as_planner.get(url("build-book", panel)).content.decode()
    assert "PDFs need a system library" in page and "Try again" in page
    monkeypatch.undo()
    monkeypatch.setattr(background, "_send", lambda job_id: None)
    made(as_planner, panel)
    assert "Ready" in as_planner.get(url("build-book", panel)).content.decode()


def test_crew_open_it_only_for_an_event_they_are_on(as_planner, as_crew, crew_user, panel):
    made(as_planner, panel)
    address = f"/day/{panel.event_id}/build-book/{panel.pk}.pdf"
    assert as_crew.get(url("build-book-file", panel)).status_code == 403
    assert as_crew.get(address).status_code == 404
    shift(panel.event, member("Cory Sedge", "load", user=crew_user))
    assert as_crew.get(address)["Content-Type"] == "application/pdf"
    assert address in as_crew.get(f"/day/{panel.event_id}/").content.decode()


def test_a_piece_without_a_chart_has_no_book(as_planner, column_piece):
    assert as_planner.get(url("build-book", column_piece)).status_code == 404
    assert as_planner.post(url("build-book-make", column_piece)).status_code == 404


def test_a_panel_too_large_for_paper_is_told_so_and_makes_no_work(as_planner, panel, monkeypatch):
    monkeypatch.setattr("jobs.designs.books.MOST_CELLS", 50)
    page = as_planner.get(url("build-book", panel)).content.decode()
    assert "made for up to 50 cells; this panel has" in page and "Make the build book" not in page
    assert as_planner.post(url("build-book-make", panel)).status_code == 302
    assert not BuildBook.objects.exists() and not BackgroundJob.objects.exists()


def test_a_book_whose_file_was_lost_is_not_there(as_planner, panel, settings):
    book = made(as_planner, panel)
    file_path(book.file.name).unlink()
    assert as_planner.get(url("build-book-file", panel)).status_code == 404
