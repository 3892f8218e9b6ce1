"""A panel's pairs and strings as its pages show them, and loading it another way."""

import re
from collections import Counter

import numpy as np
import pytest

from decor.calc.picture.chart import Chart
from decor.calc.picture.lattice import Lattice
from decor.calc.picture.loading import plan_pairs, winding
from decor.studio.versions import Changed
from inventory.models import Latex
from jobs.designs.catalogue import catalogue_now
from jobs.designs.charting import CELLS_AS, cells_array, counts_of
from jobs.designs.drawing import PITCH
from jobs.designs.models import Panel, Piece
from jobs.designs.reloading import NoSuchBalloons, panel_reload
from jobs.designs.tying import Wishes, tied, wishes_of
from jobs.designs.tying_drawing import pairs_svg, route_svg
from tests.jobs.designs.test_piece_views import url

COLOURS = ["white", "red", "navy", "sky"]


@pytest.fixture
def panel(panel_piece, sheets, latex) -> Panel:
    """Twelve rows of 18 on the small sheet, four colours in broad bands, a box and a stray cell."""
    rows, columns = 12, 18
    cells = np.arange(columns) // 5 % 4
    cells = np.broadcast_to(cells, (rows, columns)).copy()
    cells[3:7, 4:9] = 1
    cells[8, 2] = 3
    return Panel.objects.create(
        piece=panel_piece,
        sheet_id=sheets["small"].pk,
        rows=rows,
        columns=columns,
        palette=[latex[colour].pk for colour in COLOURS],
        cells=cells.astype(CELLS_AS).tobytes(),
    )


def words_in(panel: Panel) -> Counter:
    found = counts_of(panel, catalogue_now())
    return Counter({(item.words, item.shape): number for item, number in found if number})


@pytest.mark.parametrize("name", ["panel-pairs", "panel-strings"])
def test_only_the_office_opens_them(name, panel, as_crew, as_planner, as_nobody):
    assert as_crew.get(url(name, panel.piece)).status_code == 403
    assert as_nobody.get(url(name, panel.piece)).status_code == 302
    assert as_planner.get(url(name, panel.piece)).status_code == 200


def test_the_pair_list_counts_what_the_chart_takes(panel, as_planner):
    page = as_planner.get(url("panel-pairs", panel.piece))
    tied_letters = Counter()
    told = page.context["list"]
    for kind in (*told.kinds, *told.singles):
        for letter in kind.letters.split("–"):
            tied_letters[letter] += kind.count
    counts = Chart(cells_array(panel), Lattice("offset", 12, 18, 0.1)).counts()
    assert tied_letters == {"ABCD"[number]: n for number, n in counts.items()}
    assert f"{told.pairs} pairs" in page.content.decode()


def test_pairs_between_rows_can_be_switched_off(panel, as_planner):
    piece = panel.piece
    before = as_planner.get(url("panel-pairs", piece)).context["list"]
    assert before.between > 0
    as_planner.post(url("panel-pairs", piece), {"between_rows": "no", "version": piece.version})
    piece.refresh_from_db()
    assert wishes_of(piece) == Wishes(between_rows=False)
    after = as_planner.get(url("panel-pairs", piece)).context["list"]
    assert after.between == 0 and after.mixed >= before.mixed


def test_a_choice_on_an_older_page_changes_nothing(panel, as_planner):
    piece = panel.piece
    answer = as_planner.post(url("panel-strings", piece), {"winding": "yes", "version": piece.version + 1}, follow=True)
    piece.refresh_from_db()
    assert not wishes_of(piece).winding and "meanwhile" in answer.content.decode()


def test_a_slip_for_each_bag_and_a_winding_way(panel, as_planner):
    piece = panel.piece
    page = as_planner.get(url("panel-strings", piece))
    slips = page.context["slips"]
    assert sum(slip.balloons for slip in slips) == 216
    body = page.content.decode()
    assert f"String {len(slips)}" in body and slips[0].words in body
    as_planner.post(url("panel-strings", piece), {"winding": "yes", "version": piece.version})
    wound = as_planner.get(url("panel-strings", piece))
    assert wound.context["changes"] == page.context["other_changes"]
    assert wound.context["other_changes"] == page.context["changes"]
    assert "Along the drawn line" in wound.content.decode()


def test_loaded_another_way_its_colours_are_in_the_other_shape(panel):
    before = words_in(panel)
    again = panel_reload(panel=panel, version=1, way="strung", catalogue=catalogue_now())
    assert again.loading == "strung" and again.version == 2
    assert words_in(again) == {(words, "double-ended"): n for (words, _), n in before.items()}
    assert Piece.objects.get(pk=panel.piece_id).measures["loading"] == "strung"
    back = panel_reload(panel=again, version=2, way="sandwich", catalogue=catalogue_now())
    assert words_in(back) == before


def test_a_colour_without_such_balloons_is_named_and_nothing_is_changed(panel, latex):
    panel.palette = [*panel.palette[:3], latex["green"].pk]
    panel.save()
    with pytest.raises(NoSuchBalloons, match="green") as refused:
        panel_reload(panel=panel, version=1, way="two-sided", catalogue=catalogue_now())
    assert refused.value.missing == ["green"]
    assert Panel.objects.get(pk=panel.pk).loading == "paired"


def test_an_unused_colour_without_such_balloons_falls_out(panel, latex):
    panel.palette = [latex["green"].pk, *panel.palette]
    panel.cells = (cells_array(panel) + 1).astype(CELLS_AS).tobytes()
    panel.save()
    again = panel_reload(panel=panel, version=1, way="strung", catalogue=catalogue_now())
    assert len(again.palette) == 4 and sum(words_in(again).values()) == 216
    assert Latex.objects.filter(pk__in=again.palette, shape="double-ended").count() == 4


def test_a_chart_that_was_changed_meanwhile_is_not_buried(panel):
    Panel.objects.filter(pk=panel.pk).update(version=5)
    with pytest.raises(Changed):
        panel_reload(panel=panel, version=1, way="strung", catalogue=catalogue_now())


def a_chart(rows=8, columns=9, kind="hex"):
    cells = np.random.default_rng(1).integers(-1, 3, (rows, columns))
    return Chart(cells, Lattice(kind, rows, columns, 0.1))


HEXES, LETTERS = ["#ffffff", "#c8322b", "#1f3a63"], ["A", "B", "C"]


def test_every_pair_is_drawn_and_those_between_rows_apart():
    chart = a_chart()
    pairs = plan_pairs(chart)
    svg = pairs_svg(chart, HEXES, LETTERS, pairs, title="x", rows=(0, 8), columns=(0, 9))
    drawn = {name: re.search(rf'class="{name}".*?d="([^"]*)"', svg)[1].count("M") for name in ("along", "between")}
    assert drawn == {"along": len(pairs.pairs) - pairs.between_rows, "between": pairs.between_rows}
    part = pairs_svg(chart, HEXES, LETTERS, pairs, title="x", rows=(0, 4), columns=(0, 9))
    inside = (pairs.pairs // 9 < 4).all(axis=1)
    bars = sum(re.search(rf'class="{name}".*?d="([^"]*)"', part)[1].count("M") for name in ("along", "between"))
    assert bars == inside.sum()


def test_the_way_of_the_strings_is_drawn_between_the_letters_of_every_step():
    """A bar midway of each two cells that follow each other and touch, a ring where each of two sections begins."""
    chart = a_chart()
    sections = np.where(np.arange(72) % 9 < 5, 1, 2)
    route = winding(chart, sections)
    svg = route_svg(chart, HEXES, LETTERS, route, title="x", rows=(0, 8), columns=(0, 9))
    path = re.search(r'class="route".*?d="([^"]*)"', svg)[1]
    ends = np.array([[float(n) for n in bar.split()] for bar in re.findall(r"M([\d.]+ [\d.]+)L[\d.]+ [\d.]+", path)])
    others = np.array([[float(n) for n in bar.split()] for bar in re.findall(r"L([\d.]+ [\d.]+)", path)])
    x, y = (at[route.order] / 0.1 * PITCH for at in chart.lattice.centres_m().T)
    middles = np.stack([x + PITCH / 2, y + PITCH * chart.lattice.row_pitch_m / 0.2], axis=1)
    steps = ((middles[:-1] + middles[1:]) / 2)[~route.long_steps]
    assert np.allclose((ends + others) / 2, steps, atol=0.2)
    assert svg.count("<circle") == 2 * 2


def test_a_large_charts_figures_are_counted_on_a_part_of_it():
    """150 × 150 of bands: counted in squares, they come near what the whole has."""
    random = np.random.default_rng(4)
    cells = (np.add.outer(np.arange(150) // 7, np.arange(150) // 11) % 5 + (random.random((150, 150)) < 0.1)) % 5
    chart = Chart(cells, Lattice("square", 150, 150, 0.1))
    part, whole = tied(chart, None, way="paired", wishes=Wishes()), plan_pairs(chart)
    assert part.mixed_pairs == pytest.approx(whole.mixed, rel=0.25)
    strung = tied(chart, None, way="strung", wishes=Wishes())
    assert strung.colour_changes is not None and strung.colour_changes > 0
    assert tied(chart, None, way="sandwich", wishes=Wishes()).mixed_pairs is None
