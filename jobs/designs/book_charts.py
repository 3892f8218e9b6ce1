"""Charts for paper, painted: flat cells with a letter and a pattern each, upright, turned for loading, or as seen
from the back.

Painted and not drawn as SVG: the PDF maker takes a minute over the letters of 12,000 cells, a painter a second.
"""

import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cache, lru_cache
from itertools import pairwise
from pathlib import Path

import numpy as np
from django.conf import settings
from PIL import Image, ImageDraw, ImageFont

from decor.calc.picture.chart import Chart
from decor.calc.picture.sheets import Join
from jobs.designs.drawing import INK, rgb_of_hex

CELL = 56
"""Pixels of a cell along its row: 24 cells on A4 come to 190 dots an inch."""
MARGIN = 54
PATTERNS = 8
_DARK_LIGHT = 0.18
GRID, FIVES, PAPER = (118, 125, 120), (40, 46, 43), (255, 255, 255)

Point = tuple[float, float]
Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Look:
    """How a chart's colours are told apart: each palette number's colour, and its letters. The pattern is one of a
    few, so that neighbours in a list of colours differ without their colour too."""

    rgb: Sequence[str]
    letters: Sequence[str]


@dataclass(frozen=True)
class Part:
    """The part of a chart on one page, and how it lies: `turned` a quarter clockwise, or `mirrored` as from the
    back. `links` are pairs of cell numbers that are tied; `route` each section's cells in their order."""

    rows: tuple[int, int]
    columns: tuple[int, int]
    turned: bool = False
    mirrored: bool = False
    links: np.ndarray = field(default_factory=lambda: np.empty((0, 2), dtype=np.int64))
    route: tuple[np.ndarray, ...] = ()


def chart_png(
    chart: Chart,
    look: Look,
    part: Part,
    joins: Iterable[Join] = (),
    *,
    small: bool = False,
) -> bytes:
    """The part as PNG with its rows and columns numbered from 1 at the panel's origin corner, which is blacked;
    `small` for a phone's line rather than for the PDF maker."""
    page = _Page(chart, part)
    image = Image.new("RGB", page.size, PAPER)
    draw = ImageDraw.Draw(image)
    _cells(image, page, chart, look)
    _fives(draw, page)
    _joins(draw, page, joins)
    _links(draw, page, part.links)
    _route(draw, page, chart, look)
    _numbers(draw, page)
    _origin(draw, page)
    out = io.BytesIO()
    if small:
        flat = image.quantize(255, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
        flat.save(out, "PNG", compress_level=6)
        return out.getvalue()
    # The PDF maker encodes it anew whatever it gets, and a palette twice: here only quickly.
    image.save(out, "PNG", compress_level=1)
    return out.getvalue()


class _Page:
    """Where things stand: as on the panel, then mirrored, then turned."""

    def __init__(self, chart: Chart, part: Part) -> None:
        lattice = chart.lattice
        self.lattice, self.part = lattice, part
        self.down = round(CELL * lattice.row_pitch_m / lattice.pitch_m)
        self.shift = CELL // 2 if lattice.staggered else 0
        (self.top, self.bottom), (self.left, self.right) = part.rows, part.columns
        self.width = (self.right - self.left) * CELL + self.shift + 2 * MARGIN
        self.height = (self.bottom - self.top) * self.down + 2 * MARGIN
        self.size = (self.height, self.width) if part.turned else (self.width, self.height)

    def at(self, x: float, y: float) -> Point:
        x = self.width - x if self.part.mirrored else x
        return (self.height - y, x) if self.part.turned else (x, y)

    def box(self, row: int, column: int, columns: int = 1) -> Box:
        """Left, top, right, bottom on the page of cells side by side in a row."""
        x = MARGIN + (column - self.left) * CELL + (self.shift if row % 2 else 0)
        y = MARGIN + (row - self.top) * self.down
        (a, b), (c, d) = self.at(x, y), self.at(x + columns * CELL, y + self.down)
        return min(a, c), min(b, d), max(a, c), max(b, d)

    def centre(self, cell: int) -> Point:
        left, top, right, bottom = self.box(*divmod(int(cell), self.lattice.columns))
        return (left + right) / 2, (top + bottom) / 2

    def holds(self, cell: int) -> bool:
        row, column = divmod(int(cell), self.lattice.columns)
        return self.top <= row < self.bottom and self.left <= column < self.right


def _cells(image: Image.Image, page: _Page, chart: Chart, look: Look) -> None:
    wide, high = (page.down, CELL) if page.part.turned else (CELL, page.down)
    for row in range(page.top, page.bottom):
        for column, colour in enumerate(chart.cells[row, page.left : page.right].tolist(), page.left):
            left, top, _, _ = page.box(row, column)
            rgb, letters = (look.rgb[colour], look.letters[colour]) if colour >= 0 else ("", "")
            image.paste(_tile(rgb, letters, max(colour, 0) % PATTERNS, wide, high), (int(left), int(top)))


@lru_cache(maxsize=1024)
def _tile(rgb: str, letters: str, pattern: int, wide: int, high: int) -> Image.Image:
    """One cell with its frame; an empty one is crossed out faintly."""
    tile = Image.new("RGB", (wide + 1, high + 1), rgb_of_hex(rgb) if rgb else PAPER)
    draw = ImageDraw.Draw(tile)
    if rgb:
        _pattern(draw, pattern, wide, high, _inks(rgb)[1])
        _letter(draw, (wide / 2, high / 2), rgb, letters, 0.36 * min(wide, high))
    else:
        draw.line([(0, high), (wide, 0)], fill=(190, 190, 190), width=2)
    draw.rectangle([0, 0, wide, high], outline=GRID, width=1)
    return tile


def _letter(draw: ImageDraw.ImageDraw, middle: Point, rgb: str, letters: str, radius: float) -> None:
    """On a plate of its colour, clear of the pattern."""
    draw.ellipse(_round(middle, radius), fill=rgb_of_hex(rgb))
    draw.text(middle, letters, font=_font(30 if len(letters) == 1 else 24, 700), fill=_inks(rgb)[0], anchor="mm")


def _inks(rgb: str) -> tuple[tuple[int, int, int], tuple[int, int, int]]:
    """Of a letter on the colour, and of the pattern behind it, nearer to the colour."""
    base = np.array(rgb_of_hex(rgb))
    light = ((base / 255.0) ** 2.2) @ np.array([0.2126, 0.7152, 0.0722])
    ink = np.array((255, 255, 255) if light < _DARK_LIGHT else (0, 0, 0))
    soft = np.rint(base + (ink - base) * 0.42).astype(int)
    return tuple(ink.tolist()), tuple(soft.tolist())


def _pattern(draw: ImageDraw.ImageDraw, pattern: int, wide: int, high: int, ink: tuple[int, int, int]) -> None:
    """None, two slants, level, upright, dots, both slants, corners."""
    lines = {
        1: _slants(wide, high),
        2: [((wide - x0, y0), (wide - x1, y1)) for (x0, y0), (x1, y1) in _slants(wide, high)],
        3: [((0, y), (wide, y)) for y in range(_STEP // 2, high, _STEP)],
        4: [((x, 0), (x, high)) for x in range(_STEP // 2, wide, _STEP)],
    }
    lines[6] = lines[1] + lines[2]
    dots = {
        5: [((x, y), 3) for x in range(7, wide, 14) for y in range(7, high, 14)],
        7: [((x, y), 15) for x in (0, wide) for y in (0, high)],
    }
    for line in lines.get(pattern, ()):
        draw.line(line, fill=ink, width=2)
    for middle, radius in dots.get(pattern, ()):
        draw.ellipse(_round(middle, radius), fill=ink)


_STEP = 12


def _slants(wide: int, high: int) -> list[tuple[Point, Point]]:
    return [((x, high), (x + high, 0)) for x in range(-high, wide, _STEP)]


def _round(middle: Point, radius: float) -> Box:
    x, y = middle
    return x - radius, y - radius, x + radius, y + radius


def _fives(draw: ImageDraw.ImageDraw, page: _Page) -> None:
    """A heavier line after every fifth row and column of the panel."""
    for row in range(page.top, page.bottom):
        for column in range(page.left, page.right + 1):
            if column % 5 == 0:
                x = MARGIN + (column - page.left) * CELL + (page.shift if row % 2 else 0)
                y = MARGIN + (row - page.top) * page.down
                draw.line([page.at(x, y), page.at(x, y + page.down)], fill=FIVES, width=3)
        if row % 5 == 0:
            y = MARGIN + (row - page.top) * page.down
            ends = page.at(MARGIN, y), page.at(page.width - MARGIN, y)
            draw.line(ends, fill=FIVES, width=3)


def _joins(draw: ImageDraw.ImageDraw, page: _Page, joins: Iterable[Join]) -> None:
    """A dark dash on a light line, stepping with shifted rows."""
    for join in joins:
        if join.orientation == "level":
            start, stop = max(join.start, page.left), min(join.stop, page.right)
            if not (page.top < join.at < page.bottom and start < stop):
                continue
            y = MARGIN + (join.at - page.top) * page.down
            x = MARGIN + (start - page.left) * CELL
            _dashed(draw, [page.at(x, y), page.at(x + (stop - start) * CELL + page.shift, y)])
            continue
        start, stop = max(join.start, page.top), min(join.stop, page.bottom)
        if not (page.left < join.at < page.right and start < stop):
            continue
        path: list[Point] = []
        for row in range(start, stop):
            x = MARGIN + (join.at - page.left) * CELL + (page.shift if row % 2 else 0)
            y = MARGIN + (row - page.top) * page.down
            path += [page.at(x, y), page.at(x, y + page.down)]
        _dashed(draw, path)


def _dashed(draw: ImageDraw.ImageDraw, path: Sequence[Point]) -> None:
    draw.line(list(path), fill=PAPER, width=10)
    for (x0, y0), (x1, y1) in pairwise(path):
        length = max(abs(x1 - x0), abs(y1 - y0))
        dashes = max(1, round(length / 20))
        for nth in range(dashes):
            a, b = nth / dashes, (nth + 0.6) / dashes
            draw.line(
                [(x0 + (x1 - x0) * a, y0 + (y1 - y0) * a), (x0 + (x1 - x0) * b, y0 + (y1 - y0) * b)],
                fill=INK,
                width=6,
            )


def _links(draw: ImageDraw.ImageDraw, page: _Page, links: np.ndarray) -> None:
    """A bar over the edge between the two cells of a pair; a thick one with ends where it lies between rows."""
    for one, other in links.tolist():
        if not (page.holds(one) and page.holds(other)):
            continue
        between = one // page.lattice.columns != other // page.lattice.columns
        (x0, y0), (x1, y1) = page.centre(one), page.centre(other)
        ends = [(x0 + (x1 - x0) * at, y0 + (y1 - y0) * at) for at in (0.36, 0.64)]
        for fill, wider in ((PAPER, 3), (INK, 0)):
            draw.line(ends, fill=fill, width=(9 if between else 5) + 2 * wider)
            if between:
                for end in ends:
                    draw.ellipse(_round(end, 7 + wider), fill=fill)


def _route(draw: ImageDraw.ImageDraw, page: _Page, chart: Chart, look: Look) -> None:
    """The strings' way from middle to middle with the letters over it, ringed where a section begins."""
    radius, colours = 0.36 * min(CELL, page.down), chart.cells.ravel()
    for way in page.part.route:
        points = [page.centre(cell) if page.holds(cell) else None for cell in way.tolist()]
        for fill, width in ((PAPER, 12), (INK, 6)):
            for one, other in pairwise(points):
                if one and other:
                    draw.line([one, other], fill=fill, width=width)
        if points[0]:
            draw.ellipse(_round(points[0], radius + 8), fill=PAPER)
            draw.ellipse(_round(points[0], radius + 5), fill=INK)
        for cell, point in zip(way.tolist(), points, strict=True):
            if point:
                _letter(draw, point, look.rgb[colours[cell]], look.letters[colours[cell]], radius)


def _numbers(draw: ImageDraw.ImageDraw, page: _Page) -> None:
    font = _font(26, 500)
    for row in range(page.top, page.bottom):
        y = MARGIN + (row - page.top + 0.5) * page.down
        shift = page.shift if row % 2 else 0
        for x in (MARGIN - 24, page.width - MARGIN + 24 - page.shift + shift):
            draw.text(page.at(x, y), str(row + 1), font=font, fill=INK, anchor="mm")
    for row, y in ((page.top, MARGIN - 20), (page.bottom - 1, page.height - MARGIN + 20)):
        shift = page.shift if row % 2 else 0
        for column in range(page.left, page.right):
            x = MARGIN + (column - page.left + 0.5) * CELL + shift
            draw.text(page.at(x, y), str(column + 1), font=font, fill=INK, anchor="mm")


def _origin(draw: ImageDraw.ImageDraw, page: _Page) -> None:
    """The page's corner that is nearest to the origin corner of the sheets."""
    draw.polygon([page.at(2, 2), page.at(40, 2), page.at(2, 40)], fill=INK)


@cache
def _font(size: int, weight: int) -> ImageFont.FreeTypeFont:
    font = ImageFont.truetype(str(Path(settings.BASE_DIR) / "static/fonts/figtree-latin.woff2"), size)
    font.set_variation_by_axes([weight])
    return font
