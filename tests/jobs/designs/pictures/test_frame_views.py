"""The frame page: what is cut, turned, lit and sized is seen, kept, refused beside its cause, and handed on."""

import io
import re
from dataclasses import replace

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from decor.calc.picture.framing import Frame, framed
from decor.studio.models import StoredFile
from jobs.designs.catalogue import catalogue_now
from jobs.designs.charting import cells_array
from jobs.designs.models import PanelDraft
from jobs.designs.pictures.drafts import draft_of
from jobs.designs.pictures.making import made
from jobs.designs.pictures.recipe import FramePart, Recipe, Words
from jobs.designs.pictures.shown import mirrored, seen_box, turned, with_seen_box
from jobs.designs.pictures.sizes import rows_for, suggested
from tests.jobs.designs.conftest import encoded, lighthouse
from tests.jobs.designs.pictures.test_colours_views import beside, words

HTMX = {"HX-Request": "true"}


def address(piece, name: str = "panel-frame") -> str:
    return reverse(f"jobs:{name}", args=[piece.event_id, piece.pk])


@pytest.fixture
def sent(panel) -> dict:
    """What the page sends as it is opened."""
    return {
        "version": "0", "panel_version": str(panel.version), "cut_left": "0", "cut_top": "0", "cut_right": "0",
        "cut_bottom": "0", "level": "0", "brightness": "0", "contrast": "0", "ground": "keep", "ground_latex": "",
        "sheet": str(panel.sheet_id), "unit": "cells", "width": "26", "height": "", "outline": "whole",
        "outline_text": "",
    }  # fmt: skip


def kept() -> Recipe:
    return Recipe.from_plain(PanelDraft.objects.get().recipe)


def test_looking_keeps_nothing_and_leads_on(as_planner, panel):
    page = as_planner.get(address(panel.piece)).content.decode()
    assert page.count('class="btn"') == 1 and "Go on to the colours" in page
    assert (
        "26 wide, 22 high" in page and "Small: " in page and "Large: " in page and "whole from about 4.6" in words(page)
    )
    assert not PanelDraft.objects.exists()


def test_a_crop_is_kept_and_the_height_follows_it(as_planner, panel, sent):
    answer = as_planner.post(
        address(panel.piece, "panel-frame-look"), sent | {"cut_left": "25", "cut_right": "25"}, headers=HTMX
    )
    assert answer.status_code == 200 and "26 wide, 44 high" in words(answer.content.decode())
    assert answer["HX-Trigger-After-Settle"] == "figures"
    assert (kept().frame.left, kept().frame.right, kept().rows) == (0.25, 0.75, 44)


def test_the_act_goes_on_to_the_colours_with_all_of_it(as_planner, panel, sent, stocked):
    changes = {
        "level": "3.5", "brightness": "20", "contrast": "-10", "ground": "colour",
        "ground_latex": str(stocked["yellow"].pk), "outline": "heart", "act": "go",
    }  # fmt: skip
    answer = as_planner.post(address(panel.piece), sent | changes)
    assert answer.status_code == 302 and answer["Location"] == address(panel.piece, "panel-colours")
    frame = kept().frame
    assert (frame.level_deg, frame.brightness, frame.contrast) == (3.5, 0.2, -0.1)
    assert frame.ground.act == "colour" and frame.ground.latex == stocked["yellow"].pk
    assert kept().outline.kind == "heart" and kept().source == "picture"


def test_turning_and_mirroring_keep_what_is_cut_off_where_it_is_seen(as_planner, panel, sent):
    as_planner.post(address(panel.piece), sent | {"cut_left": "20", "act": "turn"})
    assert kept().frame.turn == 90 and kept().frame.left == pytest.approx(0.2)
    page = as_planner.get(address(panel.piece)).content.decode()
    assert 'name="cut_top" value="20"' in page, "what was at the left is on top now"
    again = sent | {"version": "1", "cut_left": "0", "cut_top": "20", "act": "mirror"}
    as_planner.post(address(panel.piece), again)
    assert kept().frame.mirror and kept().frame.left == pytest.approx(0.2)
    as_planner.post(address(panel.piece), again | {"version": "2", "act": "whole"})
    assert seen_box(kept().frame) == (0.0, 0.0, 1.0, 1.0) and kept().frame.turn == 90


@given(
    st.tuples(st.floats(0, 0.4), st.floats(0, 0.4), st.floats(0.6, 1), st.floats(0.6, 1)),
    st.sampled_from([0, 90, 180, 270]),
    st.booleans(),
)
def test_a_crop_seen_is_the_crop_made(box, turn, mirror):
    """Cutting what is seen of the turned picture is the same as framing it."""
    picture = np.random.default_rng(1).integers(0, 255, (40, 50, 3), dtype=np.uint8)
    part = with_seen_box(FramePart(turn=turn, mirror=mirror), box)
    assert seen_box(part) == pytest.approx(box)
    assert seen_box(turned(part)) == pytest.approx((1 - box[3], box[0], 1 - box[1], box[2]))
    assert seen_box(mirrored(part)) == pytest.approx((1 - box[2], box[1], 1 - box[0], box[3]))
    whole = framed(picture, Frame(turn=turn, mirror=mirror))
    sides = (part.left, part.top, part.right, part.bottom)
    cut = framed(picture, Frame(*(min(1.0, max(0.0, side)) for side in sides), turn=turn, mirror=mirror))
    high, wide = whole.shape[:2]
    assert abs(cut.shape[0] - (box[3] - box[1]) * high) <= 1.01 and abs(cut.shape[1] - (box[2] - box[0]) * wide) <= 1.01
    top, left = (box[1] * high, box[0] * wide)
    places = [(int(top) + y, int(left) + x) for y in (-1, 0, 1) for x in (-1, 0, 1)]
    places = [(y, x) for y, x in places if y >= 0 and x >= 0]
    assert any((whole[y : y + 9, x : x + 9] == cut[:9, :9]).all() for y, x in places)


def test_a_suggested_size_is_taken(as_planner, panel, sent):
    page = as_planner.get(address(panel.piece)).content.decode()
    size = page.split('value="size-')[1].split('"')[0]
    as_planner.post(address(panel.piece), sent | {"act": f"size-{size}"})
    rows, columns = map(int, size.split("x"))
    assert (kept().rows, kept().columns) == (rows, columns)


def test_sizes_are_read_in_the_unit_that_they_are_said_in(as_planner, panel, sent):
    feet = sent | {"unit": "ft", "width": "20", "sizes_key": ""}
    part = words(as_planner.post(address(panel.piece, "panel-frame-look"), feet, headers=HTMX).content.decode())
    assert re.search(r"wide, \d+ high: [\d.]+ × [\d.]+ ft", part) and "whole from about" in part
    assert len(re.findall(r"(?:Small|Middle|Large): [\d.]+ × [\d.]+ ft", part)) == 3 and " m " not in part
    metres = feet | {"unit": "m", "width": "6"}
    part = words(as_planner.post(address(panel.piece, "panel-frame-look"), metres, headers=HTMX).content.decode())
    assert len(re.findall(r"(?:Small|Middle|Large): [\d.]+ × [\d.]+ m", part)) == 3 and " ft " not in part


def test_suggestions_keep_the_shape_and_use_whole_sheets(store, sheets):
    sheet = store.sheet(sheets["large"].pk)
    for kind, most in (("flat", 2_500), ("photograph", 7_000)):
        sizes = suggested(sheet, 0.8, kind)
        assert len(sizes) == 3 and sorted(r * c for r, c in sizes) == [r * c for r, c in sizes]
        for rows, columns in sizes:
            assert rows == rows_for(sheet, columns, 0.8)
        assert most * 0.7 < sizes[-1][0] * sizes[-1][1] < most * 1.4
        spare = [sheet.sheets_for(r, c) * 22 * 13 / (r * c) for r, c in sizes]
        assert max(spare) < 1.45 and min(spare) < 1.1


def test_suggestions_lie_on_sheets_that_can_be_carried(as_planner, studio, panel, sheets):
    """Loaded in the workshop a large sheet is 1.65 m wide: through a door of 1.5 m only small ones go."""
    said = re.compile(r"rows=(\d+)&amp;columns=(\d+)&amp;sheet=(\d+)")

    def suggested_on() -> set[int]:
        return {int(sheet) for _, _, sheet in said.findall(as_planner.get(address(panel.piece)).content.decode())}

    assert suggested_on() == {sheets["large"].pk}
    studio.rates = {"van_door_m": 1.5}
    studio.save()
    assert suggested_on() == {sheets["small"].pk}
    page = as_planner.get(address(panel.piece)).content.decode()
    for rows, columns, sheet in said.findall(page):
        asked = {"rows": rows, "columns": columns, "sheet": sheet}
        figures = words(as_planner.get(address(panel.piece, "panel-figures"), asked).content.decode())
        (count,) = re.findall(r"Sheets (\d+) sheets?", figures)
        assert f"{columns} wide, {rows} high. {count} sheet" in words(page)


@pytest.mark.parametrize(
    ("wrong", "field", "told"),
    [
        ({"cut_left": "60", "cut_right": "45"}, "cut_right", "leave nothing"),
        ({"cut_top": "99"}, "cut_top", "At most 98 %"),
        ({"cut_top": "much"}, "cut_top", "number"),
        ({"width": ""}, "width", "Say how wide or how high"),
        ({"width": "2.5"}, "width", "whole numbers"),
        ({"width": "9000", "height": "9000"}, "width", "the most is 100,000"),
        ({"ground": "colour"}, "ground_latex", "Choose the colour"),
        ({"outline": "letters"}, "outline_text", "Write the letters"),
        ({"outline": "letters", "outline_text": "ZOË"}, "outline_text", "no big letter for Ë;"),
        ({"outline": "letters", "outline_text": "FAR TOO LONG"}, "outline_text", "These letters need a panel of"),
        ({"outline": "heart", "width": "1", "height": "1"}, "outline", ""),
    ],
)
def test_what_is_wrong_is_said_beside_it_and_kept_out(as_planner, panel, sent, wrong, field, told):
    answer = as_planner.post(address(panel.piece), sent | wrong | {"act": "go"})
    if told:
        assert answer.status_code == 422 and told in beside(answer.content.decode(), field)
        assert not PanelDraft.objects.exists()
    else:
        assert answer.status_code in (302, 422)  # one cell is a heart or too few cells, never an error of ours


def test_two_who_frame_at_once_are_told(as_planner, panel, sent):
    as_planner.post(address(panel.piece, "panel-frame-look"), sent | {"level": "5"}, headers=HTMX)
    answer = as_planner.post(address(panel.piece), sent | {"level": "-5", "act": "go"})
    assert answer.status_code == 409 and "Somebody else saved this" in answer.content.decode()
    assert kept().frame.level_deg == 5.0


def test_another_picture_begins_anew(as_planner, panel, sent):
    as_planner.post(address(panel.piece, "panel-frame-look"), sent | {"cut_left": "30"}, headers=HTMX)
    solid = lighthouse().convert("RGBA")
    solid.paste((0, 0, 0, 0), (0, 0, 260, 440))
    file = SimpleUploadedFile("logo.png", encoded(solid), "image/png")
    answer = as_planner.post(address(panel.piece), {"act": "picture", "picture": file})
    assert answer.status_code == 302 and kept().frame == FramePart()
    page = as_planner.get(address(panel.piece)).content.decode()
    assert "see-through parts stay empty" in page
    assert re.search(r"Cells 2[89]\d cells", words(page)), "half of the 572 cells have no balloon"
    seen = as_planner.get(address(panel.piece, "panel-frame-picture"))
    assert seen["Content-Type"] == "image/png"


def test_a_bad_picture_is_refused_beside_it(as_planner, panel):
    for data, told in ((b"", "This file is empty."), (b"words", "not a JPEG, PNG, WebP or HEIC")):
        file = SimpleUploadedFile("x.png", data, "image/png")
        answer = as_planner.post(address(panel.piece), {"act": "picture", "picture": file})
        assert answer.status_code == 422 and told in answer.content.decode()
    assert not PanelDraft.objects.exists() and StoredFile.objects.count() == 1


def test_without_a_picture_one_is_asked_for(as_planner, panel_piece, store):
    page = as_planner.get(address(panel_piece)).content.decode()
    assert "Take this picture" in page
    file = SimpleUploadedFile("light.png", encoded(lighthouse()), "image/png")
    answer = as_planner.post(address(panel_piece), {"act": "picture", "picture": file})
    assert answer["Location"] == address(panel_piece)
    assert "As balloons" in as_planner.get(address(panel_piece)).content.decode()


def test_the_stage_shows_the_picture_as_it_is_turned(as_planner, panel, sent):
    as_planner.post(address(panel.piece), sent | {"act": "turn"})
    seen = as_planner.get(address(panel.piece, "panel-frame-picture"))
    image = Image.open(io.BytesIO(seen.content))
    assert image.size == (440, 520) and seen["Content-Type"] == "image/jpeg"
    upright = np.asarray(lighthouse().transpose(Image.Transpose.ROTATE_270)).astype(int)
    assert np.abs(np.asarray(image).astype(int) - upright).mean() < 6


def test_see_through_cells_are_empty_and_thin_lines_are_warned_of(panel, store, recipe):
    solid = lighthouse().convert("RGBA")
    solid.paste((255, 0, 0, 0), (0, 0, 260, 440))
    done = made(recipe, encoded(solid), catalogue=store, piece=panel.piece, anew=True)
    assert (done.chart.cells[:, :13] == -1).all() and (done.chart.cells[:, 14:] >= 0).all()
    drawing = Image.new("RGB", (520, 440), "white")
    for x in range(20, 500, 60):
        drawing.paste((0, 0, 0), (x, 20, x + 10, 420))
    warned = made(recipe, encoded(drawing), catalogue=store, piece=panel.piece, anew=True).warnings
    assert any(re.match(r"Some lines are under (half|three quarters of) a cell thick", one) for one in warned)
    plain = Image.new("RGB", (520, 440), "white")
    plain.paste((200, 40, 50), (60, 60, 300, 380))
    assert not made(recipe, encoded(plain), catalogue=store, piece=panel.piece, anew=True).warnings


def test_the_plain_ground_is_taken_away_or_given_a_colour(as_planner, panel, sent, stocked):
    answer = as_planner.post(address(panel.piece, "panel-frame-look"), sent | {"ground": "empty"}, headers=HTMX)
    page = words(answer.content.decode())
    assert answer.status_code == 200 and ("others stay empty" in page or "No plain background" in page)


def test_opening_and_going_on_changes_nothing(as_planner, panel, sent):
    before = draft_of(piece=panel.piece, catalogue=None).recipe
    as_planner.post(address(panel.piece), sent | {"act": "go"})
    assert not PanelDraft.objects.exists() or PanelDraft.objects.get().recipe == before
    assert cells_array(panel).shape == (22, 26)


@pytest.mark.parametrize("name", ["panel-frame", "panel-frame-picture"])
def test_the_crew_does_not_frame(as_crew, panel, name):
    assert as_crew.get(address(panel.piece, name)).status_code in (403, 404)


def test_words_tried_in_between_do_not_squeeze_the_picture(as_planner, panel, sent):
    draft = draft_of(piece=panel.piece, catalogue=catalogue_now())
    words_recipe = replace(
        Recipe.from_plain(draft.recipe), source="words", rows=11, columns=45, words=Words(text="Harbour")
    )
    PanelDraft.objects.create(piece=panel.piece, picture=panel.picture, recipe=words_recipe.to_plain())
    page = words(as_planner.get(address(panel.piece)).content.decode())
    assert "26 wide, 22 high" in page and "45 wide" not in page
    answer = as_planner.post(address(panel.piece), sent | {"version": "1", "act": "go"})
    assert answer.status_code == 302
    assert (kept().source, kept().rows, kept().columns) == ("picture", 22, 26)
    # A picture that no chart was made of yet: as wide as the words were, and as high as it asks for.
    panel.delete()
    PanelDraft.objects.update(recipe=words_recipe.to_plain())
    high = rows_for(catalogue_now().sheet(words_recipe.sheet), 45, 440 / 520)
    assert f"45 wide, {high} high" in words(as_planner.get(address(panel.piece)).content.decode())
