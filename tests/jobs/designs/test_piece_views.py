"""A piece's pages: looked at, added, changed, removed; by whom."""

import re

import pytest
from django.urls import reverse

from decor.studio.access import MATRIX, allowed
from decor.studio.models import AuditLine
from jobs.designs import services
from jobs.designs.models import Panel, Piece
from jobs.events.models import Event
from tests.jobs.designs.conftest import ROUGH_COLUMN, ROUGH_PANEL

NAMES = ["piece", "piece-edit", "piece-measures", "piece-colours", "piece-remove", "chart", "chart-paint"]


def url(name: str, piece: Piece) -> str:
    return reverse(f"jobs:{name}", args=[piece.event_id, piece.pk])


@pytest.mark.parametrize("name", [*NAMES, "piece-add"])
def test_only_the_office_opens_pieces(name, as_crew, as_nobody, panel_piece):
    address = reverse("jobs:piece-add", args=[panel_piece.event_id]) if name == "piece-add" else url(name, panel_piece)
    assert as_crew.get(address).status_code == 403
    assert as_crew.post(address).status_code == 403
    assert as_nobody.get(address).status_code == 302 and "sign-in" in as_nobody.get(address)["Location"]
    assert MATRIX[f"jobs:{name}"] and allowed(f"jobs:{name}", "planner")


@pytest.mark.parametrize("name", NAMES)
def test_a_piece_of_another_event_is_not_there(name, as_planner, panel_piece, event):
    other = Event.objects.create(
        title="Other", client=event.client, venue=event.venue, load_in=event.load_in, doors=event.doors,
        ends=event.ends, strike=event.strike,
    )  # fmt: skip
    address = reverse(f"jobs:{name}", args=[other.pk, panel_piece.pk])
    answer = as_planner.post(address) if name == "chart-paint" else as_planner.get(address)
    assert answer.status_code == 404


def test_the_page_of_a_rough_panel(as_planner, panel_piece, stocked):
    page = as_planner.get(url("piece", panel_piece)).content.decode()
    assert "about 3.3 × 2.6 m" in page and "Put in a picture" in page
    assert "2 of Net 22 × 13" in page and "no picture yet" in page
    assert "style=" not in page and "<script>" not in page


def test_the_page_of_a_column(as_planner, column_piece, stocked, sheets):
    page = as_planner.get(url("piece", column_piece)).content.decode()
    assert "2 alike" in page and "of 4" in page
    total = re.search(r"Balloons</span><span class=\"v\">(\d+)", page)
    assert total and int(total[1]) % 4 == 0


def test_looking_takes_few_queries_and_changes_nothing(as_planner, panel_piece, stocked, django_assert_max_num_queries):
    before = list(Piece.objects.values())
    with django_assert_max_num_queries(14):
        as_planner.get(url("piece", panel_piece))
    assert list(Piece.objects.values()) == before


def test_add_a_piece(as_planner, event, stocked, sheets):
    address = reverse("jobs:piece-add", args=[event.pk])
    kinds = as_planner.get(address).content.decode()
    assert "Picture panel" in kinds and "Column of clusters" in kinds
    assert as_planner.get(f"{address}?kind=column").status_code == 200
    sent = {"title": "Door columns", "count": "2", "built_at": "venue", "fill": "air", "request_key": "k1"}
    sent |= {"height": "1.8", "unit": "m", "balloons": "4", "pattern": "rings", "colours": ["red"]}
    first = as_planner.post(f"{address}?kind=column", sent)
    again = as_planner.post(f"{address}?kind=column", sent)
    made = Piece.objects.get()
    assert first["Location"] == again["Location"] == url("piece", made)
    assert (made.kind, made.count, made.built_at, made.measures["colours"]) == ("column", 2, "venue", ["red"])
    assert AuditLine.objects.filter(act="added a piece").count() == 1


def test_an_unknown_kind_leads_nowhere(as_planner, event):
    assert as_planner.get(reverse("jobs:piece-add", args=[event.pk]) + "?kind=arch").status_code == 404


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("title", "", "Fill this in."),
        ("count", "0", "1"),
        ("count", "-3", "1"),
        ("width", "0", "more than 0"),
        ("height", "-1", "more than 0"),
        ("width", "4000", "the most that is planned is 100,000"),
    ],
)
def test_adding_says_what_is_wrong_beside_the_field(as_planner, event, sheets, stocked, field, value, words):
    sent = {"title": "Sign", "count": "1", "built_at": "venue", "fill": "air"}
    sent |= {"width": "3", "height": "2.5", "unit": "m", "loading": "paired", field: value}
    answer = as_planner.post(reverse("jobs:piece-add", args=[event.pk]) + "?kind=panel", sent)
    page = answer.content.decode()
    assert answer.status_code == 422 and not Piece.objects.exists()
    error = re.search(rf'id="id_{field}_error"><svg.*?</svg><span>(.*?)</span>', page, re.S)
    assert error and words in error[1]
    assert page.count("data-focus") == 1, "one summary for both forms"


def test_change_name_number_and_rough_size(as_planner, panel_piece, stocked):
    sent = {"title": "Light", "count": "2", "built_at": "venue", "fill": "air", "version": "1"}
    sent |= {"width": "4", "height": "3", "unit": "m", "loading": "sandwich"}
    assert as_planner.post(url("piece-edit", panel_piece), sent).status_code == 302
    panel_piece.refresh_from_db()
    assert (panel_piece.title, panel_piece.count, panel_piece.version) == ("Light", 2, 2)
    assert panel_piece.measures["width"] == 4 and panel_piece.measures["loading"] == "sandwich"


def test_another_number_of_columns_leaves_the_order_of_their_colours(as_planner, column_piece, stocked):
    column_piece.measures |= {"colours": ["white", "red"]}
    column_piece.save()
    sent = {"title": "Columns", "count": "3", "built_at": "workshop", "fill": "air", "version": "1"}
    sent |= {name: str(column_piece.measures[name]) for name in ("height", "unit", "balloons", "pattern")}
    # Boxes are sent as they stand on the page, which is by name.
    answer = as_planner.post(url("piece-edit", column_piece), sent | {"colours": ["navy", "red", "white"]})
    assert answer.status_code == 302
    column_piece.refresh_from_db()
    assert (column_piece.count, column_piece.measures["colours"]) == (3, ["white", "red", "navy"])


def test_two_people_change_one_piece(as_planner, panel_piece, stocked):
    services.piece_change(piece=panel_piece, version=1, values={"title": "Theirs"})
    sent = {"title": "Mine", "count": "1", "built_at": "workshop", "fill": "air", "version": "1"}
    sent |= {"width": "3.3", "height": "2.6", "unit": "m", "loading": "paired"}
    answer = as_planner.post(url("piece-edit", panel_piece), sent)
    page = answer.content.decode()
    assert answer.status_code == 409 and "Theirs" in page and 'value="Mine"' in page
    assert Piece.objects.get().title == "Theirs"
    version = re.search(r'name="version" value="(\d+)"', page)
    assert as_planner.post(url("piece-edit", panel_piece), sent | {"version": version[1]}).status_code == 302
    assert Piece.objects.get().title == "Mine"


def test_settle_a_column(as_planner, column_piece, stocked, sheets):
    form = as_planner.get(url("piece-measures", column_piece)).content.decode()
    assert re.search(rf'<option value="{stocked["red 11"].pk}" selected', form)
    sent = {"height": "2", "unit": "m", "balloons": "4", "pattern": "rings", "sized": "260", "versions": "1-0"}
    sent |= {"colour_1": stocked["red 11"].pk, "colour_2": stocked["white 11"].pk, "colour_3": stocked["red 11"].pk}
    assert as_planner.post(url("piece-measures", column_piece), sent).status_code == 302
    column_piece.refresh_from_db()
    kept = column_piece.measures
    assert kept["latex"] == [stocked[name].pk for name in ("red 11", "white 11", "red 11")]
    assert kept["diameter_m"] == pytest.approx(0.26) and "rough" not in kept
    page = as_planner.get(url("piece", column_piece)).content.decode()
    assert "rings" in page and "clusters of 4" in page


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"height": "-1"}, "height", "more than 0"),
        ({"colour_1": ""}, "colour_1", "Choose at least one colour"),
        ({"sized": "400"}, "sized", "at most"),
        ({"pattern": "waves"}, "pattern", ""),
        ({"colour_2": "5 in"}, "colour_1", "one size"),
    ],
)
def test_a_column_refuses(as_planner, column_piece, stocked, sheets, changes, field, words):
    sent = {"height": "2", "unit": "m", "balloons": "4", "pattern": "rings", "sized": "260", "versions": "1-0"}
    sent |= {"colour_1": stocked["red 11"].pk} | changes
    if sent.get("colour_2") == "5 in":
        sent["colour_2"] = stocked["red"].pk
    answer = as_planner.post(url("piece-measures", column_piece), sent)
    assert answer.status_code == 422
    error = re.search(rf'id="id_{field}_error"><svg.*?</svg><span>(.*?)</span>', answer.content.decode(), re.S)
    assert error and words in error[1]
    assert Piece.objects.get().measures == ROUGH_COLUMN


def test_measures_of_a_version_that_is_gone(as_planner, column_piece, stocked, sheets):
    services.piece_change(piece=column_piece, version=1, values={"measures": ROUGH_COLUMN | {"height": 2.4}})
    sent = {"height": "2", "unit": "m", "balloons": "4", "pattern": "spiral", "sized": "250", "versions": "1-0"}
    sent |= {"colour_1": stocked["red 11"].pk, "colour_2": stocked["white 11"].pk}
    answer = as_planner.post(url("piece-measures", column_piece), sent)
    page = answer.content.decode()
    assert answer.status_code == 409 and "<td>2</td><td>2.4</td>" in page
    assert 'name="versions" value="2-0"' in page
    for nonsense in ("", "1", "x-y", "1-2-3", "-1-0"):
        assert as_planner.post(url("piece-measures", column_piece), sent | {"versions": nonsense}).status_code == 409


def test_remove_asks_first(as_planner, panel_piece, stocked, sheets):
    Panel.objects.create(piece=panel_piece, sheet=sheets["large"], rows=1, columns=1, palette=[], cells=b"\xff\xff")
    assert "Remove Lighthouse?" in as_planner.get(url("piece-remove", panel_piece)).content.decode()
    assert Piece.objects.exists()
    as_planner.post(url("piece-remove", panel_piece))
    assert not Piece.objects.exists() and not Panel.objects.exists()
    assert AuditLine.objects.filter(act="removed a piece").exists()


def test_a_piece_whose_stock_is_gone_says_so(as_planner, panel_piece, sheets):
    for sheet in sheets.values():
        sheet.active = False
        sheet.save()
    page = as_planner.get(url("piece", panel_piece))
    assert page.status_code == 200 and "no framework sheets yet" in page.content.decode()
    assert panel_piece.measures == ROUGH_PANEL
