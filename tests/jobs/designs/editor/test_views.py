"""The chart editor's page, what it asks for, and the plain form that paints one cell."""

import base64
import io
import re

import numpy as np
import pytest
from django.test import Client
from django.urls import reverse
from PIL import Image

from decor.studio import services as floor
from decor.studio.services import file_store
from jobs.designs.charting import cells_array
from jobs.designs.editor.shown import apart_words
from jobs.designs.models import Panel, Piece
from tests.conftest import PASSWORD
from tests.jobs.designs.conftest import encoded, event, latex, lighthouse, panel_piece, sheets, stocked
from tests.jobs.designs.test_piece_views import url

__all__ = ["event", "latex", "panel_piece", "sheets", "stocked"]


@pytest.fixture
def panel(panel_piece, sheets, stocked) -> Panel:
    """4 wide, 3 high, all sky."""
    return Panel.objects.create(
        piece=panel_piece, sheet=sheets["small"], rows=3, columns=4, palette=[stocked["sky"].pk, stocked["red"].pk],
        cells=np.zeros((3, 4), "<i2").tobytes(),
    )  # fmt: skip


def test_the_editor_opens_with_the_chart(as_planner, panel):
    page = as_planner.get(url("chart", panel.piece)).content.decode()
    assert '"rows": 3, "columns": 4' in page and 'id="chart"' in page
    assert 'name="paint" value="1"' in page and "By row and column" in page
    assert "style=" not in page and "<script>" not in page


def test_a_piece_without_a_chart_has_no_editor(as_planner, column_piece):
    assert as_planner.get(url("chart", column_piece)).status_code == 404


def test_the_cells_as_they_are_now_or_nothing_where_the_page_has_them(as_planner, panel, stocked):
    assert as_planner.get(url("chart-cells", panel.piece), {"version": 1}).status_code == 204
    state = as_planner.get(url("chart-cells", panel.piece), {"version": 0}).json()
    assert (state["version"], state["rows"], state["columns"]) == (1, 3, 4)
    assert base64.b64decode(state["cells"]) == bytes(24) and state["locked"] == ""
    assert [stocked["sky"].pk, 400] in state["free"]


def test_other_colours_that_fit_are_offered_with_how_far_they_are(as_planner, panel, stocked):
    page = as_planner.get(url("chart", panel.piece))
    data = page.context["chart"]
    assert data["names"][:2] == ["sky", "red"] and data["items"][:2] == panel.palette
    assert set(data["names"][2:]) == {"white", "navy", "yellow", "green", "black"}, "round, of the sheet's size"
    assert data["near"][0] == [], "nothing here could pass for sky"
    assert b"Other colours that fit" in page.content


def test_what_could_stand_in_for_a_colour(as_planner, panel, latex):
    latex["green"].rgb = "#88b6d8"
    latex["green"].save()
    data = as_planner.get(url("chart", panel.piece)).context["chart"]
    assert data["near"][0] == [[data["names"].index("green"), "hard to tell apart"]]


def test_differences_in_words():
    assert [apart_words(d) for d in (0.5, 2, 5, 11, 40)] == [
        "looks the same", "hard to tell apart", "close", "a little different", "another colour",
    ]  # fmt: skip


def test_the_rows_in_words(as_planner, panel):
    cells = np.array([[0, 0, 1, 1], [-1, 1, 1, 1], [0, 0, 0, 0]], "<i2")
    Panel.objects.update(cells=cells.tobytes())
    page = as_planner.get(url("chart-rows", panel.piece)).content.decode()
    assert "<li>2 sky, 2 red</li><li>1 empty, 3 red</li><li>4 sky</li>" in page and "More rows" not in page


def test_many_rows_come_some_a_page(as_planner, panel):
    Panel.objects.update(rows=120, columns=2, cells=np.zeros(240, "<i2").tobytes())
    second = as_planner.get(url("chart-rows", panel.piece), {"page": 2}).content.decode()
    assert 'start="51"' in second and second.count("<li>") == 50 and "From row 101" in second
    assert as_planner.get(url("chart-rows", panel.piece), {"page": "x"}).context["page"] == 1
    assert as_planner.get(url("chart-rows", panel.piece), {"page": 9}).context["page"] == 3


def test_the_picture_behind_the_chart(as_planner, panel):
    assert as_planner.get(url("chart-source", panel.piece)).status_code == 404
    assert b"Hold to compare" not in as_planner.get(url("chart", panel.piece)).content
    drawn = lighthouse(1600, 1000)
    panel.picture = file_store(data=encoded(drawn), mime="image/png", original_name="x", width_px=1600, height_px=1000)
    panel.recipe = {"source": "picture", "frame": {"left": 0.5, "right": 1.0}}
    panel.save()
    assert b"Hold to compare" in as_planner.get(url("chart", panel.piece)).content
    answer = as_planner.get(url("chart-source", panel.piece))
    framed = Image.open(io.BytesIO(answer.content))
    assert answer["Content-Type"] == "image/jpeg" and max(framed.size) <= 1200
    assert framed.width / framed.height == pytest.approx(0.8, abs=0.02), "the right half of it"
    there = np.asarray(framed.convert("RGB"))[5, -5].astype(int)
    assert np.abs(there - [0x7D, 0xB3, 0xD8]).max() < 12


def test_by_row_and_column_without_script(as_planner, panel):
    sent = {"version": "1", "row": "2", "column": "4", "colour": "1", "request_key": "k"}
    first = as_planner.post(url("chart-paint", panel.piece), sent)
    again = as_planner.post(url("chart-paint", panel.piece), sent)
    assert first["Location"] == again["Location"] == url("chart", panel.piece)
    panel.refresh_from_db()
    assert cells_array(panel)[1, 3] == 1 and panel.version == 2
    assert "Row 2, column 4 is painted" in as_planner.get(url("chart", panel.piece)).content.decode()


def test_by_row_and_column_refuses_and_meets_others(as_planner, panel):
    sent = {"version": "1", "row": "9", "column": "1", "colour": "1"}
    answer = as_planner.post(url("chart-paint", panel.piece), sent)
    assert answer.status_code == 422 and "outside" in answer.content.decode()
    empty = as_planner.post(url("chart-paint", panel.piece), sent | {"row": ""})
    assert empty.status_code == 422 and 'id="id_row_error"' in empty.content.decode()
    late = as_planner.post(url("chart-paint", panel.piece), sent | {"version": "7", "row": "3"})
    page = late.content.decode()
    assert late.status_code == 409 and "Somebody else changed this chart" in page
    assert re.search(r'name="version" value="1"', page) and re.search(r'name="row" value="3"', page)
    panel.refresh_from_db()
    assert panel.version == 1


def test_painting_needs_the_form_token_and_a_post(panel, planner):
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(planner)
    floor.login_succeeded(user=planner, session_key=strict.session.session_key, agent=PASSWORD[:5])
    sent = {"version": 1, "row": "1", "column": "1", "colour": "1"}
    assert strict.post(url("chart-paint", panel.piece), sent).status_code == 403
    assert strict.get(url("chart-paint", panel.piece)).status_code == 405
    panel.refresh_from_db()
    assert panel.version == 1


def test_the_editor_counts_alike_pieces_and_says_what_is_short(as_planner, panel):
    panel.piece.count = 40
    panel.piece.save()
    own = as_planner.get(url("chart", panel.piece)).context["colours"]
    assert [(row["count"], row["short"]) for row in own] == [(480, 100), (0, 0)], "with 20 spares; 400 are there"


def test_the_editor_the_colours_page_and_the_piece_say_the_same_short(as_planner, panel, stocked):
    """Another panel of 100 sky balloons takes 104 with its spares, so 296 of 400 are left; this one takes 312."""
    other = Piece.objects.create(event=panel.piece.event, kind="panel", title="Sky", measures=panel.piece.measures)
    Panel.objects.create(
        piece=other, sheet=panel.sheet, rows=10, columns=10, palette=[stocked["sky"].pk],
        cells=np.zeros((10, 10), "<i2").tobytes(),
    )  # fmt: skip
    panel.piece.count = 25
    panel.piece.save()
    page = as_planner.get(url("chart", panel.piece)).context
    assert page["colours"][0]["short"] == 312 - 296
    assert dict(page["chart"]["free"])[stocked["sky"].pk] == 296
    state = as_planner.get(url("chart-cells", panel.piece), {"version": 0}).json()
    assert state["free"] == [list(one) for one in page["chart"]["free"]]
    assert as_planner.get(url("panel-colours", panel.piece)).context["look"].short == 16
    assert as_planner.get(url("piece", panel.piece)).context["short"] == 16


def test_a_large_chart_is_sent_in_few_bytes(as_planner, panel_piece, sheets, stocked):
    cells = np.random.default_rng(2).integers(0, 2, (84, 84)).astype("<i2")
    Panel.objects.create(
        piece=panel_piece, sheet=sheets["large"], rows=84, columns=84, cells=cells.tobytes(),
        palette=[stocked["sky"].pk, stocked["red"].pk],
    )  # fmt: skip
    page = as_planner.get(reverse("jobs:chart", args=[panel_piece.event_id, panel_piece.pk]))
    assert len(page.content) < 7056 * 2 * 4 / 3 + 24_000
