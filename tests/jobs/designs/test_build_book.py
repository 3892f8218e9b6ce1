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

from decor.calc.picture.chart import Chart
from decor.calc.pieces.panel import PanelMeasures, sheet_grid
from decor.calc.work.rates import Rates
from decor.studio.documents import pdf_of
from jobs.designs.book_pages import MOST_COLUMNS, MOST_ROWS, Book, book_of
from jobs.designs.catalogue import LatexItem, SheetType

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


def balloon(number: int) -> LatexItem:
    return LatexItem(
        id=number,
        name=f"colour {number}",
        nominal_in=5.0,
        shape="round",
        colour=f"colour {number}",
        finish="plain",
        rgb=f"#{number * 20 + 30:02x}4466",
        mass_g=1.0,
        pack_size=100,
        pack_price=6,
        lead_days=4,
        active=True,
    )


def a_book(cells: np.ndarray, sheet: SheetType, way: str = "paired") -> Book:
    chart = Chart(cells, sheet.lattice_of(*cells.shape))
    return book_of(chart, [balloon(n) for n in range(6)], sheet, way=way, spare_share=0.04)


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
    book = book_of(chart, [balloon(0)], sheet_type(10, 10), way="paired", spare_share=0.07)
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


def document(paper: str, title: str = "Lighthouse panel") -> pypdfium2.PdfDocument:
    cells = np.random.default_rng(3).integers(-1, 6, (30, 20))
    event = Thing(
        title="Harbour library centenary",
        venue=Thing(name="Quay Hall"),
    )
    context = {
        "book": a_book(cells, sheet_type(22, 13)),
        "piece": Thing(title=title, count=1, built_at="workshop"),
        "event": event,
        "on": "Sun 13 June 2027",
        "studio": Thing(name="Saltmarsh Balloon Works"),
        "cautions": ["Balloons burst without warning."],
    }
    return pypdfium2.PdfDocument(BytesIO(pdf_of("documents/build_book.html", context, paper=paper)))


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
    pdf = document("A4", title='<img src="http://169.254.169.254/x"><img src="file:///etc/hostname">')
    assert "169.254" in pdf[0].get_textpage().get_text_range()


def test_in_black_and_white_each_cell_still_says_its_colour():
    cells = np.random.default_rng(5).integers(-1, 6, (40, 37))
    book = a_book(cells, sheet_type(22, 13))
    drawn = Counter()
    for page in book.pages:
        for text in re.findall(r"<text [^>]*>([A-K]+)</text>", page.svg):
            drawn.update(text)
    assert drawn == {c.letter: c.cells for c in book.colours}
