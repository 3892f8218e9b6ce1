"""Eight painters at one chart in the same moment."""

import numpy as np
import pytest

from jobs.designs.charting import cells_array
from jobs.designs.editor.merging import stroke_of_runs
from jobs.designs.editor.services import cells_paint
from jobs.designs.models import Panel
from tests.inventory.test_last_stock_race import PROCESSES, in_eight_processes
from tests.jobs.designs.conftest import event, latex, panel_piece, sheets, stocked

__all__ = ["event", "latex", "panel_piece", "sheets", "stocked"]

pytestmark = [pytest.mark.services, pytest.mark.django_db(transaction=True)]

STROKES = 12
NAMES = ("sky", "white", "red", "navy", "green", "black")


def paint(number: int, panel: int, palette: list[int]) -> list[str]:
    """A row of its own, cell by cell, and each time a cell that all want in a colour of their own."""
    said, found = [], Panel.objects.get(pk=panel)
    for step in range(STROKES):
        runs = [step, 1, 1 + number % 5, 0, (1 + number) * STROKES + step, 1, 1, 0]
        done = cells_paint(panel=found, stroke=stroke_of_runs(runs, (PROCESSES + 1) * STROKES), palette=palette)
        said.append("told" if done.disputed else "done")
    return said


def test_no_stroke_buries_another(panel_piece, sheets, stocked):
    palette = [stocked[name].pk for name in NAMES]
    panel = Panel.objects.create(
        piece=panel_piece, sheet=sheets["large"], rows=PROCESSES + 1, columns=STROKES, palette=palette,
        cells=np.zeros((PROCESSES + 1, STROKES), "<i2").tobytes(),
    )  # fmt: skip
    said = in_eight_processes(paint, panel.pk, palette)
    assert sum(said.values()) == PROCESSES * STROKES and set(said) <= {"done", "told"}, said
    panel.refresh_from_db()
    cells = cells_array(panel)
    assert (cells[1:] == 1).all(), "what only one painted is there"
    assert (cells[0] > 0).all() and said["told"] > 0
    # Of eight painters and five colours at most two want the same one.
    assert said["done"] <= 2 * STROKES
    assert panel.version == 1 + PROCESSES * STROKES
