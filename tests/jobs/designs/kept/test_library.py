"""Panels kept, found again by words and by a picture, and used for another piece."""

import io
import json

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image

from jobs.designs.catalogue import catalogue_now
from jobs.designs.charting import cells_array
from jobs.designs.kept import services
from jobs.designs.models import KeptPanel, Panel, PanelDraft
from jobs.designs.pictures.making import made
from jobs.designs.pictures.recipe import Recipe
from tests.jobs.designs.test_piece_views import url


@pytest.fixture
def panel(panel_piece, sheets, stocked) -> Panel:
    """A red box on sky with a tip and a line one cell wide, one corner empty."""
    cells = np.zeros((11, 9), "<i2")
    cells[3:8, 2:7] = 1
    cells[2, 4] = cells[9, 1:8] = 1
    cells[0, 0] = -1
    return Panel.objects.create(
        piece=panel_piece, sheet=sheets["small"], rows=11, columns=9, palette=[stocked["sky"].pk, stocked["red"].pk],
        cells=cells.tobytes(),
    )  # fmt: skip


@pytest.fixture
def kept(as_planner, panel) -> KeptPanel:
    sent = as_planner.post(url("panel-keep", panel.piece), {"title": "Red box", "note": "harbour day"})
    assert sent.status_code == 302
    return KeptPanel.objects.get()


def use_url(panel: Panel, kept: KeptPanel) -> str:
    return reverse("jobs:kept-use", args=[panel.piece.event_id, panel.piece_id, kept.pk])


def test_what_is_kept_is_the_chart_in_its_colours_and_nothing_of_the_client(kept, panel):
    file = services.kept_file(kept)
    assert np.array_equal(file.chart.cells, cells_array(panel))
    assert [one.words for one in file.palette] == ["sky", "red"]
    panel.delete()
    assert KeptPanel.objects.count() == 1


def test_found_by_words_and_told_where_nothing_is(as_planner, kept):
    page = reverse("jobs:library")
    found = as_planner.get(page + "?q=HARBOUR").content.decode()
    assert "Red box" in found and "Show all" in found
    assert "Show all" not in as_planner.get(page).content.decode()
    assert "Nothing is called" in as_planner.get(page + "?q=swan").content.decode()


def test_found_by_a_picture_of_it(as_planner, kept, panel):
    from jobs.designs.drawing import rgb_of_hex
    from jobs.designs.out.pictures import panel_image

    file = services.kept_file(kept)
    seen = panel_image(file.chart, [rgb_of_hex(one.rgb) for one in file.palette], 360).rotate(
        1, fillcolor=(230, 228, 220)
    )
    other = Image.new("RGB", (300, 300), (20, 120, 40))
    for image, found in ((seen, True), (other, False)):
        out = io.BytesIO()
        image.save(out, "JPEG")
        photo = SimpleUploadedFile("seen.jpg", out.getvalue(), "image/jpeg")
        page = as_planner.post(reverse("jobs:library"), {"picture": photo}).content.decode()
        assert ("Red box" in page) is found and ("Nothing in the library looks like" in page) is not found


def test_used_again_on_the_same_sheet_every_cell_comes_back(as_planner, kept, panel, stocked):
    answer = as_planner.post(
        use_url(panel, kept),
        {"sheet": panel.sheet_id, "colour0": stocked["navy"].pk, "colour1": stocked["yellow"].pk, "version": 0},
    )
    assert answer.url == url("panel-frame", panel.piece)
    draft = PanelDraft.objects.get()
    catalogue = catalogue_now()
    from decor.studio.services import file_read

    again = made(
        Recipe.from_plain(draft.recipe),
        file_read(file=draft.picture),
        catalogue=catalogue,
        piece=panel.piece,
        anew=True,
    )
    words = [catalogue.balloon(number).words for number in again.palette]
    was = cells_array(panel)
    assert np.array_equal(again.chart.cells == -1, was == -1)
    assert np.array_equal(again.chart.cells == words.index("navy"), was == 0)
    assert np.array_equal(again.chart.cells == words.index("yellow"), was == 1)
    assert again.warnings == (), "its tip and its line are as wide as the cells they were made for"
    # Another picture is a client's again, whose thin strokes are told.
    assert draft.recipe["of_cells"]
    file = SimpleUploadedFile("x.png", file_read(file=draft.picture), "image/png")
    assert as_planner.post(url("panel-frame", panel.piece), {"act": "picture", "picture": file}).status_code == 302
    assert not PanelDraft.objects.get().recipe["of_cells"]


def test_a_stale_draft_is_not_buried(as_planner, kept, panel, stocked):
    PanelDraft.objects.create(piece=panel.piece, recipe=Recipe(sheet=panel.sheet_id, rows=3, columns=3).to_plain())
    sent = {"sheet": panel.sheet_id, "colour0": stocked["navy"].pk, "colour1": stocked["red"].pk, "version": 0}
    answer = as_planner.post(use_url(panel, kept), sent)
    assert answer.status_code == 409 and "Somebody else began something" in answer.content.decode()
    assert PanelDraft.objects.get().picture is None


def test_a_chart_from_a_file_joins_the_library_and_goes_out_the_same(as_planner, kept):
    data = as_planner.get(reverse("jobs:kept-file", args=[kept.pk])).content
    sent = as_planner.post(
        reverse("jobs:library-read"), {"chart": SimpleUploadedFile("box.json", data, "application/json")}
    )
    other = KeptPanel.objects.exclude(pk=kept.pk).get()
    assert sent.url == reverse("jobs:kept-panel", args=[other.pk])
    assert as_planner.get(reverse("jobs:kept-file", args=[other.pk])).content == data
    assert json.loads(data)["title"] == "Red box"


def test_a_file_that_is_none_is_told_beside_its_field(as_planner, studio):
    bad = SimpleUploadedFile("box.json", b"{}", "application/json")
    answer = as_planner.post(reverse("jobs:library-read"), {"chart": bad})
    assert answer.status_code == 422 and "not a panel&#x27;s chart" in answer.content.decode()


def test_two_who_rename_it_do_not_bury_each_other(as_planner, kept):
    page = reverse("jobs:kept-panel", args=[kept.pk])
    assert as_planner.post(page, {"title": "Box", "note": "", "version": 1}).status_code == 302
    late = as_planner.post(page, {"title": "Parcel", "note": "", "version": 1})
    assert late.status_code == 409 and "Box" in late.content.decode()
    assert KeptPanel.objects.get().title == "Box"


def test_taken_out_of_the_library(as_planner, kept):
    as_planner.post(reverse("jobs:kept-remove", args=[kept.pk]))
    assert not KeptPanel.objects.exists()
