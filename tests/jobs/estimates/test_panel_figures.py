"""What a panel comes to beside its picture, and the ways to load side by side."""

import re

import pytest
from django.urls import reverse

from jobs.designs.models import Panel, PanelDraft
from jobs.designs.pictures.drafts import recipe_of
from jobs.estimates.inputs import background_now
from jobs.estimates.panel_figures import draft_panel, figures_of
from jobs.estimates.ways import ways_of
from tests.jobs.designs.test_tying import panel  # noqa: F401


def address(name, piece, **query):
    found = reverse(f"jobs:{name}", args=[piece.event_id, piece.pk])
    return found + ("?" + "&".join(f"{key}={value}" for key, value in query.items()) if query else "")


@pytest.mark.parametrize("name", ["panel-figures", "panel-ways"])
def test_money_is_the_offices(name, panel, as_crew, as_nobody):  # noqa: F811
    assert as_crew.get(address(name, panel.piece)).status_code == 403
    assert as_nobody.get(address(name, panel.piece)).status_code == 302


def test_a_column_has_no_such_figures(column_piece, as_planner):
    assert as_planner.get(address("panel-figures", column_piece)).status_code == 404


def test_of_the_panel_as_it_stands(panel, as_planner, stocked):  # noqa: F811
    page = as_planner.get(address("panel-figures", panel.piece))
    figures = page.context["figures"]
    assert (figures.balloons, figures.colours) == (216, 4)
    assert 0 < figures.mixed <= 108 and figures.changes is None
    assert figures.estimate.person_minutes_middle < figures.estimate.person_minutes_p80
    assert figures.cost_from < figures.estimate.price_from <= figures.estimate.price_to
    part = as_planner.get(address("panel-figures", panel.piece), headers={"HX-Request": "true"}).content.decode()
    assert "216 balloons" in part and "<html" not in part and f">{figures.mixed} pair" in part


def test_of_a_bare_size(panel, as_planner):  # noqa: F811
    given = {"rows": 20, "columns": 30, "loading": "strung"}
    figures = as_planner.get(address("panel-figures", panel.piece, **given)).context["figures"]
    assert (figures.balloons, figures.colours, figures.mixed) == (600, None, None)
    assert figures.measures.way == "strung" and figures.changes_a_row is None
    twice = as_planner.get(address("panel-figures", panel.piece, **given | {"rows": 40})).context["figures"]
    assert twice.balloons == 1200 and twice.cost_from > figures.cost_from


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"sheet": "999999"}, "sheet type"),
        ({"rows": "1000000"}, "100,000"),
        ({"loading": "glued"}, "way to load"),
        ({"rows": "0"}, "how wide"),
    ],
)
def test_what_cannot_be_is_said_in_words(panel, as_planner, asked, words):  # noqa: F811
    page = as_planner.get(address("panel-figures", panel.piece, **asked))
    assert page.status_code == 200 and words in page.content.decode()


def test_of_a_piece_without_a_picture(panel_piece, as_planner, latex):
    figures = as_planner.get(address("panel-figures", panel_piece)).context["figures"]
    assert figures.colours is None and figures.balloons == 500


def test_of_the_draft_and_nothing_of_it_is_kept(panel, as_planner):  # noqa: F811
    recipe = recipe_of(panel).to_plain()
    pattern = {"kind": "stripes", "colours": panel.palette[:2]}
    draft = PanelDraft.objects.create(
        piece=panel.piece, recipe=recipe | {"source": "pattern", "pattern": pattern, "rows": 10, "columns": 10}
    )
    made = draft_panel(panel.piece, draft, background_now())
    assert (made.rows, made.columns) == (10, 10) and panel.piece.panel == panel
    page = as_planner.get(address("panel-figures", panel.piece, draft=1))
    assert page.context["figures"].balloons == 100
    assert Panel.objects.get(pk=panel.pk).rows == 12


def test_four_ways_side_by_side(panel):  # noqa: F811
    ways = {way.key: way for way in ways_of(panel.piece, panel, background_now())}
    assert list(ways) == ["paired", "two-sided", "sandwich", "strung"]
    assert [ways[key].figures.balloons for key in ways] == [216, 432, 432, 216]
    assert [ways[key].shape for key in ways] == ["round", "double-ended", "round", "double-ended"]
    assert ways["sandwich"].figures.sheets == 2 * ways["paired"].figures.sheets
    assert [ways[key].stiffness for key in ways] == [1.0, 4.0, 20.0, 1.0]
    for way in ways.values():
        assert way.hands.fastest < way.hands.practised < way.hands.new
        assert way.figures.mixed == (figures_of(panel.piece, panel, background_now()).mixed if way.current else None)
    assert ways["strung"].figures.changes > 0 and not ways["paired"].missing


def test_choosing_one_changes_the_panel(panel, as_planner):  # noqa: F811
    body = as_planner.get(address("panel-ways", panel.piece)).content.decode()
    assert body.count('name="way"') == 4 and body.count("The panel is loaded so now.") == 1
    brief = re.search(r"Side by side.*?</table>", body, re.DOTALL)[0]
    rows = [" ".join(re.sub(r"<[^>]+>", " ", row).split()) for row in re.findall(r"<tr>.*?</tr>", brief, re.DOTALL)]
    assert [row.split()[0] for row in rows[1:]] == ["Paired", "Two-sided", "Sandwich", "Strung"]
    assert rows[1].startswith("Paired now") and all("now" not in row for row in rows[2:])
    answer = as_planner.post(address("panel-ways", panel.piece), {"way": "strung", "version": 1}, follow=True)
    assert "is loaded strung now" in answer.content.decode()
    assert Panel.objects.get(pk=panel.pk).loading == "strung"


@pytest.mark.parametrize(("sent", "status"), [({"way": "glued", "version": 1}, 422), ({"way": "strung"}, 409)])
def test_a_choice_that_cannot_be_is_refused_in_words(panel, as_planner, sent, status):  # noqa: F811
    answer = as_planner.post(address("panel-ways", panel.piece), sent)
    assert answer.status_code == status and 'role="alert"' in answer.content.decode()
    assert Panel.objects.get(pk=panel.pk).loading == "paired"


def test_a_way_without_balloons_cannot_be_chosen(panel, latex, as_planner):  # noqa: F811
    Panel.objects.filter(pk=panel.pk).update(palette=[*panel.palette[:3], latex["green"].pk])
    page = as_planner.get(address("panel-ways", panel.piece))
    ways = {way.key: way for way in page.context["ways"]}
    assert ways["strung"].missing == ("green",) and not ways["strung"].can_be_chosen
    assert ways["sandwich"].can_be_chosen and "None in green" in page.content.decode()
    refused = as_planner.post(address("panel-ways", panel.piece), {"way": "strung", "version": 1})
    assert refused.status_code == 422 and "green" in refused.content.decode()
