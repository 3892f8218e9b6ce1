"""A chart as SVG: read back as XML and held against the chart it came from."""

import gzip
import re
import time
from xml.etree import ElementTree

import numpy as np
import pypdfium2
import pytest
from hypothesis import given, settings
from skimage import data
from weasyprint import HTML

from decor.calc.picture.chart import Chart
from decor.calc.picture.lattice import Lattice
from decor.calc.picture.matching import match
from decor.calc.picture.sampling import sample
from decor.calc.picture.sheets import plan_grid
from jobs.designs.drawing import (
    PITCH,
    balloons_svg,
    colour_letters,
    hex_of_rgb,
    plain_svg,
    rgb_of_hex,
)
from tests.calc.picture.strategies import charts

SVG = "{http://www.w3.org/2000/svg}"
HEXES = ["#f4f2ec", "#c8322b", "#1f3a63", "#7db3d8"]
DRAWN = {"svg", "title", "defs", "radialGradient", "stop", "g", "circle", "ellipse", "path", "rect", "use", "text"}
LETTERS = ["W", "R", "N", "Sk"]


def parsed(text):
    return ElementTree.fromstring(text)


def group(root, name):
    return next(part for part in root.iter(f"{SVG}g") if part.get("class") == name)


def moved(part):
    """The x and y of a translate."""
    return [float(number) for number in re.findall(r"-?[\d.]+", part.get("transform"))]


def balloons(root, prefix):
    """(row, column) -> (colour, x, y) as drawn."""
    found = {}
    for row, line in enumerate(group(root, "cells")):
        x, y = moved(line)
        for column, use in enumerate(line):
            name = use.get("href").removeprefix(f"#{prefix}")
            colour = -1 if name == "e" else int(name)
            found[row, column] = (colour, x + float(use.get("x")), y)
    return found


@given(charts())
@settings(max_examples=60)
def test_every_cell_is_drawn_in_its_colour_and_place(chart):
    drawn = balloons(parsed(balloons_svg(chart, HEXES, title="Panel", prefix="p7")), "p7")
    lattice = chart.lattice
    assert len(drawn) == lattice.cells
    for number, (x, y) in enumerate(lattice.centres_m() / lattice.pitch_m * PITCH):
        cell = divmod(number, lattice.columns)
        colour, at_x, at_y = drawn[cell]
        assert colour == chart.cells[cell]
        assert at_x == pytest.approx(x + PITCH / 2, abs=0.02)
        # Row pitches are drawn to a hundredth of a unit.
        row_pitch = lattice.row_pitch_m / lattice.pitch_m * PITCH
        assert at_y == pytest.approx(y + row_pitch / 2, abs=0.01 * (cell[0] + 2))


@given(charts())
@settings(max_examples=40)
def test_plain_cells_letters_and_numbers_spell_the_chart(chart):
    root = parsed(plain_svg(chart, HEXES, letters=LETTERS, title="Panel"))
    lattice = chart.lattice
    row_pitch = round(PITCH * lattice.row_pitch_m / lattice.pitch_m, 2)
    filled = {}
    for box in list(root.iter(f"{SVG}rect"))[1:]:
        row = round(float(box.get("y")) / row_pitch)
        left = float(box.get("x")) - lattice.row_shift_pitches(row) * PITCH
        for column in range(round(left / PITCH), round((left + float(box.get("width"))) / PITCH)):
            filled[row, column] = HEXES.index(box.get("fill"))
    expected = {
        (row, column): int(chart.cells[row, column])
        for row in range(lattice.rows)
        for column in range(lattice.columns)
        if chart.cells[row, column] >= 0
    }
    assert filled == expected
    assert letters_at(root, lattice, row_pitch) == {cell: LETTERS[colour] for cell, colour in expected.items()}


def letters_at(root, lattice, row_pitch):
    spelt = {}
    for text in root.iter(f"{SVG}text"):
        if text.get("fill") not in ("#000", "#fff"):
            continue
        row = round((float(text.get("y")) - 0.36 * 11) / row_pitch - 0.5)
        for character, x in zip(text.text, text.get("x").split(), strict=True):
            column = int((float(x) - lattice.row_shift_pitches(row) * PITCH) // PITCH)
            spelt[row, column] = spelt.get((row, column), "") + character
    return spelt


@pytest.fixture
def panel():
    rows = [[0, 0, 1, 1, -1, 2], [2, 2, 2, 3, 3, 3], [0, 1, 2, 3, 0, 1], [1, 1, 1, 1, 1, 1]]
    return Chart(rows, Lattice("offset", 4, 6, 0.1))


def test_drawings_need_no_style_script_or_fetch(panel):
    joins = plan_grid(4, 6, 2, 4).joins
    for text in (
        balloons_svg(panel, HEXES, title="Panel", joins=joins),
        plain_svg(panel, HEXES, letters=LETTERS, title="Panel", joins=joins),
    ):
        root = parsed(text)
        for part in root.iter():
            assert part.tag.removeprefix(SVG) in DRAWN
            for name, value in part.attrib.items():
                assert name != "style" and not name.startswith("on")
                assert "http" not in value
                if name == "href":
                    assert value.startswith("#")


def test_every_reference_is_met_and_ids_do_not_clash(panel):
    page = [
        balloons_svg(panel, HEXES, title="One", prefix="one"),
        balloons_svg(panel, HEXES, title="Two", prefix="two"),
        plain_svg(panel, HEXES, letters=LETTERS, title="Three", prefix="three"),
    ]
    seen = set()
    for text in page:
        root = parsed(text)
        ids = [part.get("id") for part in root.iter() if part.get("id")]
        assert len(ids) == len(set(ids)) and not seen & set(ids)
        seen |= set(ids)
        wanted = {part.get("href")[1:] for part in root.iter() if part.get("href")}
        wanted |= set(re.findall(r"url\(#([^)]+)\)", text)) | {root.get("aria-labelledby")}
        assert wanted <= set(ids)


def test_all_colours_of_the_palette_are_ready_for_an_editor(panel):
    text = balloons_svg(panel, [*HEXES, "#4f8a47"], title="Panel", prefix="p")
    assert 'id="p4"' in text and 'href="#p4"' not in text


def test_the_title_is_what_a_reader_hears_and_is_escaped(panel):
    title = 'Panel <b>"26 & 22"</b>'
    for text in (
        balloons_svg(panel, HEXES, title=title),
        plain_svg(panel, HEXES, letters=LETTERS, title=title),
    ):
        root = parsed(text)
        assert root.get("role") == "img"
        heard = root.find(f"{SVG}title")
        assert heard.text == title and heard.get("id") == root.get("aria-labelledby")


def test_letters_are_escaped(panel):
    root = parsed(plain_svg(panel, HEXES, letters=["<", "&", '"', "'"], title="Panel"))
    assert any(text.text and text.text[0] in "<&" for text in root.iter(f"{SVG}text"))


def test_joins_are_a_dark_dash_on_a_light_line(panel):
    plan = plan_grid(4, 6, 2, 4)
    light, dark = group(parsed(balloons_svg(panel, HEXES, title="Panel", joins=plan.joins)), "joins")
    assert light.get("d") == dark.get("d") and light.get("d").count("M") == len(plan.joins)
    assert light.get("stroke") == "#fff" and dark.get("stroke-dasharray")
    assert float(light.get("stroke-width")) > float(dark.get("stroke-width"))
    assert 'class="joins"' not in balloons_svg(panel, HEXES, title="Panel")


def test_plain_joins_step_between_the_cells_they_part(panel):
    joins = plan_grid(4, 6, 4, 3).joins
    root = parsed(plain_svg(panel, HEXES, letters=LETTERS, title="Panel", joins=joins))
    assert group(root, "joins")[0].get("d") == "M60 0H60V20H70V40H60V60H70V80"


def test_part_of_a_panel_keeps_the_panels_numbers(panel):
    joins = plan_grid(4, 6, 2, 3).joins
    root = parsed(plain_svg(panel, HEXES, letters=LETTERS, title="Sheet 4", rows=(2, 4), columns=(3, 6), joins=joins))
    numbers = [text.text for text in root.iter(f"{SVG}text") if text.get("fill") is None]
    assert numbers == ["3", "3", "4", "4", "4", "5", "6", "4", "5", "6"]
    assert letters_at(root, panel.lattice, PITCH) == {
        (2, 3): "Sk",
        (2, 4): "W",
        (2, 5): "R",
        (3, 3): "R",
        (3, 4): "R",
        (3, 5): "R",
    }
    assert 'class="joins"' not in ElementTree.tostring(root, encoding="unicode")


def test_letters_stand_out_from_their_colour():
    chart = Chart([[0, 1, 2]], Lattice("square", 1, 3, 0.1))
    root = parsed(plain_svg(chart, ["#ffffff", "#000000", "#ffd21f"], letters=["A", "B", "C"], title="x"))
    inks = {text.text: text.get("fill") for text in root.iter(f"{SVG}text") if text.get("fill")}
    assert inks == {"AC": "#000", "B": "#fff"}


def test_an_empty_panel_shows_the_bare_net():
    chart = Chart([[-1, -1], [-1, -1]], Lattice("hex", 2, 2, 0.1))
    root = parsed(balloons_svg(chart, [], title="Bare"))
    assert {use.get("href") for use in group(root, "cells").iter(f"{SVG}use")} == {"#be"}
    assert len(group(root, "net-straps")) == 2
    assert parsed(plain_svg(chart, [], letters=[], title="Bare")) is not None


def test_colour_letters_are_all_different_and_read_apart():
    letters = colour_letters(120)
    assert len(set(letters)) == 120
    assert not any("I" in letter or "O" in letter for letter in letters)


def test_hex_there_and_back():
    assert rgb_of_hex("#1E3a66") == (30, 58, 102)
    assert hex_of_rgb((30, 58, 102)) == "#1e3a66"


@pytest.mark.parametrize(
    ("argument", "change"),
    [
        ("palette_hex", {"palette_hex": HEXES[:3]}),
        ("palette_hex", {"palette_hex": ["red", *HEXES]}),
        ("palette_hex", {"palette_hex": ['#fff"/><a', *HEXES]}),
        ("prefix", {"prefix": '"><script>'}),
        ("prefix", {"prefix": "7"}),
        ("letters", {"letters": LETTERS[:3]}),
        ("rows", {"rows": (2, 2)}),
        ("rows", {"rows": (0, 5)}),
        ("columns", {"columns": (-1, 3)}),
    ],
)
def test_bad_input_names_the_argument(panel, argument, change):
    given_ = {"palette_hex": HEXES, "letters": LETTERS, "title": "Panel"} | change
    with pytest.raises(ValueError, match=f"^{argument}:"):
        plain_svg(panel, **given_)


def test_the_plain_chart_prints_with_its_letters_and_numbers(panel):
    page = HTML(string=plain_svg(panel, HEXES, letters=LETTERS, title="Panel")).write_pdf()
    text = pypdfium2.PdfDocument(page)[0].get_textpage().get_text_range()
    for row in ("WWRRN", "NNNSkSkSk", "WRNSkWR", "RRRRRR"):
        # Light and dark letters of a row are two texts; together they hold every letter once.
        assert all(character in text for character in row)
    assert sum(text.count(letter) for letter in "RNW") == 10 + 5 + 4


@pytest.fixture(scope="module")
def portrait():
    rng = np.random.default_rng(5)
    palette = rng.random((80, 3))
    lattice = Lattice("offset", 92, 76, 0.127)
    chart = Chart(match(sample(data.astronaut(), lattice), palette).reshape(92, 76), lattice)
    return chart, [hex_of_rgb(np.rint(colour * 255)) for colour in palette]


def test_seven_thousand_balloons_are_small_on_the_wire(portrait):
    chart, hexes = portrait
    text = balloons_svg(chart, hexes, title="Portrait", joins=plan_grid(92, 76, 24, 24).joins)
    assert text.count("<use") == 6992 + 92
    assert len(gzip.compress(text.encode(), 6)) <= 20_000


@pytest.mark.alone
def test_seven_thousand_balloons_are_quick_beside_matching_them(portrait):
    chart, hexes = portrait
    cells = sample(data.astronaut(), chart.lattice)
    palette = np.array([rgb_of_hex(colour) for colour in hexes]) / 255

    def least_s(call):
        spent = []
        for _ in range(5):
            start = time.perf_counter()
            call()
            spent.append(time.perf_counter() - start)
        return min(spent)

    drawing_s = least_s(lambda: balloons_svg(chart, hexes, title="Portrait"))
    assert drawing_s < least_s(lambda: match(cells, palette))
