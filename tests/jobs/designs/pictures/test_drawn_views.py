"""Pages of words and of patterns: tried out, kept, refused beside the cause, taken over."""

import re

import numpy as np
import pytest
from django.urls import reverse

from decor.calc.picture.lettering import LETTER, lettered
from inventory.models import Sheet
from jobs.designs.charting import cells_array
from jobs.designs.models import Panel, PanelDraft, Piece
from jobs.designs.pictures.recipe import Recipe
from tests.jobs.designs.pictures.test_colours_views import beside, words
from tests.jobs.designs.test_piece_views import url
from tests.shelf import empty, only


@pytest.fixture
def square(sheets) -> Sheet:
    Sheet.objects.filter(pk=sheets["large"].pk).update(lattice="square")
    return sheets["large"]


@pytest.fixture
def written(square, stocked) -> dict:
    return {
        "version": "0", "panel_version": "0", "sheet": square.pk, "loading": "paired", "text": "Éva 40",
        "height": "middle", "align": "centre", "letter": stocked["red"].pk, "ground": stocked["white"].pk,
        "edge": "", "shadow": "", "margin": "1", "wide": "", "high": "",
    }  # fmt: skip


@pytest.fixture
def striped(square, stocked) -> dict:
    return {
        "version": "0", "panel_version": "0", "sheet": square.pk, "loading": "paired", "kind": "stripes",
        "first": stocked["red"].pk, "second": stocked["white"].pk, "way": "columns", "course": "down",
        "blend": "mixed", "widths": "2, 1", "wide": "30", "high": "10",
    }  # fmt: skip


def look(piece: Piece, name: str) -> str:
    return reverse(f"jobs:panel-{name}-look", args=[piece.event_id, piece.pk])


@pytest.mark.parametrize(("name", "first"), [("words", "Write the words"), ("pattern", "Choose a pattern")])
def test_the_page_opens_before_anything_is_drawn(as_planner, panel_piece, stocked, name, first):
    page = as_planner.get(url(f"panel-{name}", panel_piece)).content.decode()
    assert first in page and "Use this chart" in page and page.count('class="btn"') == 1
    assert not PanelDraft.objects.exists(), "looking keeps nothing"


def test_the_first_form_leads_to_them(as_planner, panel_piece, stocked):
    for page in ("piece-measures", "piece"):
        text = as_planner.get(url(page, panel_piece)).content.decode()
        assert url("panel-words", panel_piece) in text and url("panel-pattern", panel_piece) in text


def test_words_are_shown_with_the_size_they_need_and_kept(as_planner, panel_piece, written, stocked):
    answer = as_planner.post(look(panel_piece, "words"), written, headers={"HX-Request": "true"})
    drawn = lettered("Éva 40", height="middle")
    rows, columns = drawn.rows + 2, drawn.columns + 2
    page = words(answer.content.decode())
    assert answer.status_code == 200 and f"{columns} wide, {rows} high" in page
    assert f"{drawn.counts()[0]}" in page and answer["HX-Trigger-After-Settle"] == "figures"
    sends = re.search(r'id="versions".*?name="version" value="(\d+)"', answer.content.decode(), re.S)
    assert sends and sends[1] == "1", "what is sent next counts from what was kept"
    recipe = Recipe.from_plain(PanelDraft.objects.get().recipe)
    assert (recipe.source, recipe.rows, recipe.columns, recipe.words.text) == ("words", rows, columns, "Éva 40")
    assert recipe.words.colours.letter == stocked["red"].pk and not Panel.objects.exists()
    again = as_planner.get(url("panel-words", panel_piece)).content.decode()
    assert "Éva 40" in again and re.search(r'name="margin" value="1"', again)


def test_words_are_taken_over(as_planner, panel_piece, written, stocked):
    answer = as_planner.post(url("panel-words", panel_piece), written | {"act": "use"})
    assert answer.status_code == 302 and answer["Location"] == url("piece", panel_piece)
    panel = Panel.objects.get()
    drawn = np.pad(lettered("Éva 40", height="middle").cells, 1) == LETTER
    red = panel.palette.index(stocked["red"].pk)
    assert np.array_equal(cells_array(panel) == red, drawn)
    assert set(np.unique(cells_array(panel)[~drawn])) == {panel.palette.index(stocked["white"].pk)}
    assert not PanelDraft.objects.exists()
    assert "The chart is in use." in as_planner.get(url("piece", panel_piece)).content.decode()


def test_without_a_ground_the_other_cells_have_no_balloon(as_planner, panel_piece, written):
    as_planner.post(url("panel-words", panel_piece), written | {"act": "use", "ground": ""})
    cells = cells_array(Panel.objects.get())
    assert (cells == -1).sum() == cells.size - lettered("Éva 40", height="middle").counts()[0]


def test_edge_and_shadow_have_their_own_colours(as_planner, panel_piece, written, stocked):
    dressed = {"edge": stocked["navy"].pk, "shadow": stocked["black"].pk, "height": "large"}
    as_planner.post(url("panel-words", panel_piece), written | {"act": "use"} | dressed)
    panel = Panel.objects.get()
    expected = lettered("Éva 40", height="large", outline=True, shadow=True).counts()
    named = ("red", "navy", "black")
    assert tuple((cells_array(panel) == panel.palette.index(stocked[one].pk)).sum() for one in named) == expected


def goes(page: str) -> str:
    """What is said beside the button of cells that would be lost."""
    found = re.search(r'id="goes"[^>]*>(.*?)</p>', page, re.S)
    return words(found[1]).strip() if found else "no place for it"


@pytest.mark.parametrize("name", ["words", "pattern"])
def test_what_goes_with_the_picture_is_said_beside_the_button_before(as_planner, panel, written, striped, name):
    size = panel.rows * panel.columns
    first = np.arange(size)
    Panel.objects.update(
        painted=np.packbits(first < 7).tobytes(), locked=np.packbits((first >= 5) & (first < 12)).tobytes()
    )
    piece, before = panel.piece, cells_array(panel).copy()
    fresh = as_planner.get(url(f"panel-{name}", piece)).content.decode()
    assert goes(fresh).startswith("12 cells painted by hand or locked will not be in this chart.")
    sent = {"words": written, "pattern": striped}[name] | {"panel_version": panel.version}
    seen = as_planner.post(look(piece, name), sent, headers={"HX-Request": "true"})
    assert seen.status_code == 200 and "12 cells" in goes(seen.content.decode())
    after = as_planner.post(url(f"panel-{name}", piece), sent | {"version": "1", "act": "use"}, follow=True)
    assert "12 cells painted by hand or locked went with the earlier chart; it can be put back." in words(
        after.content.decode()
    )
    now = Panel.objects.get()
    assert now.recipe["source"] == name and not bytes(now.painted) and not bytes(now.locked)
    # What is drawn anew of the same kind takes nothing away, and nothing is said.
    assert goes(as_planner.get(url(f"panel-{name}", piece)).content.decode()) == ""
    as_planner.post(url("chart-put-back", piece), {"version": now.version})
    back = Panel.objects.get()
    assert (cells_array(back) == before).all()
    assert np.unpackbits(np.frombuffer(bytes(back.painted), np.uint8)).sum() == 7


def test_words_replace_a_picture_with_what_was_painted_into_it(as_planner, panel, written):
    painted = np.packbits(np.ones(panel.rows * panel.columns, dtype=bool)).tobytes()
    Panel.objects.update(painted=painted)
    piece = panel.piece
    answer = as_planner.post(
        url("panel-words", piece),
        written | {"act": "use", "panel_version": panel.version, "wide": "26", "high": "22", "text": "Hi"},
    )
    assert answer.status_code == 302
    drawn = lettered("Hi", height="middle").counts()[0]
    now = Panel.objects.get()
    assert np.bincount(cells_array(now).ravel()).tolist().count(drawn) == 1 and now.recipe["source"] == "words"


@pytest.mark.parametrize(
    ("sent", "field", "says"),
    [
        ({"text": " \n "}, "text", "There are no words yet."),
        ({"text": ""}, "text", "Write the words first."),
        ({"text": "Snow ☃"}, "text", "There is no letter for ☃."),
        ({"text": "Ж", "height": "small"}, "text", "the middle height has one"),
        ({"text": "a" * 201}, "text", "200"),
        ({"wide": "9"}, "wide", "cells across; the most is 9."),
        ({"high": "5"}, "high", "from top to bottom; the most is 5."),
        ({"letter": ""}, "letter", "Choose a colour."),
        ({"letter": "999999"}, "letter", "no balloons of the size"),
        ({"margin": "-1"}, "margin", "0"),
        ({"margin": "some"}, "margin", "whole number"),
        ({"height": "huge"}, "height", "Choose"),
        ({"sheet": "0"}, "sheet", ""),
    ],
)
def test_words_that_cannot_be_are_refused_beside_their_cause(as_planner, panel_piece, written, sent, field, says):
    for address in (look(panel_piece, "words"), url("panel-words", panel_piece)):
        answer = as_planner.post(address, written | {"act": "use"} | sent)
        told = beside(answer.content.decode(), field)
        assert answer.status_code == 422 and told and says in told
    assert not PanelDraft.objects.exists() and not Panel.objects.exists()


def test_too_few_balloons_are_said_with_the_day(as_planner, panel_piece, written, stocked):
    empty()
    for colour in ("red", "white"):
        only(stocked[colour], 20)
    answer = as_planner.post(look(panel_piece, "words"), written | {"within_stock": "on"})
    assert answer.status_code == 422 and "short" in beside(answer.content.decode(), "within_stock")


def test_slanted_letters_are_offered_where_rows_stand_half_a_cell_over(as_planner, panel_piece, sheets, written):
    as_planner.post(look(panel_piece, "words"), written)
    assert "Slanted" not in as_planner.get(url("panel-words", panel_piece)).content.decode()
    offset = written | {"sheet": sheets["small"].pk, "slanted": "on", "version": "1"}
    as_planner.post(look(panel_piece, "words"), offset)
    assert "Slanted" in as_planner.get(url("panel-words", panel_piece)).content.decode()
    assert as_planner.post(url("panel-words", panel_piece), offset | {"version": "2", "act": "use"}).status_code == 302
    cells = cells_array(Panel.objects.get())
    drawn = lettered("Éva 40", height="middle", kind="offset", slanted=True)
    assert (cells == np.bincount(cells.ravel()).argmin()).sum() == drawn.counts()[0]
    assert cells.shape[1] == drawn.columns + 2


def test_a_pattern_is_shown_and_taken_over(as_planner, panel_piece, striped, stocked):
    answer = as_planner.post(look(panel_piece, "pattern"), striped)
    assert answer.status_code == 200 and "30 wide, 10 high" in words(answer.content.decode())
    sent = striped | {"version": "1", "act": "use"}
    assert as_planner.post(url("panel-pattern", panel_piece), sent).status_code == 302
    panel = Panel.objects.get()
    row = [panel.palette[number] for number in cells_array(panel)[0]]
    assert row == [stocked[one].pk for one in ["red", "red", "white"] * 10]
    page = as_planner.get(url("panel-pattern", panel_piece)).content.decode()
    assert 'value="2, 1"' in page and re.search(r'value="stripes"[^>]*checked', page)


@pytest.mark.parametrize(
    "sent",
    [
        {"kind": "checks", "widths": "2"},
        {"kind": "gradient", "course": "round"},
        {"kind": "gradient", "blend": "bands", "course": "left"},
        {"kind": "rings", "square": "on"},
        {"kind": "stripes", "way": "falling", "mirrored": "on"},
    ],
)
def test_every_pattern_can_be_made_and_opened_again(as_planner, panel_piece, striped, sent):
    assert as_planner.post(url("panel-pattern", panel_piece), striped | sent | {"act": "use"}).status_code == 302
    cells = cells_array(Panel.objects.get())
    assert np.bincount(cells.ravel()).min() > 50 and cells.min() == 0
    page = as_planner.get(url("panel-pattern", panel_piece)).content.decode()
    assert re.search(rf'value="{sent["kind"]}"[^>]*checked', page)


@pytest.mark.parametrize(
    ("sent", "field", "says"),
    [
        ({"widths": "a"}, "widths", "whole numbers from 1"),
        ({"widths": "0"}, "widths", "whole numbers from 1"),
        ({"widths": "1, 2, 3"}, "widths", "2 colours and 3 widths"),
        ({"kind": "checks", "widths": "1, 2"}, "widths", "one number"),
        ({"kind": "gradient", "second": ""}, "second", "two colours"),
        ({"first": ""}, "first", "Choose a colour."),
        ({"wide": ""}, "wide", ""),
        ({"wide": "1000", "high": "1000"}, "wide", "the most is 100,000"),
        ({"kind": "spots"}, "kind", ""),
    ],
)
def test_patterns_that_cannot_be_are_refused_beside_their_cause(as_planner, panel_piece, striped, sent, field, says):
    answer = as_planner.post(look(panel_piece, "pattern"), striped | sent)
    told = beside(answer.content.decode(), field)
    assert answer.status_code == 422 and told and not told.startswith("no place") and says in told
    assert not PanelDraft.objects.exists()


def test_a_form_that_comes_empty_is_refused(as_planner, panel_piece, written, striped):
    as_planner.post(look(panel_piece, "words"), written)
    for name in ("words", "pattern", "colours"):
        address = reverse(f"jobs:panel-{name}-look", args=[panel_piece.event_id, panel_piece.pk])
        assert as_planner.post(address).status_code == 422
        assert as_planner.post(url(f"panel-{name}", panel_piece)).status_code == 422
    assert PanelDraft.objects.get().version == 1


def test_a_second_person_is_told(as_planner, panel_piece, written):
    as_planner.post(look(panel_piece, "words"), written)
    late = as_planner.post(url("panel-words", panel_piece), written | {"act": "use", "text": "Theirs"})
    page = late.content.decode()
    assert late.status_code == 409 and "Somebody else saved this in the meantime" in page and "Theirs" in page
    assert not Panel.objects.exists()


def test_a_preview_still_on_its_way_is_not_in_the_way(as_planner, panel_piece, written):
    """The page sends the version from before it; what it says is the same."""
    as_planner.post(look(panel_piece, "words"), written)
    answer = as_planner.post(url("panel-words", panel_piece), written | {"act": "use"})
    assert answer.status_code == 302 and Panel.objects.exists() and not PanelDraft.objects.exists()


def test_a_draft_is_dropped(as_planner, panel_piece, written):
    as_planner.post(look(panel_piece, "words"), written)
    answer = as_planner.post(url("panel-words", panel_piece), {"act": "drop", "version": "1"})
    assert answer.status_code == 302 and not PanelDraft.objects.exists()


def test_a_studio_without_sheets_is_told(as_planner, panel_piece, stocked):
    Sheet.objects.all().delete()
    for name in ("words", "pattern"):
        assert "no framework sheets" in as_planner.get(url(f"panel-{name}", panel_piece)).content.decode()
        assert as_planner.post(look(panel_piece, name), {"text": "Hi"}).status_code == 422


def test_only_a_panel_has_words(as_planner, column_piece):
    assert as_planner.get(url("panel-words", column_piece)).status_code == 404


def test_the_crew_never_sees_them(as_crew, panel_piece, written, striped):
    for name in ("words", "pattern"):
        assert as_crew.get(url(f"panel-{name}", panel_piece)).status_code in (403, 404)
        assert as_crew.post(look(panel_piece, name), written | striped).status_code in (403, 404)
    assert not PanelDraft.objects.exists()
