"""Rows that are in, as the outbox sends them: late, twice, in any order."""

import json
from datetime import timedelta

import pytest
from django.utils import timezone

from decor.calc.work.rates import Rates
from jobs.designs.catalogue import catalogue_now
from jobs.designs.charting import cells_array
from jobs.designs.models import LoadedRow, Panel
from jobs.designs.table import services
from jobs.designs.table.lines import chart_key, table_sheets
from jobs.designs.table.pace import Table
from tests.conftest import signed_in


@pytest.fixture
def key(panel) -> str:
    return chart_key(panel, table_sheets(panel, catalogue_now())[0], "top")


def send(client, panel, key, row, command="row_loaded", *, op="", face=0, sheet=1, ago_s=0):
    now = timezone.now()
    said = {
        "op_id": op or f"{command}-{face}-{sheet}-{row}-{ago_s}".replace("_", "-"),
        "command": command,
        "entity": f"table:{panel.pk}:{face}:{sheet}",
        "base_version": None,
        "client_time": (now - timedelta(seconds=ago_s)).isoformat(),
        "sent_time": now.isoformat(),
        "body": {"panel": panel.pk, "chart_key": key, "face": face, "sheet": sheet, "row": row},
    }
    return client.post("/commands/", json.dumps(said), content_type="application/json")


def rows() -> list[int]:
    return list(LoadedRow.objects.order_by("row").values_list("row", flat=True))


def test_rows_are_a_set_however_often_and_in_whatever_order_they_come(as_planner, planner, as_crew, shift, panel, key):
    for client, row, op in ((as_crew, 2, "a"), (as_planner, 1, "b"), (as_crew, 2, "a"), (as_planner, 2, "c")):
        told = send(client, panel, key, row, op=f"operation-{op}")
        assert told.status_code == 200
    assert told.json()["answer"]["rows"] == [1, 2] and rows() == [1, 2]
    assert LoadedRow.objects.get(row=2).by.username == "cory", "who said it first loaded it"


def test_a_row_is_taken_back_and_ticked_again(as_crew, shift, panel, key):
    send(as_crew, panel, key, 1)
    assert send(as_crew, panel, key, 1, "row_unloaded").json()["answer"]["rows"] == []
    assert send(as_crew, panel, key, 1, "row_unloaded", op="again-once-more").status_code == 200
    send(as_crew, panel, key, 1, op="and-in-again")
    assert rows() == [1]


def test_ticks_that_waited_for_a_signal_keep_their_times(as_crew, crew_user, shift, panel, key):
    for row, ago_s in ((1, 300), (2, 260), (4, 200)):
        send(as_crew, panel, key, row, ago_s=ago_s)
    took = dict(LoadedRow.objects.values_list("row", "seconds"))
    assert took[1] is None and took[2] == pytest.approx(40, abs=2) and took[4] == pytest.approx(60, abs=2)


def test_seconds_are_a_persons_own(as_crew, as_planner, shift, panel, key):
    send(as_crew, panel, key, 1, ago_s=90)
    send(as_planner, panel, key, 2, ago_s=50)
    send(as_crew, panel, key, 4, ago_s=10)
    took = dict(LoadedRow.objects.values_list("row", "seconds"))
    assert took[2] is None and took[4] == pytest.approx(80, abs=2)


def test_crew_without_a_shift_may_not_and_nothing_is_kept_of_it(other_crew_user, shift, panel, key):
    assert send(signed_in(other_crew_user), panel, key, 1).status_code == 403
    assert rows() == []


@pytest.mark.parametrize(
    "wrong",
    [
        {"row": 3}, {"row": 9}, {"row": -1}, {"row": "1"}, {"row": None}, {"row": True}, {"row": 2**70}, {"face": 1},
        {"face": 7}, {"sheet": 2.5}, {"key": "nonsense"}, {"key": None}, {"key": "0" * 40 + ":sideways"},
    ],
    ids=str,
)  # fmt: skip
def test_what_is_not_on_the_chart_is_refused_in_words(as_planner, panel, key, wrong):
    given = {"row": 1, "key": key, "face": 0, "sheet": 1} | wrong
    told = send(as_planner, panel, given.pop("key"), given.pop("row"), op="a-wrong-one", **given)
    assert told.status_code == 422 and told.json()["answer"]["message"]
    assert rows() == []


@pytest.mark.parametrize("number", [0, 10**9, 2**70, "1", None, [1]])
def test_a_panel_that_is_gone(as_planner, panel, key, number):
    panel.pk = number
    assert send(as_planner, panel, key, 1).status_code == 422


def test_a_tick_from_before_the_chart_was_changed_is_kept_apart(as_planner, panel, key):
    send(as_planner, panel, key, 1)
    cells = cells_array(panel).copy()
    cells[0, 0] = 1
    Panel.objects.filter(pk=panel.pk).update(cells=cells.tobytes())
    # This one was on its way while the chart was changed.
    assert send(as_planner, panel, key, 2).status_code == 200
    panel = Panel.objects.get(pk=panel.pk)
    table = Table(panel, catalogue_now(), Rates())
    assert table.cells_in(1, 0) == 0
    assert [row.row for row in table.earlier(1, 0)] == [1, 2] == rows()


def test_where_a_phone_is_is_forgotten_after_a_while(panel, planner, owner):
    now = timezone.now()
    services.loader_here(panel=panel, user=planner, face=0, sheet_number=1, now=now - timedelta(minutes=5))
    services.loader_here(panel=panel, user=owner, face=0, sheet_number=2, now=now - timedelta(minutes=1))
    services.loader_here(panel=panel, user=owner, face=0, sheet_number=1, now=now)
    assert [(at.user, at.sheet_number) for at in services.loaders_now(panel, now=now)] == [(owner, 1)]
