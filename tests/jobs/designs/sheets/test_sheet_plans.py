"""A panel's sheet plan: kept with the chart, kept through small changes, made anew where it no longer serves."""

from dataclasses import replace

import numpy as np
import pytest
from django.urls import reverse

from decor.studio.models import BackgroundJob
from inventory.models import Sheet
from jobs.designs.catalogue import catalogue_now
from jobs.designs.kinds import panel as kind
from jobs.designs.models import Panel, Piece
from jobs.designs.sheets.keeping import KIND, plan_anew, plan_compute
from jobs.designs.sheets.plans import blocks_of, panel_plan, planned, types_like
from jobs.designs.sheets.words import counted


@pytest.fixture
def nets(studio):
    made = {}
    for name, rows, columns, price in (("small", 8, 8, 9), ("large", 12, 8, 12)):
        made[name] = Sheet.objects.create(
            kind="sheet", name=f"Net {name}", rows=rows, columns=columns, lattice="square", pitch_m=0.1,
            sized_diameter_m=0.12, tabs_per_side=rows, tabs_per_end=columns, pack_price=price, uses=3, returnable=True,
        )  # fmt: skip
    return made


@pytest.fixture
def panel(event, latex, nets):
    """A round panel 20 wide and 20 high."""
    down, right = np.mgrid[:20, :20] - 9.5
    cells = np.where(down**2 + right**2 <= 100, 0, -1).astype("<i2")
    piece = Piece.objects.create(event=event, kind="panel", title="Sun", measures={})
    return Panel.objects.create(
        piece=piece, sheet=nets["small"], rows=20, columns=20, palette=[latex["yellow"].pk], cells=cells.tobytes()
    )


def repaint(panel, row, column, colour):
    cells = np.frombuffer(bytes(panel.cells), "<i2").reshape(20, 20).copy()
    cells[row, column] = colour
    Panel.objects.filter(pk=panel.pk).update(cells=cells.tobytes())
    panel.refresh_from_db()


def places(panel):
    plan = panel_plan(panel, catalogue_now())
    return [(sheet.row_start - sheet.skip_rows, sheet.column_start - sheet.skip_columns) for sheet in plan.sheets]


def test_sheets_of_both_types_carry_every_cell_once(panel):
    found = planned(panel, catalogue_now())
    assert {kind.name for kind in found.types} == {"Net small", "Net large"}
    filled = np.frombuffer(bytes(panel.cells), "<i2") >= 0
    assert sum(sheet.cells for sheet in found.plan.sheets) == filled.sum()
    blocks = blocks_of(found.plan, 20, 20)
    assert (blocks[filled] > 0).all()
    assert set(blocks[filled]) == {part.number for part in found.plan.sections}


def test_only_nets_alike_go_together(panel, nets):
    Sheet.objects.filter(pk=nets["large"].pk).update(pitch_m=0.11)
    catalogue = catalogue_now()
    assert [kind.name for kind in types_like(catalogue.sheet(nets["small"].pk), catalogue)] == ["Net small"]


def test_a_kept_plan_stays_while_it_carries_the_chart(panel):
    plan_anew(panel=panel, version=panel.version, allowed=None)
    before = places(panel)
    top = np.flatnonzero(np.frombuffer(bytes(panel.cells), "<i2")[:20] >= 0)[0]
    repaint(panel, 0, top, -1)
    found = planned(panel, catalogue_now())
    assert (found.kept, found.stale, places(panel)) == (True, True, before)
    repaint(panel, 0, top, 0)
    assert not planned(panel, catalogue_now()).stale


def test_a_chart_that_grows_beyond_its_sheets_is_planned_anew(panel, nets):
    repaint(panel, 0, 0, -1)
    cells = np.full((20, 20), -1, "<i2")
    cells[:8, :8] = 0
    Panel.objects.filter(pk=panel.pk).update(cells=cells.tobytes())
    panel.refresh_from_db()
    plan_anew(panel=panel, version=panel.version, allowed=None)
    assert len(places(panel)) == 1
    repaint(panel, 19, 19, 0)
    assert not planned(panel, catalogue_now()).kept
    assert len(places(panel)) == 2


def test_the_worker_keeps_a_better_plan_with_its_bound(panel):
    job = plan_anew(panel=panel, version=panel.version, allowed=None)
    assert job.kind == KIND
    plan_compute(panel.pk, lambda share, words: None)()
    panel.refresh_from_db()
    found = planned(panel, catalogue_now())
    assert 0 < found.bound <= found.cost
    assert found.gap is not None


def test_a_plan_of_an_outline_that_changed_meanwhile_is_not_kept(panel):
    plan_anew(panel=panel, version=panel.version, allowed=None)
    write = plan_compute(panel.pk, lambda share, words: None)
    repaint(panel, 9, 9, -1)
    kept = panel.plan
    write()
    panel.refresh_from_db()
    assert panel.plan == kept


def test_the_estimate_takes_the_plan(panel, nets):
    catalogue = catalogue_now()
    measures = kind.calc_measures({}, catalogue=catalogue, panel=panel)
    plan = panel_plan(panel, catalogue)
    assert sum(number for _, number in measures.sheets.sheets) == len(plan.sheets)
    assert measures.sheets.joins.tabs == sum(join.length_cells for join in plan.joins)
    assert {key for key, _ in measures.sheets.sheets} <= {net.pk for net in nets.values()}


@pytest.mark.parametrize(("minutes", "taken"), [(0.0, "small"), (6.0, "large")])
def test_opening_a_sheet_counts_among_its_costs(panel, nets, studio, minutes, taken):
    """24 by 24 cells: nine small sheets at 1 € each use are cheaper than six large ones at 2 €, and dearer once each
    takes 6 minutes to open at 20 € an hour: 9 × (1 + 2) against 6 × (2 + 2), and fewer joins."""
    Sheet.objects.filter(pk=nets["small"].pk).update(pack_price=3)
    Sheet.objects.filter(pk=nets["large"].pk).update(pack_price=6)
    studio.rates = {**studio.rates, "open_sheet_min": minutes, "join_tab_s": 0.001}
    studio.wage_per_hour = 20
    studio.save()
    Piece.objects.filter(pk=panel.piece_id).update(built_at="venue")
    panel.rows = panel.columns = 24
    panel.cells = np.zeros((24, 24), "<i2").tobytes()
    panel.save()
    found = planned(Panel.objects.get(pk=panel.pk), catalogue_now(studio))
    assert {found.types[sheet.size].name for sheet in found.plan.sheets} == {f"Net {taken}"}


def test_sections_pass_the_venues_door(panel):
    catalogue = catalogue_now()
    wide = planned(panel, catalogue)
    venue = panel.piece.event.venue
    venue.door_width_m, venue.door_height_m = 0.7, 1.0
    narrow = planned(panel, catalogue)
    assert len(narrow.plan.sections) > len(wide.plan.sections)
    assert all(
        min(part.row_stop - part.row_start, part.column_stop - part.column_start) * 0.1 <= 1.0
        for part in narrow.plan.sections
    )
    panel.piece.built_at = "venue"
    assert len(planned(panel, catalogue).plan.sections) == 1


def test_a_sheet_that_no_door_lets_through_is_left_out(panel, nets):
    catalogue = catalogue_now()
    catalogue = replace(catalogue, making=replace(catalogue.making, van_door_m=1.0, van_length_m=1.0))
    found = planned(panel, catalogue)
    assert found.left_out == ("Net large",)
    assert {found.type_of(sheet.number).name for sheet in found.plan.sheets} == {"Net small"}


def test_the_page_shows_sheets_sections_and_strips(as_planner, panel):
    address = reverse("jobs:panel-sheets", args=[panel.piece.event_id, panel.piece_id])
    page = as_planner.get(address)
    text = page.content.decode()
    assert page.status_code == 200
    assert "Sheet 1</b>" in text and "Pull the strip" in text and "Look for the cheapest plan" in text
    assert text.count('class="btn"') == 1


def test_the_page_plans_again_with_the_types_that_are_ticked(as_planner, panel, nets):
    address = reverse("jobs:panel-sheets", args=[panel.piece.event_id, panel.piece_id])
    given = {"version": panel.version, "types": [nets["large"].pk]}
    assert as_planner.post(address, given).status_code == 302
    panel.refresh_from_db()
    assert {kind for _, _, kind in panel.plan["sheets"]} == {nets["large"].pk}
    assert BackgroundJob.objects.filter(kind=KIND, subject_id=panel.pk).count() == 1
    assert as_planner.post(address, {"version": panel.version}).status_code == 422
    assert as_planner.post(address, given | {"version": 99}).status_code == 409


def test_a_type_that_cannot_be_laid_is_refused_beside_its_tick(as_planner, panel, nets):
    Sheet.objects.update(sides_join=False)
    address = reverse("jobs:panel-sheets", args=[panel.piece.event_id, panel.piece_id])
    assert "Against the sheets’ rules" in as_planner.get(address).content.decode().replace("'", "’").replace(
        "&#x27;", "’"
    )
    answer = as_planner.post(address, {"version": panel.version, "types": [nets["small"].pk]})
    assert answer.status_code == 422
    assert "do not join" in answer.content.decode()


def test_without_a_chart_the_page_says_so(as_planner, event):
    piece = Piece.objects.create(event=event, kind="panel", title="Bare", measures={})
    assert "no chart yet" in as_planner.get(reverse("jobs:panel-sheets", args=[event.pk, piece.pk])).content.decode()


def test_numbers_are_said_in_runs():
    assert counted([4]) == "4"
    assert counted([1, 2, 3, 7, 9]) == "1 to 3, 7 and 9"
