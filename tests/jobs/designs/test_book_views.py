"""Asking for a build book, waiting for it, and who may open it."""

import re

import pypdfium2
import pytest
from django.template.loader import render_to_string
from django.urls import reverse

from decor.calc.materials import spares_for_burst
from decor.studio import background
from decor.studio.models import BackgroundJob, Studio
from decor.studio.services import file_path
from jobs.designs import books
from jobs.designs.catalogue import catalogue_now
from jobs.designs.models import BuildBook, Panel
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
    monkeypatch.setattr(
        books, "pdf_of", lambda name, context, paper, pictures: pages.append((name, context, paper)) or b"%PDF-"
    )
    made(as_planner, panel)
    studio.units, studio.paper = "imperial", "letter"
    studio.save()
    assert "Not made yet" in as_planner.get(url("build-book", panel)).content.decode()
    as_planner.post(url("build-book-make", panel))
    work()
    metric, imperial = (render_to_string(name, context) for name, context, _ in pages)
    assert "26 wide, 22 high; 3.37 × 2.79 m" in metric
    assert "26 wide, 22 high; 11.0 × 9.2 ft" in imperial and pages[1][2] == "letter"


def test_the_book_says_which_strips_come_off_and_the_order_of_assembly(as_planner, panel):
    """Two sheets of 13 columns side by side, built at the workshop: they go to the venue as two sections. On paper, on
    the phone and on the page of the sheets it is the same."""
    says = ["Section A", "Section B", "rows 1 to 22, columns 1 to 13", "rows 1 to 22, columns 14 to 26"]
    says += ["sheet 2 on the right (22 tabs, at the venue)", "sheet 1 on the left (22 tabs, at the venue)"]
    pdf = pypdfium2.PdfDocument(file_path(made(as_planner, panel).file.name))
    plan = next(text for page in pdf if "Order of assembly" in (text := page.get_textpage().get_text_range()))
    text = re.sub(r"\s+", " ", plan)
    page = as_planner.get(url("build-book-read", panel)).content.decode()
    sheets = as_planner.get(url("panel-sheets", panel)).content.decode()
    for words in says:
        assert words in text and words in page and words in sheets, words
    # A strip comes off where a sheet meets another one; those that stay are named too.
    first, second = text.split("Section A")[1].split("Section B")
    assert first.index("right") < first.index("bottom, top, left") and "left bottom, top, right" in second
    for one, others in (("right", "bottom, top, left"), ("left", "bottom, top, right")):
        words = f"Pull the strip: {one}. Leave: {others}."
        assert words in page and words in sheets
    assert "Dotted: joined at the venue." in text and "Dotted: joined at the venue." in page


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


def test_the_book_on_a_phone_a_sheet_at_a_time(as_planner, panel):
    first = as_planner.get(url("build-book-read", panel)).content.decode()
    assert "Size every balloon to" in first and "Pair list" in first and "Begin with sheet 1" in first
    sheet = as_planner.get(url("build-book-read", panel) + "?page=1&lies=turned").content.decode()
    assert "A quarter turn clockwise" in sheet and "Row 22" in sheet and "lies=turned" in sheet
    assert as_planner.get(url("build-book-read", panel) + "?page=99").status_code == 200


@pytest.mark.parametrize(("way", "list_of"), [("paired", "Pair list"), ("strung", "A slip for each bag")])
def test_crew_read_it_on_the_phone_where_they_are_on_the_event(as_crew, crew_user, panel, way, list_of):
    """With the list of what to tie on it, and no way to the office's pages, where crew are refused."""
    Panel.objects.filter(piece=panel).update(loading=way)
    chart = reverse("jobs:build-book-chart", args=[panel.event_id, panel.pk, 1])
    for address in (url("build-book-read", panel), chart):
        assert as_crew.get(address).status_code == 404
    shift(panel.event, member("Cory Sedge", "load", user=crew_user))
    assert url("build-book-read", panel) in as_crew.get(f"/day/{panel.event_id}/").content.decode()
    assert as_crew.get(chart)["Content-Type"] == "image/png"
    for query in ("", "?page=1", "?page=2"):
        body = as_crew.get(url("build-book-read", panel) + query).content.decode()
        assert (list_of in body) is (query == "")
        for link in set(re.findall(r'href="(/[^"?#]*)', body)) - {"/"}:
            assert link.startswith("/static/") or as_crew.get(link).status_code == 200, link


@pytest.mark.parametrize("lies", ["", "turned", "back"])
def test_its_chart_is_painted_as_it_lies(as_planner, panel, lies):
    from io import BytesIO

    from PIL import Image

    address = reverse("jobs:build-book-chart", args=[panel.event_id, panel.pk, 1])
    answer = as_planner.get(address, {"lies": lies})
    upright = Image.open(BytesIO(as_planner.get(address).content)).size
    size = Image.open(BytesIO(answer.content)).size
    assert answer["Content-Type"] == "image/png" and size == (upright[::-1] if lies == "turned" else upright)
    assert as_planner.get(reverse("jobs:build-book-chart", args=[panel.event_id, panel.pk, 99])).status_code == 404
    assert as_planner.get(reverse("jobs:build-book-chart", args=[panel.event_id, panel.pk, 0])).status_code == 404


def test_spares_come_from_what_burst_where_that_is_known(panel, monkeypatch):
    """The book's spares are the estimate's, and a book of other spares is another book."""
    studio, catalogue = Studio.objects.get(), catalogue_now()
    before = books.book_of_piece(panel, studio=studio, catalogue=catalogue)
    key = books.book_key(panel.panel, studio=studio, catalogue=catalogue)
    monkeypatch.setattr(books, "known_burst", lambda **asked: {987654: 0.5})
    assert books.book_key(panel.panel, studio=studio, catalogue=catalogue) == key
    number = next(iter(panel.panel.palette))
    monkeypatch.setattr(books, "known_burst", lambda **asked: {number: 0.3})
    after = books.book_of_piece(panel, studio=studio, catalogue=catalogue)
    changed = [(a, b) for a, b in zip(before.colours, after.colours, strict=True) if a != b]
    assert [b.spares for _, b in changed] == [spares_for_burst(changed[0][0].balloons, 0.3)]
    assert changed[0][1].spares > changed[0][0].spares
    assert books.book_key(panel.panel, studio=studio, catalogue=catalogue) != key
