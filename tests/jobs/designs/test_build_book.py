"""The build book: what it says must load into exactly the chart, and the PDF must carry it."""

import re
import socket
from collections import Counter
from dataclasses import replace
from io import BytesIO

import numpy as np
import pypdfium2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from decor.calc.picture.chart import Chart
from decor.calc.picture.sheets import plan_grid
from decor.calc.pieces.panel import PanelMeasures, sheet_grid
from decor.calc.work.rates import Rates
from decor.studio.documents import pdf_of
from jobs.designs.book_charts import CELL, MARGIN, chart_png
from jobs.designs.book_pages import MOST_COLUMNS, MOST_ROWS, Book, book_of, pictures_of
from jobs.designs.catalogue import LatexItem, SheetType
from jobs.designs.tying import Wishes, strings_for

LETTERS = "ABCDEFGHJK"


def sheet_type(rows: int, columns: int, lattice: str = "offset") -> SheetType:
    return SheetType(
        id=1,
        name="Net",
        rows=rows,
        columns=columns,
        lattice=lattice,
        pitch_m=0.12,
        row_pitch_m=None,
        sized_diameter_m=0.119,
        tabs_side=rows,
        tabs_end=columns,
        weight_kg=0.3,
        uses=5,
        pack_size=1,
        pack_price=20,
        lead_days=5,
        active=True,
    )


def balloon(number: int, rgb: str = "") -> LatexItem:
    return LatexItem(
        id=number,
        name=f"colour {number}",
        nominal_in=5.0,
        shape="round",
        colour=f"colour {number}",
        finish="plain",
        rgb=rgb or f"#{number * 20 + 30:02x}4466",
        mass_g=1.0,
        pack_size=100,
        pack_price=6,
        lead_days=4,
        active=True,
    )


def a_book(cells: np.ndarray, sheet: SheetType, way: str = "paired", **more: object) -> Book:
    chart = Chart(cells, sheet.lattice_of(*cells.shape))
    plan = plan_grid(*cells.shape, sheet.rows, sheet.columns)
    return book_of(chart, [balloon(n) for n in range(6)], sheet, plan, way=way, spare_share=0.04, **more)


def loaded(book: Book) -> np.ndarray:
    """The chart as somebody would load it who follows the runs, word by word."""
    cells = np.full(book.chart.cells.shape, -9)
    for page in book.pages:
        words = page.part_words or ""
        first = page.sheet.column_start
        if "columns" in words:
            first = int(words.split("columns ")[1].split(" ")[0]) - 1
        for row in page.rows:
            column = first
            for run in row.words.split(", "):
                length, letter = run.split(" ")
                assert (cells[row.number - 1, column : column + int(length)] == -9).all(), "a cell loaded twice"
                cells[row.number - 1, column : column + int(length)] = LETTERS.find(letter) if letter != "empty" else -1
                column += int(length)
    return cells


@settings(max_examples=40)
@given(
    rows=st.integers(1, 80),
    columns=st.integers(1, 80),
    sheet=st.tuples(st.integers(3, 60), st.integers(3, 60)),
    seed=st.integers(0, 9),
)
def test_following_the_runs_loads_every_cell_once(rows, columns, sheet, seed):
    cells = np.random.default_rng(seed).integers(-1, 6, (rows, columns))
    book = a_book(cells, sheet_type(*sheet))
    assert (loaded(book) == cells).all()
    assert all(len(page.rows) <= MOST_ROWS for page in book.pages)


def test_a_page_never_holds_more_than_can_be_read():
    book = a_book(np.zeros((70, 70), int), sheet_type(70, 70, "square"))
    widths = [sum(int(r.split(" ")[0]) for r in page.rows[0].words.split(", ")) for page in book.pages]
    assert max(widths) <= MOST_COLUMNS and min(widths) >= 20


def test_the_prep_list_counts_as_the_way_of_loading_does():
    cells = np.array([[0, 0, 1], [1, 1, -1]])
    single = a_book(cells, sheet_type(4, 4))
    assert [(c.words, c.cells, c.balloons, c.spares) for c in single.colours] == [
        ("colour 0", 2, 2, 1),
        ("colour 1", 3, 3, 1),
    ]
    assert a_book(cells, sheet_type(4, 4), way="sandwich").balloons == 10


def test_the_sheets_are_named_that_the_plan_took():
    """Which may be another type than the panel's own, where that one does not pass the doors."""
    book = a_book(np.zeros((2, 2), int), sheet_type(4, 4))
    for taken, words in (
        (["Small"] * 2, "Small"),
        (["Small", "Large", "Small"], "2 of Small, 1 of Large"),
        ([], "Net"),
    ):
        assembly = (Thing(sheets=[Thing(name=name) for name in taken]),)
        assert replace(book, assembly=assembly).sheet_words == words


def test_both_sheets_of_a_join_name_each_other():
    book = a_book(np.zeros((4, 6), int), sheet_type(4, 3))
    assert [page.joins for page in book.pages] == [
        ("right edge to sheet 2, 4 tabs",),
        ("left edge to sheet 1, 4 tabs",),
    ]
    assert book.tabs == 4


def test_spares_are_those_of_the_estimate():
    """100 balloons and 7 % are 7 spares, though 100 × 0.07 comes out a hair above."""
    chart = Chart(np.zeros((10, 10), dtype=int), sheet_type(10, 10).lattice_of(10, 10))
    plan = plan_grid(10, 10, 10, 10)
    book = book_of(chart, [balloon(0)], sheet_type(10, 10), plan, way="paired", spare_share=0.07)
    assert [(colour.balloons, colour.spares) for colour in book.colours] == [(100, 7)]


def test_joins_have_the_tabs_of_the_sheet_type_as_the_estimate_counts_them():
    """Tabs are the edges' own, not one a cell; spare cells at the last sheet are joined too and folded back."""
    kind = replace(sheet_type(10, 12), tabs_side=5, tabs_end=6)
    size = {"rows": 20, "columns": 23, "pitch_m": 0.12, "sized_diameter_m": 0.119, "counts": ((1, 460),)}
    measures = PanelMeasures(**size, sheet_rows=10, sheet_columns=12, tabs_side=5, tabs_top=6)
    book = a_book(np.zeros((20, 23), int), kind)
    assert book.tabs == sheet_grid(measures, Rates()).joins.tabs == 22
    assert book.pages[3].joins == ("left edge to sheet 3, 5 tabs", "top edge to sheet 2, 6 tabs")


class Thing:
    def __init__(self, **values: object) -> None:
        self.__dict__.update(values)


def document(
    paper: str,
    title: str = "Lighthouse panel",
    way: str = "paired",
    rows: int = 30,
    cautions: int = 1,
    *,
    columns: int = 20,
    sheet: SheetType | None = None,
    cells: np.ndarray | None = None,
) -> pypdfium2.PdfDocument:
    cells = np.random.default_rng(3).integers(-1, 6, (rows, columns)) if cells is None else cells
    book = a_book(cells, sheet or sheet_type(rows * 3 // 4, 13), way)
    event = Thing(
        title="Harbour library centenary",
        venue=Thing(name="Quay Hall"),
    )
    context = {
        "book": book,
        "piece": Thing(title=title, count=1, built_at="workshop"),
        "event": event,
        "on": "Sun 13 June 2027",
        "studio": Thing(name="Saltmarsh Balloon Works"),
        "cautions": ["Balloons burst without warning."] * cautions,
    }
    pictures = pictures_of(book)
    return pypdfium2.PdfDocument(BytesIO(pdf_of("documents/build_book.html", context, paper=paper, pictures=pictures)))


@pytest.mark.parametrize(("paper", "size"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_the_pdf_has_the_studios_paper_and_every_row(paper, size):
    pdf = document(paper)
    assert tuple(round(side) for side in pdf[0].get_size()) == size
    text = "\n".join(page.get_textpage().get_text_range() for page in pdf)
    assert "Prep list" in text and "Sheet plan" in text and f"page 1 of {len(pdf)}" in text
    for row in range(1, 31):
        assert f"Row {row}" in text


def test_nothing_is_fetched_for_it(monkeypatch):
    def refuse(*args: object, **kwargs: object) -> None:
        raise AssertionError("the document opened a connection")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    pdf = document("A4", rows=2, title='<img src="http://169.254.169.254/x"><img src="file:///etc/hostname">')
    assert "169.254" in pdf[0].get_textpage().get_text_range()


def test_each_way_has_its_list_and_its_pages():
    texts = {}
    for way in ("paired", "two-sided", "sandwich", "strung"):
        pdf = document("A4", way=way, rows=40, columns=26, sheet=sheet_type(20, 13))
        texts[way] = "\n".join(page.get_textpage().get_text_range() for page in pdf)
    assert "Pair list" in texts["paired"] and "from the back" not in texts["paired"]
    assert "String slips" in texts["strung"] and "String 3" in texts["strung"]
    for way in ("two-sided", "sandwich"):
        assert "Units to tie" in texts[way] and "Sheet 1, from the back" in texts[way]
    assert all("Sheet 4, turned for loading" in text for text in texts.values())


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize(("way", "heading"), [("paired", "Pair list"), ("two-sided", "Units to tie")])
def test_cautions_stay_together_and_leave_no_page_nearly_empty(paper, way, heading):
    """However far the page before them is filled: what is to tie follows where it has room."""
    for cautions in (12, 18):
        texts = [page.get_textpage().get_text_range() for page in document(paper, way=way, rows=8, cautions=cautions)]
        [warned] = [text for text in texts if "Cautions" in text]
        assert warned.count("without warning") == cautions
        assert heading in warned or "Sheet plan" in warned


@pytest.mark.parametrize("lattice", ["square", "offset", "hex"])
def test_the_pair_list_makes_every_balloon_of_the_prep_list(lattice):
    cells = np.random.default_rng(9).integers(-1, 6, (24, 31))
    sections = (np.arange(31) // 13 + np.ones((24, 1), int)).ravel()
    book = a_book(cells, sheet_type(12, 13, lattice), sections=sections)
    tied = Counter()
    for kind in (*book.pairs.kinds, *book.pairs.singles):
        for letter in kind.letters.split("–"):
            tied[letter] += kind.count
    assert tied == {colour.letter: colour.balloons for colour in book.colours}
    assert [section.letter for section in book.pairs.sections] == ["A", "B", "C"]
    by_section = Counter()
    for section in book.pairs.sections:
        assert section.pairs == sum(kind.count for kind in section.kinds)
        by_section.update({kind.letters: kind.count for kind in section.kinds})
    assert by_section == {kind.letters: kind.count for kind in book.pairs.kinds}


def test_slips_follow_the_chart():
    """Loaded from each slip's own words, cell after cell of the order, the chart comes out."""
    cells = np.random.default_rng(9).integers(-1, 6, (10, 14))
    book = a_book(cells, sheet_type(12, 13), way="strung", string_balloons=20)
    order = strings_for(book.chart, np.zeros(140, int), Wishes()).order
    along = [run.split(" ") for slip in book.slips for run in slip.letters.split(", ")]
    loaded = [LETTERS.find(letter) for length, letter in along for _ in range(int(length))]
    assert loaded == cells.ravel()[order].tolist()
    assert sum(slip.balloons for slip in book.slips) == len(order) == sum(c.balloons for c in book.colours)
    assert book.slips[0].starts.startswith("row ") and book.slips[0].words.endswith(tuple("012345"))


def test_units_are_two_of_one_colour_for_each_cell():
    book = a_book(np.array([[0, 0, 1], [1, 1, -1]]), sheet_type(4, 4), way="two-sided")
    assert [(kind.letters, kind.count) for kind in book.units.kinds] == [("A", 2), ("B", 3)]


def grey_cells(book, part):
    """(letter, its cell of the painted chart in grey) for each filled cell of the part."""
    bare = replace(part, links=np.empty((0, 2), int))
    image = Image.open(BytesIO(chart_png(book.chart, book.look, bare))).convert("L")
    (top, bottom), (left, right) = part.rows, part.columns
    shift = CELL // 2 if book.chart.lattice.staggered else 0
    down = round(CELL * book.chart.lattice.row_pitch_m / book.chart.lattice.pitch_m)
    wide, high = (right - left) * CELL + shift + 2 * MARGIN, (bottom - top) * down + 2 * MARGIN
    for row in range(top, bottom):
        for column in range(left, right):
            x = MARGIN + (column - left) * CELL + (shift if row % 2 else 0)
            y = MARGIN + (row - top) * down
            x = wide - x - CELL if part.mirrored else x
            box = (x, y, x + CELL, y + down) if not part.turned else (high - y - down, x, high - y, x + CELL)
            if book.chart.cells[row, column] >= 0:
                inside = image.crop((box[0] + 4, box[1] + 4, box[2] - 4, box[3] - 4))
                yield book.look.letters[book.chart.cells[row, column]], np.asarray(inside, dtype=int)


@pytest.mark.parametrize("lattice", ["square", "offset", "hex"])
@pytest.mark.parametrize(("turned", "mirrored"), [(False, False), (True, False), (False, True)])
def test_in_black_and_white_each_cell_still_says_its_colour(lattice, turned, mirrored):
    """Six colours of much the same grey: cells of one letter look alike, of two letters do not, however it lies."""
    cells = np.random.default_rng(5).integers(-1, 6, (9, 11))
    book = a_book(cells, sheet_type(22, 13, lattice))
    part = replace(book.pages[0].part, turned=turned, mirrored=mirrored)
    seen: dict[str, list[np.ndarray]] = {}
    for letter, picture in grey_cells(book, part):
        seen.setdefault(letter, []).append(picture)
    assert {letter: len(found) for letter, found in seen.items()} == {c.letter: c.cells for c in book.colours}
    first = {letter: found[0] for letter, found in seen.items()}
    for letter, found in seen.items():
        # The heavier line of every fifth cell lies on a cell's edge, and its neighbour's paint over it.
        assert all(np.abs(one - first[letter]).mean() < 3 for one in found)
        assert all(np.abs(first[letter] - first[other]).mean() > 6 for other in first if other != letter)


def painted(book, part):
    return np.asarray(Image.open(BytesIO(chart_png(book.chart, book.look, part))).convert("L"), dtype=int)


def test_a_pair_between_two_dark_rows_is_seen():
    """Light all round it: on a cell as dark as itself nothing else would show it."""
    book = a_book(np.zeros((2, 1), int), sheet_type(4, 4, "square"))
    book = replace(book, look=replace(book.look, rgb=["#202020"]))
    part = book.pages[0].part
    bare, tied_up = (painted(book, replace(part, links=links)) for links in (np.empty((0, 2), int), np.array([[0, 1]])))
    light = (tied_up > 200) & (bare < 150)
    x, y = MARGIN + CELL // 2, MARGIN + CELL
    for down, across in ((-1, 0), (1, 0), (0, -1), (0, 1)):
        line = [light[y + down * at, x + across * at] for at in range(1, 24)]
        assert any(line), (down, across)


def test_letters_stand_over_a_winding_way_and_every_section_begins_with_a_ring():
    cells = np.random.default_rng(3).integers(0, 6, (8, 10))
    sections = np.broadcast_to(np.where(np.arange(10) < 5, 1, 2), (8, 10)).ravel()
    book = a_book(cells, sheet_type(22, 13, "offset"), way="strung", sections=sections, wishes=Wishes(winding=True))
    part = book.pages[0].part
    assert [len(way) for way in part.route] == [40, 40]
    bare, wound = painted(book, replace(part, route=())), painted(book, part)
    for row, column in np.ndindex(8, 10):
        x, y = MARGIN + column * CELL + (CELL // 2) * (1 + row % 2), MARGIN + row * CELL + CELL // 2
        assert np.array_equal(bare[y - 12 : y + 12, x - 12 : x + 12], wound[y - 12 : y + 12, x - 12 : x + 12])
        ring = wound[y, x + 23] < 60 and wound[y, x - 23] < 60 and wound[y - 23, x] < 60 and wound[y + 23, x] < 60
        assert ring == (row * 10 + column in {int(way[0]) for way in part.route})


@pytest.mark.parametrize("way", ["paired", "two-sided"])
def test_every_chart_says_what_its_letters_stand_for(way):
    pdf = document("A4", way=way, rows=40, columns=26, sheet=sheet_type(20, 13))
    text = "".join(page.get_textpage().get_text_range() for page in pdf)
    assert len(re.findall(r"A colour 0\s+B colour 1", text)) == 4 * (3 if way == "two-sided" else 2)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_turned_chart_follows_runs_that_need_a_second_page(paper):
    """24 × 24 cells without two alike side by side: the longest runs there are. Two pages a sheet all the same."""
    pdf = document(paper, cells=np.indices((48, 24)).sum(axis=0) % 6, sheet=sheet_type(24, 24, "square"))
    pages = [page.get_textpage().get_text_range() for page in pdf]
    [first] = [at for at, text in enumerate(pages) if re.search(r"^Sheet 1\r?$", text, re.MULTILINE)]
    assert len(pages) - first == 4
    assert all("turned for loading" in pages[at] and "Row" in pages[at] for at in (first + 1, first + 3))


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize(("way", "charts", "most"), [("paired", 2, 12), ("two-sided", 3, 16)])
def test_small_sheets_stand_several_on_a_page_each_with_all_its_charts(paper, way, charts, most):
    """25 sheets of 8 by 8: three a page, or two, none torn apart, every row spelt out and every letter said."""
    pdf = document(paper, way=way, rows=40, sheet=sheet_type(8, 8), columns=40)
    pages = [page.get_textpage().get_text_range() for page in pdf]
    seen = 0
    for text, page in zip(pages, pdf, strict=True):
        sheets = len(re.findall(r"^Sheet \d+\r?$", text, re.MULTILINE))
        images = sum(thing.type == pypdfium2.raw.FPDF_PAGEOBJ_IMAGE for thing in page.get_objects())
        if sheets:
            seen += sheets
            assert images == charts * sheets and text.count("turned for loading") == sheets
            assert text.count("A colour 0") == sheets and len(re.findall(r"Row \d+", text)) == 8 * sheets
    assert seen == 25 and len(pages) <= most


@pytest.mark.parametrize("lattice", ["square", "offset", "hex"])
@pytest.mark.parametrize("size", [(8, 8), (16, 16), (16, 3)])
def test_small_charts_keep_letters_of_seven_points_and_fit_beside_each_other(lattice, size):
    book = a_book(np.zeros(size, int), sheet_type(*size, lattice))
    [page] = book.pages
    for wide, turned in ((page.wide_mm, False), (page.turned_wide_mm, True)):
        part = replace(page.part, turned=turned)
        pixels = Image.open(BytesIO(chart_png(book.chart, book.look, part))).width
        letter_pt = 30 * wide / pixels / 25.4 * 72
        assert letter_pt >= 6.8
    # A4 has 186 mm within its margins, Letter 191.9; 5 mm lie between them.
    assert page.wide_mm + page.turned_wide_mm + 10 <= 186


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_few_cautions_take_no_page_of_their_own(paper):
    texts = [page.get_textpage().get_text_range() for page in document(paper, way="strung", rows=8, cautions=6)]
    [warned] = [text for text in texts if "Cautions" in text]
    assert "Sheet plan" in warned


def test_a_document_shows_only_what_it_was_given():
    context = {"book": a_book(np.zeros((2, 2), int), sheet_type(4, 4)), "piece": Thing(title="x"), "cautions": []}
    context |= {"event": Thing(title="y", venue=Thing(name="z")), "studio": Thing(name="s")}
    pdf = pypdfium2.PdfDocument(BytesIO(pdf_of("documents/build_book.html", context, paper="A4", pictures={})))
    kinds = {thing.type for page in pdf for thing in page.get_objects()}
    assert pypdfium2.raw.FPDF_PAGEOBJ_IMAGE not in kinds


@pytest.mark.parametrize("way", ["paired", "two-sided", "strung"])
def test_where_no_sheet_lies_is_no_section(way):
    """A corner that the outline leaves free has no sheet, so its cells have no section: the lists name the sections as
    the sheet plan does, by letter."""
    cells = np.zeros((24, 26), dtype=int)
    cells[:12, :13] = -1
    sections = np.ones((24, 26), dtype=int)
    sections[:, 13:], sections[:12, :13] = 2, 0
    book = a_book(cells, sheet_type(12, 13, "square"), way=way, sections=sections.ravel())
    assert book.sections == 2
    if way == "strung":
        assert {slip.section for slip in book.slips} == {"A", "B"}
        assert sum(slip.balloons for slip in book.slips if slip.section == "A") == 12 * 13
        return
    made = book.pairs or book.units
    assert [(one.letter, one.pairs * (2 if book.pairs else 1)) for one in made.sections] == [("A", 156), ("B", 312)]
