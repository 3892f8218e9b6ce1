"""A kind of piece is a module, a form, a drawing and its tests: putting the module there is all it takes."""

import textwrap

import pytest
from django.urls import reverse

from jobs.designs import kinds
from jobs.designs.models import Piece

GARLAND = """
from django.utils.safestring import mark_safe

from decor.calc.pieces.column import ColumnMeasures
from decor.studio.forms import SlipForm
from jobs.designs.lengths import SizeField
from jobs.designs.measured import Measured

KEY, NAME, PLURAL = "garland", "Garland", "Garlands"
SETTLE, ROUGHLY = "Settle the garland", "As booked."


class RoughForm(SlipForm):
    length = SizeField(label="Long")

    def __init__(self, *args, catalogue=None, **kwargs):
        super().__init__(*args, **kwargs)


class Form(RoughForm):
    def __init__(self, data=None, files=None, *, piece, catalogue, **_):
        super().__init__(data, initial=piece.measures)

    def measured(self):
        return Measured({"length": self.cleaned_data["length"]})


def rough_json(cleaned):
    return {"rough": True, "length": cleaned["length"]}


def rough_words(measures):
    return f"about {measures['length']:g} m"


def calc_measures(measures, *, catalogue, count=1, built_at="workshop", panel=None):
    return ColumnMeasures(measures["length"], 0.12, (None,), built_at=built_at)


def words(piece, catalogue):
    return rough_words(piece.measures)


def facts(piece, catalogue):
    return [("Long", rough_words(piece.measures), "")]


def counts(piece, catalogue):
    return [(None, calc_measures(piece.measures, catalogue=catalogue).total)]


def drawing(piece, catalogue):
    return mark_safe('<svg class="net garland" viewBox="0 0 1 1" role="img" aria-label="Garland"></svg>')
"""


@pytest.fixture
def garland(tmp_path, monkeypatch):
    (tmp_path / "garland.py").write_text(textwrap.dedent(GARLAND))
    monkeypatch.setattr(kinds, "__path__", [*kinds.__path__, str(tmp_path)])
    kinds.all_kinds.cache_clear()
    yield
    kinds.all_kinds.cache_clear()


def test_a_module_in_its_folder_is_a_kind_everywhere(garland, as_planner, event, sheets, stocked):
    assert "garland" in kinds.all_kinds()
    add = reverse("jobs:piece-add", args=[event.pk])
    assert "Garland" in as_planner.get(add).content.decode()
    sent = {"title": "Stairs", "count": "1", "built_at": "venue", "fill": "air", "length": "4"}
    assert as_planner.post(f"{add}?kind=garland", sent).status_code == 302
    piece = Piece.objects.get()
    page = as_planner.get(reverse("jobs:piece", args=[event.pk, piece.pk])).content.decode()
    assert "about 4 m" in page and "net garland" in page and "Settle the garland" in page
    measures = reverse("jobs:piece-measures", args=[event.pk, piece.pk])
    assert as_planner.post(measures, {"length": "0", "versions": "1-0"}).status_code == 422
    assert as_planner.post(measures, {"length": "6", "versions": "1-0"}).status_code == 302
    piece.refresh_from_db()
    assert piece.measures == {"length": 6}
