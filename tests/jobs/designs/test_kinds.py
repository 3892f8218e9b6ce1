import json

import pytest

from decor.calc.pieces.needs import Measures
from decor.calc.work.rates import Rates
from jobs.designs.catalogue import catalogue_now
from jobs.designs.fits import rough_fit
from jobs.designs.kinds import all_kinds, column, panel
from jobs.designs.models import Piece
from jobs.designs.services import pieces_from_rough
from tests.jobs.designs.conftest import ROUGH_COLUMN, ROUGH_PANEL

GIVES = ["KEY", "NAME", "PLURAL", "SETTLE", "ROUGHLY", "RoughForm", "Form", "rough_json", "rough_words"]
GIVES += ["calc_measures", "drawing", "words", "facts", "counts"]


def test_every_kind_gives_all_that_a_kind_gives():
    kinds = all_kinds()
    assert list(kinds)[:2] == ["panel", "column"]
    for module in kinds.values():
        for name in GIVES:
            assert hasattr(module, name), f"{module.__name__} has no {name}"


def test_the_catalogue_takes_three_queries(sheets, latex, django_assert_num_queries):
    with django_assert_num_queries(3):
        found = catalogue_now()
    assert len(found.sheets) == 2 and len(found.latex) == len(latex)


def test_a_rough_panel_takes_the_sheet_type_that_covers_it_cheapest(catalogue, sheets):
    """26 × 20 cells: six small sheets cost 54 of three uses each, two large ones 32."""
    fit = rough_fit(ROUGH_PANEL, catalogue)
    assert (fit.sheet.id, fit.columns, fit.rows, fit.sheets) == (sheets["large"].pk, 25, 20, 2)


def test_a_rough_panel_counts_colours_only_where_they_were_named(catalogue, latex):
    measures = panel.calc_measures(ROUGH_PANEL, catalogue=catalogue, count=1, built_at="venue")
    assert isinstance(measures, Measures)
    assert measures.counts == ((None, 500),) and measures.built_at == "venue"
    named = panel.calc_measures(ROUGH_PANEL | {"colours": ["sky", "red", "mauve"]}, catalogue=catalogue)
    assert named.counts == ((latex["sky"].pk, 167), (latex["red"].pk, 167), (None, 166))
    assert named.needs(Rates()).balloons == 500


def test_a_rough_panel_in_feet_and_in_cells(catalogue):
    feet = rough_fit(ROUGH_PANEL | {"width": 10, "height": 8, "unit": "ft"}, catalogue)
    assert (feet.columns, feet.rows) == (round(3.048 / 0.127 - 0.5), round(2.4384 / 0.127))
    cells = rough_fit(ROUGH_PANEL | {"width": 26, "height": 22, "unit": "cells"}, catalogue)
    assert (cells.columns, cells.rows) == (26, 22)


def test_without_sheets_a_rough_panel_says_so(studio):
    with pytest.raises(ValueError, match="no framework sheets yet"):
        panel.calc_measures(ROUGH_PANEL, catalogue=catalogue_now())


def test_a_rough_column(catalogue, latex):
    measures = column.calc_measures(ROUGH_COLUMN, catalogue=catalogue)
    assert measures.colours == (latex["red 11"].pk, latex["white 11"].pk)
    assert measures.nominal_in == 11 and measures.total % 4 == 0
    assert measures.needs(Rates()).balloons == measures.total
    open_colours = column.calc_measures(ROUGH_COLUMN | {"colours": []}, catalogue=catalogue)
    assert open_colours.colours == (None,)


@pytest.mark.parametrize(
    ("sent", "field", "words"),
    [
        ({"width": "0"}, "width", "more than 0"),
        ({"height": "-2"}, "height", "more than 0"),
        ({"width": "wide"}, "width", "Write a number"),
        ({"width": "900", "height": "900"}, "width", "the most that is planned is 100,000"),
        ({"width": "2.5", "unit": "cells"}, "width", "whole numbers"),
        ({"loading": "glued"}, "loading", ""),
    ],
)
def test_a_rough_panel_refuses(catalogue, sent, field, words):
    form = panel.RoughForm(
        {"width": "3", "height": "2.5", "unit": "m", "loading": "paired", **sent}, catalogue=catalogue
    )
    assert not form.is_valid()
    assert any(words in error for error in form.errors[field])


def test_rough_answers_can_be_kept_as_json(catalogue):
    form = panel.RoughForm(
        {"width": "3", "height": "2,5", "unit": "m", "loading": "paired", "colours": ["sky"]}, catalogue=catalogue
    )
    assert form.is_valid(), form.errors
    kept = json.loads(json.dumps(panel.rough_json(form.cleaned_data)))
    assert kept == {"rough": True, "width": 3, "height": 2.5, "unit": "m", "loading": "paired", "colours": ["sky"]}
    assert panel.rough_words(kept) == "about 3 × 2.5 m"
    form = column.RoughForm(
        {"height": "1.8", "unit": "m", "balloons": "4", "pattern": "rings", "colours": ["red"]}, catalogue=catalogue
    )
    assert form.is_valid(), form.errors
    kept = json.loads(json.dumps(column.rough_json(form.cleaned_data)))
    assert column.rough_words(kept) == "about 1.8 m, rings"


@pytest.mark.parametrize(
    ("sent", "field", "words"),
    [
        ({"height": "0"}, "height", "more than 0"),
        ({"pattern": "spiral", "colours": ["red", "white", "sky", "navy", "black"]}, "colours", "at most 4"),
        ({"height": "900000"}, "height", "lower"),
        ({"balloons": "9"}, "balloons", ""),
    ],
)
def test_a_rough_column_refuses(catalogue, sent, field, words):
    form = column.RoughForm(
        {"height": "1.8", "unit": "m", "balloons": "4", "pattern": "rings", **sent}, catalogue=catalogue
    )
    assert not form.is_valid()
    assert any(words in error for error in form.errors[field])


def test_pieces_of_a_booking_keep_its_order(event):
    pieces = pieces_from_rough(
        event,
        [
            {"kind": "panel", "count": 1, "built_at": "venue", "fill": "air", "title": "Sign", "measures": ROUGH_PANEL},
            {"kind": "column", "count": 2, "measures": ROUGH_COLUMN},
        ],
    )
    assert [(p.title, p.count, p.built_at, p.position) for p in pieces] == [
        ("Sign", 1, "venue", 0),
        ("Column of clusters", 2, "workshop", 1),
    ]
    more = pieces_from_rough(event, [{"kind": "column", "measures": ROUGH_COLUMN}])
    assert more[0].position == 2
    assert list(Piece.objects.filter(event=event)) == [*pieces, *more]


def test_drawings_of_rough_pieces(panel_piece, column_piece, catalogue):
    net = panel.drawing(panel_piece, catalogue)
    assert 'viewBox="0 0 25.5 20.000"' in net and "style=" not in net
    standing = column.drawing(column_piece, catalogue)
    total = column.calc_measures(ROUGH_COLUMN, catalogue=catalogue).total
    assert standing.count("<use ") == total and "style=" not in standing
    assert column.words(column_piece, catalogue) == "about 1.8 m, spiral"
