"""Pictures of a panel to hand out: as balloons by day or in the evening, as a flat chart, from a distance, from behind,
and on a photograph of the venue."""

import io
import math
import re
from collections.abc import Iterable, Sequence

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageOps

from decor.calc.picture.chart import Chart
from decor.calc.picture.colour import linear_to_srgb, srgb_to_linear
from decor.calc.picture.reading_distance import ACUITY_ARCMIN
from decor.calc.picture.sheets import Join
from jobs.designs.drawing import NET_GROUND, rgb_of_hex
from jobs.designs.raster import Rgb, balloons_image

Floats = npt.NDArray[np.float64]

LOOKS = {"balloons": "Balloons", "chart": "Flat chart", "distance": "From a distance", "back": "From behind"}
LIGHTS = {"day": "By day", "evening": "In the evening"}
_LINEAR = srgb_to_linear(np.arange(256) / 255.0).astype(np.float32)
_CODES = 4096
_CODE_OF_LINEAR = np.rint(linear_to_srgb(np.linspace(0.0, 1.0, _CODES)) * 255.0).astype(np.uint8)
_EVENING_TINT = np.array([1.0, 0.74, 0.46], dtype=np.float32)
"""Warm white lamps of about 2,700 K beside daylight (from memory, no source)."""
_EVENING_LEVEL = 0.62
_LEAST_SPAN_PX = 8
_SPREAD_OF_SIGHT = 0.5
"""The eye's blur as a share of what it can just tell apart (standard deviation; studio default, no source)."""


def panel_image(
    chart: Chart,
    palette_rgb: Sequence[Rgb],
    width_px: int,
    *,
    look: str = "balloons",
    light: str = "day",
    distance_m: float | None = None,
    joins: Iterable[Join] = (),
) -> Image.Image:
    """RGB.

    Args:
        look: a key of `LOOKS`; `distance` needs ``distance_m``, above 0.
        light: a key of `LIGHTS`.
        width_px: as for `raster.balloons_png`.

    Raises:
        ValueError: naming the argument that is wrong.
    """
    if look not in LOOKS or light not in LIGHTS:
        raise ValueError(f"look, light: are {', '.join(LOOKS)} and {', '.join(LIGHTS)}")
    if look == "chart":
        return flat_image(chart, palette_rgb, width_px)
    image = balloons_image(chart, palette_rgb, width_px, joins=joins if look == "balloons" else ())
    if look == "back":
        image = ImageOps.mirror(image)
    if light == "evening":
        image = _in_the_evening(image)
    if look == "distance":
        image = _from_afar(image, chart.lattice.width_m, distance_m)
    return image


def encoded(image: Image.Image, kind: str) -> bytes:
    """`png` or `jpeg`."""
    out = io.BytesIO()
    if kind == "png":
        image.save(out, "PNG", compress_level=6)
    else:
        image.convert("RGB").save(out, "JPEG", quality=88, subsampling=0)
    return out.getvalue()


def mirrored_svg(svg: str) -> str:
    """A drawing as seen from behind, its title kept."""
    left, _, width, _ = map(float, re.search(r'viewBox="([^"]+)"', svg)[1].split())  # type: ignore[index]
    head, inner = svg.split("</title>", 1)
    turned = f'<g transform="matrix(-1 0 0 1 {2 * left + width:g} 0)">{inner.removesuffix("</svg>")}</g>'
    return f"{head}</title>{turned}</svg>"


def flat_image(chart: Chart, palette_rgb: Sequence[Rgb], width_px: int) -> Image.Image:
    """Cells as plain boxes, empty ones in the colour of the net's ground."""
    lattice = chart.lattice
    cell = max(1, round(width_px / lattice.width_pitches))
    high = max(1, round(cell * lattice.row_pitch_m / lattice.pitch_m))
    width = round(lattice.width_pitches * cell)
    colours = np.array([*palette_rgb, rgb_of_hex(NET_GROUND)], dtype=np.uint8)
    pixels = np.full((lattice.rows, width, 3), rgb_of_hex(NET_GROUND), dtype=np.uint8)
    for row in range(lattice.rows):
        left = round(lattice.row_shift_pitches(row) * cell)
        line = colours[chart.cells[row]].repeat(cell, axis=0)
        pixels[row, left : left + len(line)] = line[: width - left]
    return Image.fromarray(pixels.repeat(high, axis=0))


def _light_of(image: Image.Image) -> npt.NDArray[np.float32]:
    return np.asarray(_LINEAR[np.asarray(image)])


def _image_of(light: npt.NDArray[np.float32]) -> Image.Image:
    return Image.fromarray(_CODE_OF_LINEAR[np.rint(np.clip(light, 0.0, 1.0) * (_CODES - 1)).astype(np.int32)])


def _in_the_evening(image: Image.Image) -> Image.Image:
    """Lit by lamps from above its middle, darker towards the edges, warmer all over."""
    light = _light_of(image)
    height, width = light.shape[:2]
    x = np.linspace(-1.0, 1.0, width, dtype=np.float32)[None, :]
    y = np.linspace(0.0, 1.0, height, dtype=np.float32)[:, None]
    falls = _EVENING_LEVEL * (0.30 + 0.70 * np.exp(-(x * x) / 0.9 - (y - 0.25) ** 2 / 0.55))
    return _image_of(light * falls[..., None] * _EVENING_TINT)


def _from_afar(image: Image.Image, width_m: float, distance_m: float | None) -> Image.Image:
    """What normal sight keeps apart from there: the rest runs together, in linear light as in the eye."""
    if distance_m is None or not distance_m > 0.0:
        raise ValueError("distance_m: must be above 0")
    from scipy import ndimage  # loaded late: only this picture needs it

    blur_m = _SPREAD_OF_SIGHT * distance_m * math.tan(math.radians(ACUITY_ARCMIN / 60.0))
    sigma = blur_m / width_m * image.width
    return _image_of(ndimage.gaussian_filter(_light_of(image), sigma=(sigma, sigma, 0), mode="nearest", truncate=3.0))


def on_venue(
    venue: Image.Image, chart: Chart, palette_rgb: Sequence[Rgb], corners: Sequence[tuple[float, float]]
) -> Image.Image:
    """The panel on a photograph: its top left, top right, bottom right and bottom left corner at these places,
    as fractions of the photograph's width and height. Empty cells let the wall through.

    Raises:
        ValueError: the corners do not stand round in this order, or are too near each other.
    """
    places = places_on(venue.size, corners)
    span = max(x for x, _ in places) - min(x for x, _ in places)
    # Twice as fine as it is shown, that the perspective does not tear balloons.
    most = int(60 * chart.lattice.width_pitches)
    panel = balloons_image(chart, palette_rgb, max(64, min(2 * round(span), most, 3000)))
    seen = _filled_mask(chart, panel.size)
    table = _back_to_panel(places, panel.size)
    laid = panel.transform(venue.size, Image.Transform.PERSPECTIVE, table, Image.Resampling.BICUBIC)
    mask = seen.transform(venue.size, Image.Transform.PERSPECTIVE, table, Image.Resampling.BILINEAR)
    return Image.composite(laid, venue.convert("RGB"), mask)


def places_on(size: tuple[int, int], corners: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """In pixels. Raises ValueError as `on_venue`."""
    places = [(x * size[0], y * size[1]) for x, y in corners]
    if not _convex(places):
        raise ValueError("corners: must stand clockwise round the panel, from its top left")
    if max(x for x, _ in places) - min(x for x, _ in places) < _LEAST_SPAN_PX:
        raise ValueError("corners: are too near each other")
    return places


def _filled_mask(chart: Chart, size: tuple[int, int]) -> Image.Image:
    full, none = (255, 255, 255), (0, 0, 0)
    filled = Chart(np.where(chart.cells >= 0, 0, 1), chart.lattice)
    return flat_image(filled, [full, none], size[0]).convert("L").point(lambda v: 255 if v > 250 else 0).resize(size)


def _convex(places: Sequence[tuple[float, float]]) -> bool:
    """Clockwise as seen, y growing downwards, and bent the same way at every corner."""
    turns = []
    for at in range(4):
        (ax, ay), (bx, by), (cx, cy) = (places[(at + step) % 4] for step in range(3))
        turns.append((bx - ax) * (cy - by) - (by - ay) * (cx - bx))
    return len(places) == 4 and all(turn > 1.0 for turn in turns)


def _back_to_panel(places: Sequence[tuple[float, float]], size: tuple[int, int]) -> list[float]:
    """Pillow's eight numbers: from a place in the photograph to one on the panel."""
    width, height = size
    panel = [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]
    rows, ends = [], []
    for (x, y), (u, v) in zip(places, panel, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        ends += [u, v]
    return [float(number) for number in np.linalg.solve(np.array(rows), np.array(ends))]
