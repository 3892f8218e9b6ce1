"""The road from a photograph to a chart, against what one would reach for instead."""

import gzip
import io
from collections.abc import Iterator
from functools import cache
from xml.etree import ElementTree

import numpy as np
from PIL import Image
from scipy import sparse
from scipy.optimize import linprog
from skimage import data
from skimage.color import deltaE_ciede2000

from decor.calc.picture.chart import Chart
from decor.calc.picture.colour import delta_e_2000, delta_e_2000_table, srgb_to_lab
from decor.calc.picture.lattice import Lattice
from decor.calc.picture.matching import match
from decor.calc.picture.sampling import sample, sample_for
from decor.calc.picture.sheets import plan_grid
from decor.studio.pictures import picture_array, read_picture
from jobs.designs.drawing import balloons_svg, hex_of_rgb
from jobs.designs.raster import balloons_jpeg
from tests.benchmarks import Comparison, middle_ms

LARGE = Lattice("offset", 92, 76, 0.127)  # 6,992 cells
MIDDLE = Lattice("offset", 60, 50, 0.127)  # 3,000 cells


@cache
def photograph_12_megapixels() -> bytes:
    out = io.BytesIO()
    Image.fromarray(data.astronaut()).resize((4000, 3000), Image.Resampling.LANCZOS).save(out, "JPEG", quality=92)
    return out.getvalue()


@cache
def palette(colours: int) -> np.ndarray:
    return np.random.default_rng(5).random((colours, 3))


@cache
def cells_of(lattice: Lattice) -> np.ndarray:
    return sample(data.astronaut(), lattice)


def palette_picture(colours: int) -> Image.Image:
    held = Image.new("P", (1, 1))
    held.putpalette(np.rint(palette(colours) * 255).astype(np.uint8).tobytes())
    return held


def pillow_chart(lattice: Lattice, colours: int) -> np.ndarray:
    """Pillow's own road: resize by area, then its fixed-palette quantiser."""
    image = Image.open(io.BytesIO(photograph_12_megapixels())).convert("RGB")
    small = image.resize((lattice.columns, lattice.rows), Image.Resampling.BOX)
    return np.asarray(small.quantize(palette=palette_picture(colours), dither=Image.Dither.NONE)).ravel()


def scarce(cells: np.ndarray, colours: int) -> np.ndarray:
    """Balloons for 1.2 × the cells, so spread that the liked colours run out."""
    liked = np.bincount(match(cells, palette(colours)), minlength=colours)
    return np.ceil(0.6 * liked + 0.6 * len(cells) / colours).astype(int)


def comparisons() -> Iterator[Comparison]:
    yield from judged()
    yield from told()


def judged() -> Iterator[Comparison]:
    yield from _sampling()
    yield from _colour()
    yield from _stock()
    yield from _drawing()
    yield _upload_to_chart()


def _sampling() -> Iterator[Comparison]:
    photo = photograph_12_megapixels()

    def pillow() -> Image.Image:
        image = Image.open(io.BytesIO(photo)).convert("RGB")
        return image.resize((LARGE.columns, LARGE.rows), Image.Resampling.BOX)

    yield Comparison(
        "12 megapixel JPEG to 6,992 cell means",
        middle_ms(lambda: sample(picture_array(photo, LARGE.cells), LARGE)),
        "ms",
        "Pillow decode and resize BOX (not in linear light)",
        middle_ms(pillow),
        0.6,
    )
    flat = Lattice("square", 92, 76, 0.127)
    whole = np.asarray(Image.open(io.BytesIO(photo)).convert("RGB"))
    exact = srgb_to_lab(sample(whole, flat))
    ours = delta_e_2000(exact, srgb_to_lab(sample(picture_array(photo, flat.cells), flat))).mean()
    boxed = np.asarray(pillow()).reshape(-1, 3) / 255.0
    yield Comparison(
        "mean difference from the exact means, full size",
        float(ours),
        "CIEDE2000",
        "Pillow decode and resize BOX",
        float(delta_e_2000(exact, srgb_to_lab(boxed)).mean()),
        0.5,
    )


def _colour() -> Iterator[Comparison]:
    a, b = srgb_to_lab(cells_of(LARGE)), srgb_to_lab(palette(80))
    yield Comparison(
        "CIEDE2000, 6,992 cells × 80 colours",
        middle_ms(lambda: delta_e_2000_table(a, b)),
        "ms",
        "scikit-image deltaE_ciede2000",
        middle_ms(lambda: deltaE_ciede2000(a[:, None], b[None])),
        0.5,
    )
    square = Lattice("square", 92, 76, 0.127)
    whole = np.asarray(Image.open(io.BytesIO(photograph_12_megapixels())).convert("RGB"))
    cells = sample(whole, square)
    cost = delta_e_2000(srgb_to_lab(cells)[:, None], srgb_to_lab(palette(80)))
    every = np.arange(len(cells))
    yield Comparison(
        "mean difference of the chart from the picture",
        float(cost[every, match(cells, palette(80))].mean()),
        "CIEDE2000",
        "Pillow resize and quantize",
        float(cost[every, pillow_chart(square, 80)].mean()),
        0.95,
    )


def _stock() -> Iterator[Comparison]:
    small = Lattice("square", 30, 30, 0.127)
    cells, colours, limits = cells_of(small), palette(40), scarce(cells_of(small), 40)
    cost = delta_e_2000(srgb_to_lab(cells)[:, None], srgb_to_lab(colours))
    each_cell = sparse.kron(sparse.identity(900), np.ones((1, 40)), format="csr")
    each_colour = sparse.kron(np.ones((1, 900)), sparse.identity(40), format="csr")

    def highs() -> float:
        answer = linprog(cost.ravel(), A_eq=each_cell, b_eq=np.ones(900), A_ub=each_colour, b_ub=limits, method="highs")
        return float(answer.fun)

    yield Comparison(
        "match within stock, 900 cells × 40 colours",
        middle_ms(lambda: match(cells, colours, stock=limits)),
        "ms",
        "SciPy linprog, HiGHS",
        middle_ms(highs, 3),
        0.2,
    )
    yield Comparison(
        "its total",
        float(cost[np.arange(900), match(cells, colours, stock=limits)].sum()),
        "CIEDE2000",
        "SciPy linprog, HiGHS",
        highs(),
        1.0001,
    )


def _drawing() -> Iterator[Comparison]:
    colours = palette(80)
    hexes = [hex_of_rgb(np.rint(colour * 255)) for colour in colours]
    chart = Chart(match(cells_of(LARGE), colours).reshape(92, 76), LARGE)
    joins = plan_grid(92, 76, 24, 24).joins

    def draw() -> str:
        return balloons_svg(chart, hexes, title="Portrait", joins=joins)

    def element_tree() -> bytes:
        root = ElementTree.Element("svg")
        for row, cells in enumerate(chart.cells.tolist()):
            for column, cell in enumerate(cells):
                at = {"href": f"#b{cell}", "x": str(column * 20), "y": str(row * 20)}
                ElementTree.SubElement(root, "use", at)
        return ElementTree.tostring(root)

    yield Comparison(
        "balloons as SVG, 6,992 cells",
        middle_ms(draw),
        "ms",
        "xml.etree, the same elements without net, shading and joins",
        middle_ms(element_tree),
        0.6,
    )
    size = len(gzip.compress(draw().encode(), 6)) / 1000
    yield Comparison("its size, gzipped", size, "kB", "the limit of 20 kB", 20.0, 1.0)


def _upload_to_chart() -> Comparison:
    photo = photograph_12_megapixels()

    def ours() -> np.ndarray:
        stored = read_picture(photo)
        return match(sample_for(picture_array(stored.data, 3000), MIDDLE, palette(60)), palette(60))

    def pillow() -> np.ndarray:
        Image.open(io.BytesIO(photo)).convert("RGB").save(io.BytesIO(), "JPEG", quality=90)
        return pillow_chart(MIDDLE, 60)

    return Comparison(
        "12 megapixel JPEG checked, stored anew and made a chart of 3,000 cells",
        middle_ms(ours),
        "ms",
        "Pillow: decode, save, resize BOX, quantize",
        middle_ms(pillow),
        1.3,
    )


def told() -> Iterator[Comparison]:
    large = cells_of(LARGE)
    yield Comparison(
        "match within stock, 6,992 cells × 80 colours",
        middle_ms(lambda: match(large, palette(80), stock=scarce(large, 80))),
    )
    most = cells_of(Lattice("square", 316, 316, 0.127))
    yield Comparison("match, 99,856 cells × 120 colours", middle_ms(lambda: match(most, palette(120)), 3))
    limits = scarce(most, 120)
    yield Comparison(
        "match within stock, 99,856 cells × 120 colours",
        middle_ms(lambda: match(most, palette(120), stock=limits), 1),
    )
    chart = Chart(match(large, palette(80)).reshape(92, 76), LARGE)
    rgb = [tuple(int(part) for part in np.rint(colour * 255)) for colour in palette(80)]
    joins = plan_grid(92, 76, 24, 24).joins
    yield Comparison(
        "balloons as JPEG, 6,992 cells, 2,000 pixels wide",
        middle_ms(lambda: balloons_jpeg(chart, rgb, 2000, joins=joins)),
    )
