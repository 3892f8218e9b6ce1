"""One cell after another: by the editor's script and by the plain form."""

import re

import numpy as np
import pytest
from django.test import Client
from django.urls import reverse

from decor.studio import services as floor
from jobs.designs.charting import cells_array
from jobs.designs.models import Panel
from tests.conftest import PASSWORD
from tests.jobs.designs.test_piece_views import url


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


def test_a_tap_paints_one_cell_and_the_counts_follow(as_planner, panel):
    answer = as_planner.post(url("chart-paint", panel.piece), {"version": 1, "cell": "1,2,1"})
    assert answer.json()["version"] == 2 and [count for count, _ in answer.json()["counts"]] == [11, 1]
    panel.refresh_from_db()
    cells = cells_array(panel)
    assert cells[1, 2] == 1 and cells.sum() == 1 and panel.version == 2


def test_several_waiting_cells_go_in_one_sending(as_planner, panel):
    sent = {"version": 1, "cell": ["0,0,1", "0,1,-1", "0,0,0"]}
    assert as_planner.post(url("chart-paint", panel.piece), sent).status_code == 200
    panel.refresh_from_db()
    assert cells_array(panel)[0].tolist() == [0, -1, 0, 0]


def test_a_chart_that_somebody_else_changed(as_planner, as_owner, panel):
    assert as_owner.post(url("chart-paint", panel.piece), {"version": 1, "cell": "0,0,1"}).status_code == 200
    answer = as_planner.post(url("chart-paint", panel.piece), {"version": 1, "cell": "2,3,1"})
    assert answer.status_code == 409
    told = answer.json()
    assert "Somebody else changed this chart" in told["message"] and told["version"] == 2 and told["cells"]
    panel.refresh_from_db()
    assert cells_array(panel)[2, 3] == 0 and cells_array(panel)[0, 0] == 1


@pytest.mark.parametrize(
    ("cell", "words"),
    [
        ("3,0,1", "outside"),
        ("0,-1,1", "outside"),
        ("0,0,2", "not one of the panel's"),
        ("0,0,-2", "not one of the panel's"),
        ("0,0", "as numbers"),
        ("a,b,c", "as numbers"),
    ],
)
def test_what_cannot_be_painted(as_planner, panel, cell, words):
    answer = as_planner.post(url("chart-paint", panel.piece), {"version": 1, "cell": cell})
    assert answer.status_code == 422 and words in answer.json()["message"]
    panel.refresh_from_db()
    assert panel.version == 1 and not cells_array(panel).any()


def test_the_last_balloon_stays(as_planner, panel):
    every = [f"{row},{column},-1" for row in range(3) for column in range(4)]
    answer = as_planner.post(url("chart-paint", panel.piece), {"version": 1, "cell": every})
    assert answer.status_code == 422 and "must keep a balloon" in answer.json()["message"]
    many = as_planner.post(url("chart-paint", panel.piece), {"version": 1, "cell": ["0,0,1"] * 501})
    assert many.status_code == 422 and "At most 500" in many.json()["message"]


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
    assert strict.post(url("chart-paint", panel.piece), {"version": 1, "cell": "0,0,1"}).status_code == 403
    assert strict.get(url("chart-paint", panel.piece)).status_code == 405
    panel.refresh_from_db()
    assert panel.version == 1


def test_the_editor_counts_alike_pieces_and_says_what_is_short(as_planner, panel, stocked):
    panel.piece.count = 40
    panel.piece.save()
    answer = as_planner.post(url("chart-paint", panel.piece), {"version": 1, "cell": "0,0,1"})
    assert answer.json()["counts"] == [[440, 40], [40, 0]]


def test_a_large_chart_is_sent_in_few_bytes(as_planner, panel_piece, sheets, stocked):
    cells = np.random.default_rng(2).integers(0, 2, (84, 84)).astype("<i2")
    Panel.objects.create(
        piece=panel_piece, sheet=sheets["large"], rows=84, columns=84, cells=cells.tobytes(),
        palette=[stocked["sky"].pk, stocked["red"].pk],
    )  # fmt: skip
    page = as_planner.get(reverse("jobs:chart", args=[panel_piece.event_id, panel_piece.pk]))
    assert len(page.content) < 7056 * 2 * 4 / 3 + 24_000
