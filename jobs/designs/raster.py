"""A chart as a picture file of shaded balloons, for proofs and PDFs; the same chart gives the same bytes."""

import io
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw

from decor.calc.picture.chart import Chart
from decor.calc.picture.colour import linear_to_srgb, srgb_to_linear
from decor.calc.picture.sheets import Join
from jobs.designs.drawing import INK, NET_GROUND, NET_STRAP, balloon_radius_pitches

MOST_PIXELS = 40_000_000
_FINER = 4
"""Small sprites are drawn this much larger and averaged down, so that rims come out smooth."""
_LARGE_SPRITE = 400
_MOST_PITCH = 2_000.0
_SIZES = (0.985, 1.0, 1.01, 0.995)
"""Balloons are never quite alike; a panel drawn with one size looks printed."""

Rgb = tuple[int, int, int]


@dataclass(frozen=True)
class _Scale:
    pitch: float
    row_pitch: float
    width: int
    height: int


def balloons_png(chart: Chart, palette_rgb: Sequence[Rgb], width_px: int, *, joins: Iterable[Join] = ()) -> bytes:
    """PNG of the panel.

    Args:
        palette_rgb: red, green, blue 0…255 of each palette number that the chart uses.
        width_px: from 1; the height follows from the lattice. At most 40 megapixels in all.

    Raises:
        ValueError: naming the argument that is wrong.
    """
    return _encoded(balloons_image(chart, palette_rgb, width_px, joins=joins), "PNG", compress_level=6)


def balloons_jpeg(chart: Chart, palette_rgb: Sequence[Rgb], width_px: int, *, joins: Iterable[Join] = ()) -> bytes:
    """JPEG of the panel, at full colour resolution; otherwise as `balloons_png`."""
    return _encoded(balloons_image(chart, palette_rgb, width_px, joins=joins), "JPEG", quality=87, subsampling=0)


def _encoded(image: Image.Image, kind: str, **options: int) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **options)
    return out.getvalue()


def balloons_image(
    chart: Chart, palette_rgb: Sequence[Rgb], width_px: int, *, joins: Iterable[Join] = ()
) -> Image.Image:
    """The picture itself; as `balloons_png`."""
    scale = _scale(chart, width_px)
    _check_palette(chart, palette_rgb)
    image = Image.new("RGB", (scale.width, scale.height), NET_GROUND)
    draw = ImageDraw.Draw(image)
    _draw_straps(draw, chart, scale)
    _paste_balloons(image, chart, palette_rgb, scale)
    for join in joins:
        _draw_join(draw, chart, join, scale)
    return image


def _scale(chart: Chart, width_px: int) -> _Scale:
    lattice = chart.lattice
    height = width_px * lattice.height_m / lattice.width_m if width_px > 0 else 0.0
    if height < 1.0 or width_px * height > MOST_PIXELS:
        raise ValueError(f"width_px: {width_px} makes a picture that is empty or above 40 megapixels")
    pitch = width_px / lattice.width_pitches
    if pitch > _MOST_PITCH:
        raise ValueError(f"width_px: {width_px} is too wide for so few cells")
    return _Scale(pitch, pitch * lattice.row_pitch_m / lattice.pitch_m, width_px, round(height))


def _check_palette(chart: Chart, palette_rgb: Sequence[Rgb]) -> None:
    if chart.cells.max() >= len(palette_rgb):
        raise ValueError(f"palette_rgb: has {len(palette_rgb)} colours, the chart uses {chart.cells.max()}")
    if any(len(colour) != 3 or not all(0 <= part <= 255 for part in colour) for colour in palette_rgb):
        raise ValueError("palette_rgb: red, green and blue must be between 0 and 255")


def _draw_straps(draw: ImageDraw.ImageDraw, chart: Chart, scale: _Scale) -> None:
    """The straps round each opening: boxes on square, six-sided on the others."""
    lattice = chart.lattice
    lean = scale.row_pitch / 6.0 if lattice.staggered else 0.0
    line = max(1, round(scale.pitch * 0.075))
    for row in range(lattice.rows):
        left = lattice.row_shift_pitches(row) * scale.pitch
        top, bottom = row * scale.row_pitch, (row + 1) * scale.row_pitch
        halves = range(2 * lattice.columns + 1)
        upper = [(left + half * scale.pitch / 2, top + (-lean if half % 2 else lean)) for half in halves]
        lower = [(left + half * scale.pitch / 2, bottom + (lean if half % 2 else -lean)) for half in halves]
        draw.line(upper, NET_STRAP, line)
        draw.line(lower, NET_STRAP, line)
        if lattice.staggered:
            for above, below in zip(upper[::2], lower[::2], strict=True):
                draw.line([above, below], NET_STRAP, line)
    if not lattice.staggered:
        for column in range(lattice.columns + 1):
            across = column * scale.pitch
            draw.line([(across, 0.0), (across, lattice.rows * scale.row_pitch)], NET_STRAP, line)


def _paste_balloons(image: Image.Image, chart: Chart, palette_rgb: Sequence[Rgb], scale: _Scale) -> None:
    lattice = chart.lattice
    radius = balloon_radius_pitches(lattice) * scale.pitch
    masks = [_mask(radius * size) for size in _SIZES]
    light = [_lighting(radius * size) for size in _SIZES]
    used = sorted(chart.counts())
    sprites = {colour: [_sprite(palette_rgb[colour], *shape) for shape in light] for colour in used}
    centres = lattice.centres_m() / lattice.pitch_m * scale.pitch
    # A fixed scatter of the four sizes: neighbours differ, and the same chart stays the same picture.
    variant = (np.arange(lattice.cells) * 2_654_435_761 >> 7) % len(_SIZES)
    corner = np.array([scale.pitch / 2, scale.row_pitch / 2])
    halves = np.array([mask.width / 2 for mask in masks])
    places = np.rint(centres + corner - halves[variant][:, None]).astype(int).tolist()
    cells = chart.cells.ravel().tolist()
    # What `Image.paste` comes to in the end; its checks of each call take three times as long as the pasting.
    paste, covers = image.im.paste, [mask.im for mask in masks]
    shades = {colour: [sprite.im for sprite in kinds] for colour, kinds in sprites.items()}
    sides = [mask.width for mask in masks]
    for colour, (left, top), size in zip(cells, places, variant.tolist(), strict=True):
        if colour >= 0:
            paste(shades[colour][size], (left, top, left + sides[size], top + sides[size]), covers[size])


def _disc(radius: float) -> tuple[int, npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """The sprite's side in pixels and, at the finer grid, x and y in radii from its centre."""
    side = max(1, math.ceil(2 * radius))
    finer = _FINER if side <= _LARGE_SPRITE else 1
    at = ((np.arange(side * finer) + 0.5) / finer - side / 2) / radius
    return side, *np.meshgrid(at, at)


def _averaged(fine: npt.NDArray[np.float64], side: int) -> npt.NDArray[np.float64]:
    finer = len(fine) // side
    averaged: npt.NDArray[np.float64] = fine.reshape(side, finer, side, finer).mean(axis=(1, 3))
    return averaged


def _mask(radius: float) -> Image.Image:
    side, x, y = _disc(radius)
    cover = _averaged((x * x + y * y <= 1.0).astype(float), side)
    return Image.fromarray(np.rint(cover * 255.0).astype(np.uint8))


def _lighting(radius: float) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """How much of its own colour each pixel shows, and how much white is laid over it."""
    side, x, y = _disc(radius)
    shade = 1.0 - 0.62 * np.clip((np.hypot(x + 0.16, y + 0.18) - 0.45) / 0.78, 0.0, 1.0) ** 1.8
    lit = 0.22 * np.exp(-(((x + 0.32) ** 2 + (y + 0.38) ** 2) / 0.13))
    across, along = (x + 0.36 + y + 0.42) / 2**0.5, (x + 0.36 - y - 0.42) / 2**0.5
    gloss = 0.6 * np.clip(1.6 - ((across / 0.13) ** 2 + (along / 0.22) ** 2), 0.0, 1.0)
    return _averaged(shade, side), _averaged(np.maximum(lit, gloss), side)


def _sprite(colour: Rgb, shade: npt.NDArray[np.float64], white: npt.NDArray[np.float64]) -> Image.Image:
    """Mixed in linear light, as real light adds."""
    base = srgb_to_linear(np.array(colour) / 255.0) * shade[:, :, None]
    mixed = base + (1.0 - base) * white[:, :, None]
    return Image.fromarray(np.rint(linear_to_srgb(mixed) * 255.0).astype(np.uint8))


def _draw_join(draw: ImageDraw.ImageDraw, chart: Chart, join: Join, scale: _Scale) -> None:
    """A dark dash on a light line, seen on any colour."""
    line = max(2, round(scale.width / 700))
    middle = scale.pitch / 4 if chart.lattice.staggered and chart.lattice.rows > 1 else 0.0
    if join.orientation == "level":
        y = join.at * scale.row_pitch
        start, stop = join.start * scale.pitch, join.stop * scale.pitch + 2 * middle
    else:
        y = join.at * scale.pitch + middle
        start, stop = join.start * scale.row_pitch, join.stop * scale.row_pitch

    def stroke(first: float, last: float, colour: str, width: int) -> None:
        ends = [(first, y), (last, y)] if join.orientation == "level" else [(y, first), (y, last)]
        draw.line(ends, colour, width)

    stroke(start, stop, "#ffffff", 2 * line)
    dash = 4 * line
    for step in range(math.ceil((stop - start) / (dash * 1.6))):
        first = start + step * dash * 1.6
        stroke(first, min(first + dash, stop), INK, line)
