"""The colours page: what is chosen is shown, kept, refused beside its cause, and taken over."""

import re

import numpy as np
import pytest
from django.urls import reverse

from jobs.designs.charting import cells_array
from jobs.designs.models import EarlierChart, Panel, PanelDraft, Piece
from jobs.designs.pictures.recipe import bits_text, text_bits
from tests.jobs.designs.test_piece_views import url
from tests.shelf import only


def address(panel: Panel, name: str = "panel-colours") -> str:
    return reverse(f"jobs:{name}", args=[panel.piece.event_id, panel.piece_id])


@pytest.fixture
def chosen(panel, recipe) -> dict:
    """What the page sends as it is opened."""
    return {
        "version": "0", "panel_version": str(panel.version), "kind": "auto", "diffusion": "auto", "calm_ground": "on",
        "most_colours": "", "may": [*recipe.palette], "focus": "none", "strength": "3", "focus_cells": "",
    }  # fmt: skip


def words(page: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page))


def beside(page: str, field: str) -> str:
    found = re.search(rf'id="id_{field}_wrong"[^>]*>(.*?)</div>', page, re.S)
    return words(found[1]).strip() if found else f"no place beside {field}"


def test_the_page_shows_the_chart_its_nearness_and_its_counts(as_planner, panel):
    page = as_planner.get(address(panel)).content.decode()
    assert "Very close to the picture" in page and "flat art" in page and "told by the program" in page
    assert "6 of 6" in words(page) and "Fri 13 June" in page
    assert page.count('class="btn"') == 1 and "Use this chart" in page
    assert not PanelDraft.objects.exists(), "looking keeps nothing"


def test_what_is_chosen_is_shown_and_kept_but_not_in_use(as_planner, panel, chosen, stocked):
    without = [number for number in chosen["may"] if number != stocked["sky"].pk]
    answer = as_planner.post(
        address(panel, "panel-colours-look"), chosen | {"may": without}, headers={"HX-Request": "true"}
    )
    page = answer.content.decode()
    assert answer.status_code == 200 and "5 of 5" in words(page)
    assert answer["HX-Trigger-After-Settle"] == "figures", "cost and hours are asked for anew"
    draft = PanelDraft.objects.get()
    assert draft.recipe["must_not"] == [stocked["sky"].pk, stocked["yellow"].pk]
    sends = re.search(r'id="versions".*?name="version"[^>]*value="(\d+)"', page, re.S)
    assert sends and sends[1] == "1", "what is sent next counts from what was kept"
    assert Panel.objects.get().version == panel.version


def test_the_chart_is_taken_over_and_can_be_put_back(as_planner, panel, chosen, stocked):
    before = cells_array(panel).copy()
    without = [number for number in chosen["may"] if number != stocked["sky"].pk]
    answer = as_planner.post(address(panel), chosen | {"may": without, "act": "use"})
    assert answer.status_code == 302 and answer["Location"] == url("piece", panel.piece)
    now = Panel.objects.get()
    assert stocked["sky"].pk not in now.palette and not PanelDraft.objects.exists()
    page = as_planner.get(url("piece", panel.piece)).content.decode()
    assert "The chart is in use." in page and "Put the earlier chart back" in page
    back = as_planner.post(address(panel, "chart-put-back"), {"version": now.version}, follow=True)
    assert "The earlier chart is back" in back.content.decode()
    assert np.array_equal(cells_array(Panel.objects.get()), before)


def test_who_puts_back_an_old_page_s_chart_is_told(as_planner, panel, chosen):
    as_planner.post(address(panel), chosen | {"act": "use"})
    version = Panel.objects.get().version
    for stale in (version - 1, "x", ""):
        answer = as_planner.post(address(panel, "chart-put-back"), {"version": stale}, follow=True)
        assert "nothing was put back" in answer.content.decode()
    assert Panel.objects.get().version == version


def test_a_second_person_is_told_and_keeps_what_was_entered(as_planner, panel, chosen, stocked):
    red = [stocked["red"].pk, stocked["white"].pk]
    as_planner.post(address(panel, "panel-colours-look"), chosen | {"may": red})
    late = as_planner.post(address(panel), chosen | {"act": "use", "strength": "6"})
    page = late.content.decode()
    assert late.status_code == 409 and "Somebody else saved this in the meantime" in page
    assert "far more" in page and Panel.objects.get().version == panel.version
    assert re.search(r'name="version" value="1"', page), "sent again, it counts from theirs"
    again = as_planner.post(address(panel), chosen | {"act": "use", "strength": "6", "version": "1"})
    assert again.status_code == 302 and Panel.objects.get().recipe["focus"]["strength"] == 6.0


def test_cells_painted_meanwhile_are_not_buried(as_planner, panel, chosen):
    Panel.objects.update(version=panel.version + 1)
    late = as_planner.post(address(panel), chosen | {"act": "use"})
    assert late.status_code == 409 and not EarlierChart.objects.exists()


def test_a_draft_is_dropped(as_planner, panel, chosen, stocked):
    as_planner.post(address(panel, "panel-colours-look"), chosen | {"may": [stocked["red"].pk]})
    assert "Go on with the draft" in as_planner.get(url("piece", panel.piece)).content.decode()
    answer = as_planner.post(address(panel), {"act": "drop", "version": "1"})
    assert answer.status_code == 302 and not PanelDraft.objects.exists()
    assert Panel.objects.get().version == panel.version


@pytest.mark.parametrize(
    ("sent", "field", "says"),
    [
        ({"may": []}, "may", "Tick at least one colour."),
        ({"most_colours": "0"}, "most_colours", "At least one colour is needed."),
        ({"most_colours": "six"}, "most_colours", "whole number"),
        ({"first_row": "3"}, "last_row", "A box needs all four numbers."),
        ({"first_row": "3", "last_row": "99", "first_column": "1", "last_column": "2"}, "last_row", "at most 22"),
        ({"kind": "dream"}, "kind", "Choose"),
    ],
)
def test_what_is_refused_is_said_beside_its_cause(as_planner, panel, chosen, sent, field, says):
    for name in ("panel-colours-look", "panel-colours"):
        answer = as_planner.post(address(panel, name), chosen | {"act": "use"} | sent)
        assert answer.status_code == 422 and says in beside(answer.content.decode(), field)
    assert not PanelDraft.objects.exists() and Panel.objects.get().version == panel.version


def test_stock_too_small_by_one_is_said_with_the_day(as_planner, panel, chosen, stocked):
    """572 cells in two colours of which 571 balloons are free."""
    only(stocked["sky"], 171)
    sent = chosen | {"may": [stocked["sky"].pk, stocked["red"].pk], "within_stock": "on"}
    answer = as_planner.post(address(panel, "panel-colours-look"), sent)
    assert answer.status_code == 422
    assert "fill 571 of 572 cells on Fri 13 June: 1 short." in beside(answer.content.decode(), "within_stock")


def test_what_the_events_other_pieces_take_is_not_free_for_this_one(as_planner, panel, chosen, stocked):
    """Another panel of 100 sky balloons takes 104 with its spares: of 200 there are 96 left, as its page has it."""
    only(stocked["sky"], 200)
    other = Piece.objects.create(event=panel.piece.event, kind="panel", title="Sky", measures=panel.piece.measures)
    Panel.objects.create(
        piece=other, sheet=panel.sheet, rows=10, columns=10, palette=[stocked["sky"].pk],
        cells=np.zeros((10, 10), "<i2").tobytes(),
    )  # fmt: skip
    assert "96 free" in words(as_planner.get(address(panel)).content.decode())
    as_planner.post(address(panel), chosen | {"within_stock": "on", "act": "use"})
    now = Panel.objects.get(pk=panel.pk)
    assert np.count_nonzero(cells_array(now) == now.palette.index(stocked["sky"].pk)) == 96


def test_within_stock_no_colour_is_used_beyond_what_is_free(as_planner, panel, chosen, stocked):
    only(stocked["sky"], 200)
    as_planner.post(address(panel), chosen | {"within_stock": "on", "act": "use"})
    now = Panel.objects.get()
    counts = dict(zip(*np.unique(cells_array(now), return_counts=True), strict=True))
    assert counts[now.palette.index(stocked["sky"].pk)] == 200 and now.within_stock
    assert sum(counts.values()) == 572


def test_more_must_be_used_than_may(as_planner, panel, chosen):
    sent = chosen | {"must": chosen["may"][:3], "most_colours": "2"}
    answer = as_planner.post(address(panel, "panel-colours-look"), sent)
    assert "3 colours must be used, but at most 2 may be" in beside(answer.content.decode(), "most_colours")


def test_a_box_by_its_numbers_marks_what_counts(as_planner, panel, chosen):
    box = {"first_row": "2", "last_row": "3", "first_column": "5", "last_column": "7"}
    as_planner.post(address(panel, "panel-colours-look"), chosen | box)
    focus = PanelDraft.objects.get().recipe["focus"]
    marked = np.argwhere(text_bits(focus["cells"], 572).reshape(22, 26)).tolist()
    assert focus["act"] == "painted" and marked == [[row, column] for row in (1, 2) for column in (4, 5, 6)]


def test_marks_of_another_size_count_for_nothing_and_it_is_said(as_planner, panel, chosen):
    sent = chosen | {"focus": "painted", "focus_cells": bits_text(np.ones(100))}
    page = as_planner.post(address(panel, "panel-colours-look"), sent).content.decode()
    assert "Nothing is painted yet" in page
    broken = as_planner.post(address(panel, "panel-colours-look"), chosen | {"focus_cells": "no marks!"})
    assert broken.status_code == 422 and "came in broken" in broken.content.decode()


def test_a_piece_without_a_picture_is_led_to_one(as_planner, panel_piece):
    page = as_planner.get(url("panel-colours", panel_piece)).content.decode()
    assert "There is no picture yet." in page and url("piece-measures", panel_piece) in page


def test_a_picture_that_the_disk_has_lost_is_told(as_planner, panel, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "elsewhere"
    answer = as_planner.get(address(panel))
    assert answer.status_code == 200 and "no longer on the disk" in answer.content.decode()


def test_only_a_panel_has_colours(as_planner, column_piece):
    assert as_planner.get(url("panel-colours", column_piece)).status_code == 404


def test_a_double_tap_uses_it_once(as_planner, panel, chosen):
    sent = chosen | {"act": "use", "request_key": "k" * 20}
    first, second = (as_planner.post(address(panel), sent) for _ in range(2))
    assert first["Location"] == second["Location"] and Panel.objects.get().version == panel.version + 1


def test_the_crew_never_sees_it(as_crew, panel, chosen):
    for name in ("panel-colours", "panel-colours-look", "panel-colours-buy", "chart-put-back"):
        assert as_crew.post(address(panel, name), chosen).status_code in (403, 404)
    assert Panel.objects.get().version == panel.version


def test_what_leads_on(as_planner, panel, stocked):
    """The one act of a piece's page: settle the colours while balloons are short, else on to making it."""
    page = as_planner.get(url("piece", panel.piece)).content.decode()
    assert "Go to the build book" in page
    only(stocked["sky"], 5)
    assert "Settle the colours" in as_planner.get(url("piece", panel.piece)).content.decode()
    only(stocked["sky"], 500)
    event = Piece.objects.get().event
    event.stage = "in production"
    event.save()
    assert "Load at the table" in as_planner.get(url("piece", panel.piece)).content.decode()
