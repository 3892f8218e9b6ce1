"""Pairs, strings and the build book: against tying from left to right, blossom matching and loading row by row."""

import time
from collections.abc import Iterator
from functools import cache
from types import SimpleNamespace

import networkx as nx
import numpy as np
from skimage import data

from decor.calc.picture.chart import Chart
from decor.calc.picture.lattice import Lattice
from decor.calc.picture.loading import plan_pairs, plan_pairs_left_to_right, plan_strings, winding
from decor.calc.picture.matching import match
from decor.calc.picture.sampling import sample
from tests.benchmarks import Comparison, Figure, middle_ms
from tests.benchmarks.bench_picture import palette

KINDS = ("square", "offset")
WORDS = {"square": "square", "offset": "staggered"}
SHEET = 576
"""Cells of 24 × 24: a sheet's worth."""


@cache
def photograph(kind: str, rows: int = 92, columns: int = 76) -> Chart:
    """Nearest colours of 40, without diffusion."""
    lattice = Lattice(kind, rows, columns, 0.127)
    return Chart(match(sample(data.astronaut(), lattice), palette(40)).reshape(rows, columns), lattice)


@cache
def flat_art(kind: str, rows: int = 92, columns: int = 76) -> Chart:
    """A lighthouse of plain shapes in five colours."""
    y, x = np.mgrid[0:rows, 0:columns] / np.array([rows, columns])[:, None, None]
    cells = np.where(y > 0.7, 1, 0)
    cells[(np.abs(x - 0.5) < 0.08 + 0.05 * y) & (y > 0.25)] = 2
    cells[(np.abs(x - 0.5) < 0.14) & (y > 0.45) & (y < 0.55)] = 3
    cells[np.hypot(x - 0.8, y - 0.2) < 0.09] = 4
    return Chart(cells, Lattice(kind, rows, columns, 0.127))


def comparisons() -> Iterator[Comparison]:
    yield from judged()
    yield from told()


def judged() -> Iterator[Comparison]:
    for kind in KINDS:
        yield from _left_to_right(kind)
    for kind in KINDS:
        yield from _blossom(kind)
    yield from _strings()


def _left_to_right(kind: str) -> Iterator[Comparison]:
    for name, chart, most in (("photograph", photograph(kind), 0.45), ("flat art", flat_art(kind), 0.16)):
        yield Comparison(
            f"mixed pairs, {name}, 6,992 cells, {WORDS[kind]}",
            plan_pairs(chart).mixed,
            "pairs",
            "tied from left to right",
            plan_pairs_left_to_right(chart).mixed,
            most,
        )


def blossom(chart: Chart) -> int:
    """Mixed pairs of networkx's matching of as many cells as can be, at the least weight."""
    cells, graph = chart.cells.ravel(), nx.Graph()
    for one, other in chart.lattice.neighbours().tolist():
        graph.add_edge(one, other, weight=-int(cells[one] != cells[other]))
    found = nx.max_weight_matching(graph, maxcardinality=True)
    return sum(int(cells[one] != cells[other]) for one, other in found)


def _blossom(kind: str) -> Iterator[Comparison]:
    """Exact on a square lattice; at most a tenth above on a staggered one, whose cells are no chessboard."""
    chart = photograph(kind, 24, 24)
    exact = blossom(chart)
    name = f"pairs, {SHEET} cells, {WORDS[kind]}"
    yield Comparison(
        f"{name}: mixed ones", plan_pairs(chart).mixed, "pairs", "networkx max_weight_matching", exact,
        1.0 if kind == "square" else 1.1,
    )  # fmt: skip
    yield Comparison(
        f"{name}: time", middle_ms(lambda: plan_pairs(chart)), "ms", "networkx max_weight_matching",
        middle_ms(lambda: blossom(chart), 1), 0.2,
    )  # fmt: skip


def _strings() -> Iterator[Comparison]:
    for name, chart in (("photograph", photograph("offset")), ("flat art", flat_art("offset"))):
        row_by_row = 1 + int(np.count_nonzero(np.diff(chart.cells.ravel())))
        best = len(plan_strings(chart).runs)
        yield Comparison(f"runs on strings, {name}", best, "runs", "row by row from one side", row_by_row, 1.0)
        yield Comparison(
            f"runs on a winding way, {name}", len(winding(chart).runs), "runs", "there and back", best, 0.9
        )


def told() -> Iterator[Comparison]:
    sheets = 92 * 76 / SHEET
    for kind in KINDS:
        chart = photograph(kind)
        spent = middle_ms(lambda chart=chart: plan_pairs(chart), 3)
        yield Comparison(f"pairs, 6,992 cells, {WORDS[kind]}, for each 24 × 24 (target ≤ 25 ms)", spent / sheets)
    yield Comparison("best serpentine, 6,992 cells", middle_ms(lambda: plan_strings(photograph("offset"))))
    yield Comparison("winding way, 6,992 cells", middle_ms(lambda: winding(photograph("offset"))))
    large = photograph("offset", 316, 316)
    yield Comparison("pairs, 99,856 cells, staggered", middle_ms(lambda: plan_pairs(large), 1))


def figures() -> Iterator[Figure]:
    spent, pages = build_book()
    yield Figure(f"build book of 6,992 cells, {pages} pages, in the worker", spent, "s", 15.0)


def build_book() -> tuple[float, int]:
    """From the chart to the PDF, the PDF maker loaded with it; and how many pages it has."""
    import django

    django.setup()
    from io import BytesIO

    import pypdfium2

    from decor.calc.picture.sheets import plan_grid
    from decor.studio.documents import pdf_of
    from jobs.designs.book_pages import book_of, pictures_of
    from jobs.designs.drawing import hex_of_rgb
    from tests.jobs.designs.test_build_book import balloon, sheet_type

    chart, sheet = photograph("offset"), sheet_type(24, 24)
    rgb = [hex_of_rgb(np.rint(colour * 255)) for colour in palette(40)]
    items = [balloon(number, rgb=colour) for number, colour in enumerate(rgb)]
    start = time.perf_counter()
    book = book_of(chart, items, sheet, plan_grid(92, 76, 24, 24), way="paired", spare_share=0.04)
    context = {
        "book": book,
        "piece": SimpleNamespace(title="Portrait", count=1, built_at="workshop"),
        "event": SimpleNamespace(title="Supper", venue=SimpleNamespace(name="Hall")),
        "studio": SimpleNamespace(name="Studio"),
    }
    pdf = pdf_of("documents/build_book.html", context, paper="A4", pictures=pictures_of(book))
    return time.perf_counter() - start, len(pypdfium2.PdfDocument(BytesIO(pdf)))
