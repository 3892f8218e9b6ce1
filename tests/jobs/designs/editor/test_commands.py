"""Strokes as the editor's outbox sends them."""

import json
import uuid

import numpy as np
import pytest

from jobs.designs.charting import cells_array
from jobs.designs.models import Panel
from jobs.designs.pictures.recipe import Recipe, bytes_bits, text_bits
from tests.jobs.designs.conftest import event, latex, panel_piece, sheets, stocked

__all__ = ["event", "latex", "panel_piece", "sheets", "stocked"]


@pytest.fixture
def panel(panel_piece, sheets, stocked) -> Panel:
    """4 wide, 3 high, all sky; red is in its palette too."""
    return Panel.objects.create(
        piece=panel_piece, sheet=sheets["small"], rows=3, columns=4, palette=[stocked["sky"].pk, stocked["red"].pk],
        cells=np.zeros((3, 4), "<i2").tobytes(),
    )  # fmt: skip


def send(client, panel, runs, *, op_id=None, layer="cells", palette=None, size=None):
    body = {"size": size or [panel.rows, panel.columns], "palette": palette or panel.palette}
    command = {
        "op_id": op_id or str(uuid.uuid4()),
        "command": "chart.paint",
        "entity": f"panel:{panel.pk}",
        "base_version": panel.version,
        "client_time": "2031-06-01T10:00:00Z",
        "body": {**body, "runs": runs, "layer": layer},
    }
    return client.post("/commands/", json.dumps(command), content_type="application/json")


def cells(panel) -> list[int]:
    panel.refresh_from_db()
    return cells_array(panel).ravel().tolist()


def test_a_stroke_arrives_once_and_is_marked_as_painted(as_planner, panel):
    number = str(uuid.uuid4())
    first = send(as_planner, panel, [1, 3, 1, 0], op_id=number).json()
    assert send(as_planner, panel, [1, 3, 1, 0], op_id=number).json() == first
    assert first["answer"]["version"] == 2 and first["answer"]["disputed"] == []
    assert cells(panel) == [0, 1, 1, 1, 0, 0, 0, 0, 0, 0, 0, 0] and panel.version == 2
    assert np.flatnonzero(bytes_bits(bytes(panel.painted), 12)).tolist() == [1, 2, 3]


def test_cells_that_nobody_else_touched_are_joined_and_the_others_told(as_planner, as_owner, panel):
    assert send(as_owner, panel, [0, 2, 1, 0]).status_code == 200
    told = send(as_planner, panel, [1, 2, -1, 0]).json()["answer"]
    assert told["disputed"] == [1, 1, 1, -1] and told["before"] == 2 and told["who"] == "Olive Marsh"
    assert told["who"] == "Olive Hart" or told["who"]
    assert cells(panel)[:4] == [1, 1, -1, 0]
    # "Use mine": painted again, knowing what stands there.
    assert send(as_planner, panel, [1, 1, -1, 1]).json()["answer"]["disputed"] == []
    assert cells(panel)[1] == -1


def test_ones_own_other_screen_is_not_called_by_another_name(as_planner, panel):
    send(as_planner, panel, [0, 1, 1, 0])
    assert "another screen" in send(as_planner, panel, [0, 1, -1, 0]).json()["answer"]["who"]


def test_a_palette_in_another_order_and_with_a_colour_more(as_planner, panel, stocked):
    sky, red, navy, strung = (stocked[name].pk for name in ("sky", "red", "navy", "navy double"))
    told = send(as_planner, panel, [0, 1, 0, 2, 1, 1, 1, 2], palette=[navy, red, sky]).json()["answer"]
    assert told["palette"] == [sky, red, navy] and cells(panel)[:3] == [2, 1, 0]
    refused = send(as_planner, panel, [2, 1, 0, 1], palette=[strung, sky])
    assert refused.status_code == 422 and "not one of the panel's" in refused.json()["answer"]["message"]


def test_another_size_is_a_conflict(as_planner, panel):
    answer = send(as_planner, panel, [0, 1, 1, 0], size=[3, 5])
    assert answer.status_code == 409 and answer.json()["answer"]["remade"]
    assert cells(panel) == [0] * 12


def test_a_whole_panel_in_one_stroke_but_not_without_balloons(as_planner, panel):
    assert send(as_planner, panel, [0, 12, 1, 0]).status_code == 200
    empty = send(as_planner, panel, [0, 12, -1, 1])
    assert empty.status_code == 422 and "must keep a balloon" in empty.json()["answer"]["message"]
    assert cells(panel) == [1] * 12


def test_locks_are_kept_and_let_go(as_planner, panel):
    send(as_planner, panel, [2, 3, 1, 0], layer="locks")
    panel.refresh_from_db()
    assert np.flatnonzero(bytes_bits(bytes(panel.locked), 12)).tolist() == [2, 3, 4] and not bytes(panel.painted)
    send(as_planner, panel, [2, 3, 0, 1], layer="locks")
    panel.refresh_from_db()
    assert bytes(panel.locked) == b"" and panel.version == 3


def test_the_painted_outline_is_kept_for_a_chart_made_anew(as_planner, panel):
    send(as_planner, panel, [0, 1, -1, 0, 4, 2, -1, 0])
    assert send(as_planner, panel, [], layer="outline").status_code == 200
    panel.refresh_from_db()
    outline = Recipe.from_plain(panel.recipe).outline
    assert outline.kind == "painted"
    assert np.flatnonzero(~text_bits(outline.cells, 12)).tolist() == [0, 4, 5]
    send(as_planner, panel, [0, 1, 0, -1, 4, 2, 0, -1])
    send(as_planner, panel, [], layer="outline")
    panel.refresh_from_db()
    assert Recipe.from_plain(panel.recipe).outline.kind == "whole"


@pytest.mark.parametrize("runs", [[], [0, 1, 1], [12, 1, 1, 0], [0, 1, 7, 0], "x", [0, 1, -1.5, 0]])
def test_what_is_refused_changes_nothing(as_planner, panel, runs):
    assert send(as_planner, panel, runs).status_code == 422
    assert cells(panel) == [0] * 12 and panel.version == 1


def test_crew_do_not_paint_and_a_chart_that_is_gone_is_said(as_crew, as_planner, panel):
    assert send(as_crew, panel, [0, 1, 1, 0]).status_code == 403
    gone = Panel(pk=panel.pk + 1, rows=3, columns=4, palette=panel.palette)
    answer = send(as_planner, gone, [0, 1, 1, 0])
    assert answer.status_code == 422 and "gone" in answer.json()["answer"]["message"]
    assert cells(panel) == [0] * 12


def test_a_hundred_thousand_cells_in_one_stroke(as_planner, panel_piece, sheets, stocked):
    rng = np.random.default_rng(5)
    before = rng.integers(0, 2, 100_000)
    panel = Panel.objects.create(
        piece=panel_piece, sheet=sheets["large"], rows=250, columns=400, cells=before.astype("<i2").tobytes(),
        palette=[stocked["sky"].pk, stocked["red"].pk],
    )  # fmt: skip
    runs = np.column_stack([np.arange(100_000), np.ones(100_000, int), 1 - before, before]).ravel().tolist()
    assert send(as_planner, panel, runs).json()["answer"]["disputed"] == []
    panel.refresh_from_db()
    assert (cells_array(panel).ravel() == 1 - before).all()
