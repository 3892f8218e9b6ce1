"""From the printed page to the panel's chart, over the addresses that people use."""

import io
import re

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from decor.calc.picture.paper import paper_layout, paper_parts
from jobs.designs.catalogue import catalogue_now
from jobs.designs.charting import cells_array
from jobs.designs.models import ChartPaper, Panel, PaperPage
from tests.jobs.designs.paper.photos import coloured_in, photographed, printed
from tests.jobs.designs.test_piece_views import url

PENS = {"white": (250, 250, 245), "red": (214, 40, 40), "navy": (30, 50, 120), "yellow": (250, 210, 60)}


@pytest.fixture
def panel(panel_piece, sheets, stocked) -> Panel:
    palette = [stocked[name].pk for name in PENS]
    return Panel.objects.create(
        piece=panel_piece, sheet=sheets["small"], rows=14, columns=12, palette=palette,
        cells=np.zeros((14, 12), "<i2").tobytes(),
    )  # fmt: skip


def paper_url(name: str, paper: ChartPaper, **more) -> str:
    from django.urls import reverse

    piece = paper.piece
    return reverse(f"jobs:{name}", kwargs={"event": piece.event_id, "piece": piece.pk, "paper": paper.pk} | more)


@pytest.fixture
def made(as_planner, panel) -> ChartPaper:
    sent = as_planner.post(url("panel-paper", panel.piece), {"colours": panel.palette, "paper": "A4"})
    paper = ChartPaper.objects.get()
    assert sent.url == paper_url("panel-paper-read", paper)
    assert (paper.rows, paper.columns, paper.palette) == (14, 12, panel.palette)
    return paper


def test_the_first_pens_are_those_with_the_most_cells(as_planner, panel, stocked):
    cells = np.full((14, 12), 2, "<i2")
    cells[0, :3] = 3
    panel.cells = cells.tobytes()
    panel.save()
    page = as_planner.get(url("panel-paper", panel.piece)).content.decode()
    ticked = {int(one) for one in re.findall(r'name="colours" value="(\d+)"[^>]* checked', page)}
    assert ticked == {stocked["navy"].pk, stocked["yellow"].pk}


def photo_of(as_planner, paper: ChartPaper, drawn, *, half_done=()) -> SimpleUploadedFile:
    pdf = as_planner.get(paper_url("panel-paper-file", paper))
    assert pdf["Content-Type"] == "application/pdf"
    lattice = catalogue_now().sheet(paper.sheet_id).lattice_of(paper.rows, paper.columns)
    layout = paper_layout(lattice, paper_parts(lattice, colours=4)[0], colours=4)
    rng = np.random.default_rng(4)
    page = coloured_in(printed(pdf.content), layout, drawn.ravel(), np.array(list(PENS.values())), rng)
    for cell in half_done:
        x, y = layout.cells[cell] * 7
        page.paste((255, 255, 255), (round(x - 1), round(y - 36), round(x + 36), round(y + 36)))
    photo = photographed(page, rng, tilt_deg=20, long_px=1800)
    out = io.BytesIO()
    Image.fromarray(photo).save(out, "JPEG", quality=90)
    return SimpleUploadedFile("table.jpg", out.getvalue(), "image/jpeg")


def a_drawing() -> np.ndarray:
    drawn = np.full((14, 12), -1)
    drawn[2:6, 2:10] = 1
    drawn[7:9] = 2
    drawn[10:, 4:8] = 3
    return drawn


def test_a_photographed_page_becomes_the_panels_chart(as_planner, made, panel):
    drawn = a_drawing()
    photo = photo_of(as_planner, made, drawn, half_done=[2 * 12 + 2, 7 * 12 + 5])
    sent = as_planner.post(paper_url("panel-paper-read", made), {"photos": [photo]})
    assert sent.status_code == 302
    page = PaperPage.objects.get()
    assert 2 * 12 + 2 in page.unsure and 7 * 12 + 5 in page.unsure and len(page.unsure) < 20

    shown = as_planner.get(paper_url("panel-paper-read", made)).content.decode()
    assert "Row 3, column 3" in shown and "These are right" in shown
    crops = as_planner.get(paper_url("panel-paper-crops", made, number=1))
    assert Image.open(io.BytesIO(b"".join(crops.streaming_content))).width == 72 * len(page.asked)

    answers = {f"cell-1-{cell}": int(drawn.ravel()[cell]) for cell in page.unsure}
    assert as_planner.post(paper_url("panel-paper-answer", made), answers).status_code == 302
    assert PaperPage.objects.get().unsure == []

    white = panel.palette[0]
    taken = as_planner.post(paper_url("panel-paper-take", made), {"white": white, "panel_version": panel.version})
    assert taken.url == url("piece", panel.piece)
    panel.refresh_from_db()
    assert np.array_equal(cells_array(panel), np.where(drawn < 0, 0, drawn))
    assert panel.recipe["source"] == "paper" and panel.version == 2


def test_white_cells_may_mean_no_balloon(as_planner, made, panel):
    drawn = a_drawing()
    as_planner.post(paper_url("panel-paper-read", made), {"photos": [photo_of(as_planner, made, drawn)]})
    as_planner.post(paper_url("panel-paper-take", made), {"white": "", "panel_version": panel.version})
    panel.refresh_from_db()
    assert np.array_equal(cells_array(panel), drawn)


def test_a_chart_that_changed_meanwhile_is_not_buried(as_planner, made, panel):
    as_planner.post(paper_url("panel-paper-read", made), {"photos": [photo_of(as_planner, made, a_drawing())]})
    Panel.objects.update(version=7)
    late = as_planner.post(paper_url("panel-paper-take", made), {"white": "", "panel_version": 1})
    assert late.status_code == 409 and "Somebody else changed this" in late.content.decode()
    assert not cells_array(Panel.objects.get()).any()


def test_nothing_is_taken_over_before_the_page_was_photographed(as_planner, made, panel):
    answer = as_planner.post(paper_url("panel-paper-take", made), {"white": "", "panel_version": 1})
    assert answer.status_code == 422 and "Page 1 was not photographed yet." in answer.content.decode()


def test_a_page_of_another_paper_is_told(as_planner, made, panel):
    other = ChartPaper.objects.create(
        piece=panel.piece, sheet=panel.sheet, rows=14, columns=12, palette=panel.palette, paper="A4"
    )
    photo = photo_of(as_planner, other, a_drawing())
    answer = as_planner.post(paper_url("panel-paper-read", made), {"photos": [photo]})
    assert answer.status_code == 422 and "a page of another chart paper" in answer.content.decode()
    assert not PaperPage.objects.exists()


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "This file is empty."),
        (b"not a picture", "is not a"),
        ("plain", "of the four corner marks can be seen"),
    ],
)
def test_a_photograph_that_does_not_serve_says_why(as_planner, made, data, words):
    if data == "plain":
        out = io.BytesIO()
        Image.new("RGB", (600, 800), "#ddd").save(out, "JPEG")
        data = out.getvalue()
    photo = SimpleUploadedFile("table.jpg", data, "image/jpeg")
    answer = as_planner.post(paper_url("panel-paper-read", made), {"photos": [photo]})
    assert answer.status_code == 422 and words in answer.content.decode()


def test_a_page_without_a_coloured_box_is_told(as_planner, made):
    photo = photo_of(as_planner, made, np.full((14, 12), -1))
    answer = as_planner.post(paper_url("panel-paper-read", made), {"photos": [photo]})
    assert answer.status_code == 422 and "No box at the bottom of the page is coloured" in answer.content.decode()


def test_more_pens_than_boxes_or_none_are_told(as_planner, panel, latex):
    none = as_planner.post(url("panel-paper", panel.piece), {"paper": "A4"})
    assert none.status_code == 422 and "Choose at least one colour." in none.content.decode()
    many = as_planner.post(url("panel-paper", panel.piece), {"paper": "A4", "colours": panel.palette * 5})
    assert many.status_code == 422 and "a page has room for 16 boxes" in many.content.decode()
    assert not ChartPaper.objects.exists()


def test_a_panel_of_too_many_pages_is_told(as_planner, panel):
    Panel.objects.update(rows=250, columns=400, cells=np.zeros((250, 400), "<i2").tobytes())
    answer = as_planner.post(url("panel-paper", panel.piece), {"paper": "A4", "colours": panel.palette})
    assert answer.status_code == 422 and "more pages than can be put together again" in answer.content.decode()
