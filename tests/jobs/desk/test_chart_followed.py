"""A chart that is painted, loaded in another way or laid with other sheets changes what its event is promised."""

import numpy as np
import pytest
from django.urls import reverse
from django.utils import timezone

from decor.studio.models import BackgroundJob
from inventory.models import Lot
from inventory.services import reservation_confirm, reservation_hold
from jobs import tasks
from jobs.designs.models import Panel
from jobs.desk.following import KIND
from jobs.events.models import Event
from jobs.events.shelf import event_stock_span
from tests.jobs.designs.conftest import event, latex, panel_piece, sheets, stocked
from tests.jobs.designs.editor.test_commands import send
from tests.jobs.desk.conftest import coming

__all__ = ["event", "latex", "panel_piece", "sheets", "stocked"]


@pytest.fixture
def panel(panel_piece, sheets, stocked) -> Panel:
    """10 wide, 10 high, all sky; red is in its palette too. One large sheet carries it."""
    for item in sheets.values():
        Lot.objects.create(item_id=item.pk, quantity=9, arrives_on=coming(-9))
    return Panel.objects.create(
        piece=panel_piece, sheet=sheets["small"], rows=10, columns=10, palette=[stocked["sky"].pk, stocked["red"].pk],
        cells=np.zeros((10, 10), "<i2").tobytes(),
    )  # fmt: skip


@pytest.fixture
def promised(panel, event, sheets, stocked, studio):
    span = event_stock_span(event, studio.turn_round_hours)
    lines = [(stocked["sky"].pk, 104), (sheets["large"].pk, 1)]
    made = reservation_hold(
        lines=lines, starts=span.starts, ends=span.ends, label="It", expires=timezone.now() + timezone.timedelta(days=3)
    )
    Event.objects.filter(pk=event.pk).update(reservation=reservation_confirm(reservation=made), stage="confirmed")
    return made


def lines_of(promise) -> dict[str, int]:
    return dict(promise.lines.values_list("item__name", "quantity"))


def run_jobs(kind: str) -> None:
    for job in BackgroundJob.objects.filter(kind=kind, state=BackgroundJob.State.QUEUED):
        tasks.background_run(job.pk)
        job.refresh_from_db()
        assert job.state == BackgroundJob.State.DONE, job.reason


def test_a_stroke_is_followed_by_the_worker(as_planner, panel, promised):
    assert send(as_planner, panel, [0, 25, 1, 0]).status_code == 200
    assert send(as_planner, panel, [25, 25, 1, 0]).status_code == 200
    assert BackgroundJob.objects.filter(kind=KIND).count() == 1
    figures = reverse("jobs:panel-figures", args=[panel.piece.event_id, panel.piece_id])
    assert "The store follows in a moment." in as_planner.get(figures).content.decode()
    run_jobs(KIND)
    assert ">Kept<" not in as_planner.get(figures).content.decode()
    # 50 cells of each, and 4 % spares
    lines = lines_of(promised)
    assert (lines["sky 5 in round"], lines["red 5 in round"]) == (52, 52)


def test_a_stroke_without_a_promise_asks_for_nothing(as_planner, panel):
    assert send(as_planner, panel, [0, 25, 1, 0]).status_code == 200
    assert not BackgroundJob.objects.filter(kind=KIND).exists()


def test_one_cell_without_script(as_planner, panel, promised, panel_piece):
    url = reverse("jobs:chart-paint", args=[panel_piece.event_id, panel_piece.pk])
    given = {"row": 1, "column": 1, "colour": 1, "version": panel.version}
    text = as_planner.post(url, given, follow=True).content.decode()
    assert "Row 1, column 1 is painted. Kept for it: 2 more red 5 in round reserved." in text
    assert "1 of sky 5 in round is free for others again." in text
    assert lines_of(promised)["red 5 in round"] == 2


def test_more_than_there_is_keeps_the_old_promise(as_planner, panel, promised, panel_piece, stocked):
    before = lines_of(promised)
    panel.rows, panel.columns, panel.cells = 30, 30, np.zeros((30, 30), "<i2").tobytes()
    panel.save()
    url = reverse("jobs:chart-paint", args=[panel_piece.event_id, panel_piece.pk])
    given = {"row": 1, "column": 1, "colour": 1, "version": panel.version}
    text = as_planner.post(url, given, follow=True).content.decode()
    assert "are missing; what was promised before is kept." in text and lines_of(promised) == before
    figures = reverse("jobs:panel-figures", args=[panel.piece.event_id, panel.piece_id])
    assert "What was promised before is kept." in as_planner.get(figures).content.decode()


def test_another_way_to_load(as_planner, panel, promised, panel_piece):
    url = reverse("jobs:panel-ways", args=[panel_piece.event_id, panel_piece.pk])
    text = as_planner.post(url, {"way": "strung", "version": panel.version}, follow=True).content.decode()
    assert "is loaded strung now. Kept for it: 104 more sky 6 in double-ended reserved." in text
    assert lines_of(promised)["sky 6 in double-ended"] == 104 and "sky 5 in round" not in lines_of(promised)
