"""A photograph of a sheet of chart paper: where its corner markers are, and what stands at a place of the page."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt

from decor.calc.picture.colour import srgb_to_linear
from decor.calc.picture.paper import BIT_MM, PaperLayout, code_read

Pixels = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float64]

_SEARCH_PX = 1500
"""Long side of the picture in which markers are looked for; a marker is then some 30 pixels wide."""
_DARK_SHARE = 0.72
"""Below this share of its surroundings a pixel counts as printed black."""
_CORE_AREAS = (1.3, 5.5)
"""Ring over core: 24 : 9 by the pattern; blur and tilt move it."""
_BEST_MARKERS = 9
_CLEAR_CODE = 0.25
"""Of the way from the middle to black or white that every square of the code must reach."""


class NoPaper(ValueError):
    """Why no sheet of chart paper is seen in a picture, in words for whoever took it."""


@dataclass(frozen=True)
class Seen:
    """A page in a photograph: `to_pixels` (3, 3) takes its millimetres to pixels (x, y) of the photograph."""

    paper: int
    page: int
    to_pixels: Floats

    def at(self, points_mm: Floats) -> Floats:
        """(…, 2) places on the page as (…, 2) pixels x, y."""
        return _projected(self.to_pixels, points_mm)


def find_page(photo_srgb: npt.ArrayLike, layout: PaperLayout) -> Seen:
    """The page that a photograph shows, by its four corner markers and the code between the upper two.

    Args:
        photo_srgb: (h, w, 3) uint8, in any turn, at a tilt of up to some 40°.
        layout: any page of the same paper; which one it is, is read off the code.

    Raises:
        NoPaper: fewer than four markers are seen, or no four with a code between them.
        ValueError: ``photo_srgb`` is not such an array.
    """
    photo = np.asarray(photo_srgb)
    if photo.dtype != np.uint8 or photo.ndim != 3 or photo.shape[2] != 3 or not photo.size:
        raise ValueError(f"photo_srgb: must be height × width × 3 bytes (uint8), not {photo.shape} of {photo.dtype}")
    found = _markers(photo)
    if len(found) < 4:
        raise NoPaper(
            f"{len(found)} of the four corner marks can be seen. Take the picture again with the whole page in it, "
            "without a finger or a shadow's edge over a corner."
        )
    best = max(_readings(photo, found, layout), key=lambda one: one[0], default=None)
    if best is not None:
        return best[1]
    raise NoPaper(
        "The corner marks can be seen, but not the row of black and white squares along the top. Take the picture "
        "again: sharp, and with the whole page in it."
    )


def light_at(photo_srgb: Pixels, places: Floats) -> Floats:
    """(…, 3) linear light at (…, 2) pixel places, the nearest pixel's; NaN outside the photograph."""
    height, width = photo_srgb.shape[:2]
    x, y = np.rint(places[..., 0]).astype(np.int64), np.rint(places[..., 1]).astype(np.int64)
    inside = (x >= 0) & (x < width) & (y >= 0) & (y < height)
    light = _LINEAR[photo_srgb[np.clip(y, 0, height - 1), np.clip(x, 0, width - 1)]]
    light[~inside] = np.nan
    return np.asarray(light)


_LINEAR = srgb_to_linear(np.arange(256) / 255.0)


def _markers(photo: Pixels) -> Floats:
    """(m, 2) centres in pixels of all that looks like a marker, the surest first, at most nine."""
    from scipy import ndimage  # loaded late: only a photographed page needs it

    shrink = max(1, -(-max(photo.shape[:2]) // _SEARCH_PX))
    grey = _shrunk_grey(photo, shrink)
    dark = grey < _DARK_SHARE * _surroundings(grey)
    labels, count = ndimage.label(dark)
    if count < 2:
        return np.empty((0, 2))
    areas = np.bincount(labels.ravel())[1:]
    boxes = ndimage.find_objects(labels)
    centres = np.array(ndimage.center_of_mass(dark, labels, np.arange(1, count + 1)))
    found = _rings_round_cores(areas, boxes, centres, max(grey.shape))
    best = sorted(found, key=lambda one: -one[0])[:_BEST_MARKERS]
    return np.array([[(x + 0.5) * shrink - 0.5, (y + 0.5) * shrink - 0.5] for _, y, x in best]).reshape(-1, 2)


def _shrunk_grey(photo: Pixels, shrink: int) -> npt.NDArray[np.float32]:
    height, width = (side - side % shrink for side in photo.shape[:2])
    green = photo[:height, :width].astype(np.float32) @ np.array([0.299, 0.587, 0.114], dtype=np.float32)
    return np.asarray(green.reshape(height // shrink, shrink, width // shrink, shrink).mean(axis=(1, 3)))


def _surroundings(grey: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """Mean over a window a tenth of the picture wide."""
    from scipy import ndimage

    return np.asarray(ndimage.uniform_filter(grey, size=max(15, max(grey.shape) // 10), mode="nearest"))


def _rings_round_cores(
    areas: npt.NDArray[np.int64], boxes: list[tuple[slice, slice]], centres: Floats, side: int
) -> list[tuple[float, float, float]]:
    """(area, y, x) of each dark ring with a dark core in its middle, in the marker's proportions."""
    tall = np.array([box[0].stop - box[0].start for box in boxes])
    wide = np.array([box[1].stop - box[1].start for box in boxes])
    likely = (tall >= 6) & (wide >= 6) & (tall < side / 5) & (wide < side / 5) & (areas > 0.25 * tall * wide)
    likely &= areas < 0.75 * tall * wide
    found = []
    for ring in np.flatnonzero(likely):
        size = max(tall[ring], wide[ring])
        near = np.flatnonzero(np.abs(centres - centres[ring]).max(axis=1) < 0.12 * size + 0.5)
        for core in near:
            share = areas[ring] / areas[core]
            if core != ring and _CORE_AREAS[0] < share < _CORE_AREAS[1] and tall[core] < 0.7 * tall[ring]:
                y, x = (centres[ring] + centres[core]) / 2
                found.append((float(areas[ring]), float(y), float(x)))
                break
    return found


def _round_the_middle(four: Floats) -> Floats:
    """Four corners in clockwise order as seen, y growing downwards."""
    off = four - four.mean(axis=0)
    return np.asarray(four[np.argsort(np.arctan2(off[:, 1], off[:, 0]))])


def _homography(source: Floats, target: Floats) -> Floats:
    """(3, 3) that takes four points to four others (direct linear transform)."""
    rows = []
    for (x, y), (u, v) in zip(source, target, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
    try:
        solved = np.linalg.solve(np.array(rows), target.ravel())
    except np.linalg.LinAlgError:
        return np.full((3, 3), np.nan)
    return np.append(solved, 1.0).reshape(3, 3)


def _projected(matrix: Floats, points: Floats) -> Floats:
    flat = np.concatenate([points, np.ones((*points.shape[:-1], 1))], axis=-1) @ matrix.T
    return np.asarray(flat[..., :2] / flat[..., 2:])


def _readings(photo: Pixels, found: Floats, layout: PaperLayout) -> Iterator[tuple[float, Seen]]:
    """How clearly each four of the marks, each way up, have a code between them."""
    for four in combinations(range(len(found)), 4):
        corners = _round_the_middle(found[list(four)])
        for turn in range(4):
            to_pixels = _homography(layout.markers, np.roll(corners, turn, axis=0))
            code, clear = _code_seen(photo, to_pixels, layout)
            if code is not None:
                yield clear, Seen(*code, to_pixels)


def _code_seen(photo: Pixels, to_pixels: Floats, layout: PaperLayout) -> tuple[tuple[int, int] | None, float]:
    """The paper's and the page's number, and how far every square lies from the middle of black and white."""
    step = np.linspace(-0.25, 0.25, 5) * BIT_MM
    looks = layout.bits[:, None, None, :] + np.stack(np.meshgrid(step, step), axis=-1)
    with np.errstate(all="ignore"):
        places = _projected(to_pixels, looks)
    if not (np.isfinite(places).all() and np.abs(places).max() < 1e6):
        return None, 0.0
    light = np.median(light_at(photo, places)[..., 1], axis=(1, 2))
    if np.isnan(light).any():
        return None, 0.0
    # Shade may lie over half of the row: each square is set against the lightest and the darkest next to it.
    around = np.lib.stride_tricks.sliding_window_view(np.pad(light, 5, mode="reflect"), 11)
    middle = (around.max(axis=1) + around.min(axis=1)) / 2
    clear = float((np.abs(light - middle) / middle).min())
    return (code_read(light < middle) if clear > _CLEAR_CODE else None), clear
