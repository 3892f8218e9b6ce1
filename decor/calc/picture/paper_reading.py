"""From the photograph of a hand-coloured page to cells: what each was coloured with, and which are not sure."""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from decor.calc.picture.chart import EMPTY
from decor.calc.picture.colour import delta_e_2000, linear_to_srgb, srgb_to_lab
from decor.calc.picture.paper import KEY_MM, PaperLayout
from decor.calc.picture.paper_photo import Pixels, Seen, light_at

Floats = npt.NDArray[np.float64]

# Found by trying: printed pages, coloured with streaks and gaps, photographed at up to 40° in shade and noise.
_BEGUN_SHARE, _FILLED_SHARE = 0.45, 0.68
"""Of a cell's looks: with less colour it is empty, from there on filled; in between it was begun."""
_STRAY_SHARE = 0.12
_STRENGTHS = (0.45, 0.6, 0.8, 1.0, 1.25)
"""How hard the same pen may be pressed, as a multiple of its density in the key box."""
_STRENGTH_COST = 2.0
"""Added CIEDE2000 for a strength other than the key's, so that a light blue pen wins over dark blue pressed lightly."""
_CLEAR_LEAD = 5.0
_FARTHEST = 16.0
_UNMARKED = 7.0
"""CIEDE2000 from bare paper below which nothing was drawn."""
_SOFT_PITCHES = 0.06
_LOOKS = 9
_SHIFTS, _MOST_SHIFT, _NEIGHBOURHOOD, _STAY = 9, 0.4, 7, 0.1
"""Tries across, pitches to each side, and cells that move together, where the page is not flat; and what a shift by
a pitch costs of the light, so that what tells nothing stays."""


@dataclass(frozen=True)
class Reading:
    """What a page says. `cells` (rows, columns) is the number of the colour, -1 for an empty cell; `unsure` marks those
    to be looked at; `second` is the next best answer of each; `blank_keys` are colours whose key box was left white."""

    cells: npt.NDArray[np.int32]
    unsure: npt.NDArray[np.bool_]
    second: npt.NDArray[np.int32]
    blank_keys: tuple[int, ...]


def read_page(photo_srgb: Pixels, seen: Seen, layout: PaperLayout) -> Reading:
    """The cells of a page in a photograph.

    Every place is set against the bare paper round it, so that shade and coloured light fall out; every cell is then
    compared with the key boxes, which were coloured with the same pens and photographed in the same light. A colour
    whose box was left blank is not looked for.

    Args:
        photo_srgb: (h, w, 3) uint8.
        seen: where `find_page` saw the page.
        layout: that page's own layout, as it was printed.

    Raises:
        ValueError: the page's cells reach out of the photograph.
    """
    shape = (layout.part.rows, layout.part.columns)
    photo_srgb = _softened(photo_srgb, seen, layout)
    layout = _as_it_lies(photo_srgb, seen, layout)
    white = _paper_white(photo_srgb, seen, layout)
    looks = _looked_at(photo_srgb, seen, layout.cells, 0.62 * layout.radius_mm)
    if np.isnan(looks).any():
        raise ValueError("layout: a part of the chart lies outside the photograph")
    keys = _keys(photo_srgb, seen, layout)
    cells, unsure, second = _judged(_relative(looks, white[:, None, :]), keys)
    return Reading(
        cells=cells.reshape(shape),
        unsure=unsure.reshape(shape),
        second=second.reshape(shape),
        blank_keys=tuple(at for at, key in enumerate(keys) if key is None),
    )


def _judged(
    shown: Floats, keys: list[Floats | None]
) -> tuple[npt.NDArray[np.int32], npt.NDArray[np.bool_], npt.NDArray[np.int32]]:
    """What each cell is, whether that is unsure, and the next best answer, from its looks (n, looks, 3)."""
    pens = np.array([at for at, key in enumerate(keys) if key is not None] or [EMPTY], dtype=np.int32)
    ink = np.array([key for key in keys if key is not None]).reshape(-1, 3)
    marked = _from_paper(shown) > _UNMARKED
    filled = marked.mean(axis=1)
    best, second, unsure = _classified(_body(shown, marked), ink)
    empty = filled < _BEGUN_SHARE
    # What is hardly there may be a faint pen, or ink that shines through from the back.
    faint = empty & (filled > _STRAY_SHARE)
    begun = ~empty & (filled < _FILLED_SHARE)
    near_bare = ~empty & (filled < 0.9) & (_from_paper(np.median(shown, axis=1)) < _FARTHEST)
    other = np.where(empty, pens[best], np.where(near_bare, EMPTY, pens[second]))
    flags = faint | begun | near_bare | (~empty & unsure)
    return np.where(empty, EMPTY, pens[best]).astype(np.int32), flags, other.astype(np.int32)


def _softened(photo: Pixels, seen: Seen, layout: PaperLayout) -> Pixels:
    """The photograph without its noise and the streaks of the pens, both finer than a cell by far."""
    from scipy import ndimage  # loaded late: only a photographed page needs it

    across = seen.at(layout.cells[0] + np.array([[0.0, 0.0], [layout.pitch_mm, 0.0]]))
    side = round(_SOFT_PITCHES * float(np.hypot(*(across[1] - across[0]))))
    return photo if side < 2 else np.asarray(ndimage.uniform_filter(photo, size=(side, side, 1)))


def _as_it_lies(photo: Pixels, seen: Seen, layout: PaperLayout) -> PaperLayout:
    """The layout moved to where its cells are seen, as paper is not quite flat and lenses bend straight lines.

    Cells are dark to their edge and the gaps between them light; where both are so at their most over a
    neighbourhood, there it lies. A part of the chart without colour tells nothing and stays.
    """
    from scipy import ndimage  # loaded late: only a photographed page needs it

    step = np.linspace(-1.0, 1.0, _SHIFTS) * _MOST_SHIFT * layout.pitch_mm
    shifts = np.stack(np.meshgrid(step, step), axis=-1).reshape(-1, 2)
    bright = _brightness(photo, seen, layout.gaps, shifts, 0.12 * layout.pitch_mm)
    grid = layout.cells.reshape(layout.part.rows, layout.part.columns, 2)
    dark = _brightness(photo, seen, grid, shifts, 0.85 * layout.radius_mm)
    score = _round_each_cell(bright) - dark
    score = ndimage.uniform_filter(score, size=(1, _NEIGHBOURHOOD, _NEIGHBOURHOOD), mode="nearest")
    score -= _STAY * ((shifts / layout.pitch_mm) ** 2).sum(axis=1)[:, None, None]
    moved = shifts[score.argmax(axis=0)]
    moved = ndimage.uniform_filter(moved, size=(_NEIGHBOURHOOD, _NEIGHBOURHOOD, 1), mode="nearest")
    of_gaps = _round_each_cell(np.pad(moved.transpose(2, 0, 1), ((0, 0), (1, 1), (1, 1)), mode="edge")).transpose(
        1, 2, 0
    )
    return replace(layout, gaps=layout.gaps + of_gaps, cells=layout.cells + moved.reshape(-1, 2))


def _brightness(photo: Pixels, seen: Seen, places: Floats, shifts: Floats, reach_mm: float) -> Floats:
    """(shifts, rows, columns) mean light on a small circle round each place, moved by each shift."""
    angle = np.arange(8) * np.pi / 4
    circle = reach_mm * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    found = np.empty((len(shifts), *places.shape[:2]))
    for at, shift in enumerate(shifts):
        light = light_at(photo, seen.at(places[:, :, None, :] + circle + shift))[..., 1]
        found[at] = np.nan_to_num(light).mean(axis=2)
    return found / max(float(np.percentile(found, 95)), 1e-4)


def _round_each_cell(field: Floats) -> Floats:
    """(k, rows + 1, columns + 1) brought to (k, rows, columns): the mean of the four round each cell."""
    return np.asarray((field[:, :-1, :-1] + field[:, 1:, :-1] + field[:, :-1, 1:] + field[:, 1:, 1:]) / 4)


def _looked_at(photo: Pixels, seen: Seen, centres: Floats, reach_mm: float) -> Floats:
    """(n, looks, 3) linear light at places spread over a disc round each centre."""
    step = np.linspace(-1.0, 1.0, _LOOKS)
    spread = np.stack(np.meshgrid(step, step), axis=-1).reshape(-1, 2)
    spread = spread[(spread**2).sum(axis=1) <= 1.0] * reach_mm
    return light_at(photo, seen.at(centres[:, None, :] + spread))


def _paper_white(photo: Pixels, seen: Seen, layout: PaperLayout) -> Floats:
    """(n, 3) light of bare paper at each cell: the upper quarter of the gaps round it, as pens stray into some."""
    gaps = _looked_at(photo, seen, layout.gaps.reshape(-1, 2), 0.05 * layout.pitch_mm)
    light = np.nanmedian(gaps, axis=1).reshape(*layout.gaps.shape[:2], 3)
    around = np.lib.stride_tricks.sliding_window_view(
        np.pad(light, ((2, 2), (2, 2), (0, 0)), mode="edge"), (6, 6), (0, 1)
    )
    white = np.nanpercentile(around.reshape(*around.shape[:3], -1), 80, axis=-1)
    return np.maximum(white.reshape(-1, 3), 1e-4)


def _relative(light: Floats, white: Floats) -> Floats:
    """Reflectance against bare paper, 0…1."""
    return np.asarray(np.clip(light / white, 0.0, 1.0))


def _lab(reflectance: Floats) -> Floats:
    return np.asarray(srgb_to_lab(linear_to_srgb(reflectance)))


_PAPER = srgb_to_lab(np.ones(3))


def _from_paper(reflectance: Floats) -> Floats:
    return np.asarray(delta_e_2000(_lab(reflectance), _PAPER))


def _body(shown: Floats, marked: npt.NDArray[np.bool_]) -> Floats:
    """(n, 3) middle colour of each cell's marked looks, of all where none is."""
    chosen = np.where((marked | ~marked.any(axis=1, keepdims=True))[..., None], shown, np.nan)
    return np.asarray(np.nanmedian(chosen, axis=1))


def _keys(photo: Pixels, seen: Seen, layout: PaperLayout) -> list[Floats | None]:
    """Reflectance of each key box, None for one that was left white. The paper beside the box is its white."""
    looks = _looked_at(photo, seen, layout.keys, 0.33 * KEY_MM)
    beside = layout.keys[:, None, :] + np.array([[-0.72 * KEY_MM, 0.0], [0.72 * KEY_MM, 0.0]])
    white = np.nanmax(light_at(photo, seen.at(beside)), axis=1)
    shown = _relative(looks, np.maximum(white, 1e-4)[:, None, :])
    marked = _from_paper(shown) > _UNMARKED
    body = _body(shown, marked)
    return [body[at] if marked[at].mean() > _BEGUN_SHARE else None for at in range(len(body))]


def _classified(
    body: Floats, ink: Floats
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64], npt.NDArray[np.bool_]]:
    """The best and second best pen of each cell, and whether that is unsure."""
    if not len(ink):
        nothing = np.zeros(len(body), dtype=np.int64)
        return nothing, nothing, np.ones(len(body), dtype=np.bool_)
    far = np.stack([_from_pen(body, one) for one in ink], axis=1)
    order = np.argsort(far, axis=1)
    rows = np.arange(len(body))
    best = far[rows, order[:, 0]]
    lead = far[rows, order[:, 1]] - best if len(ink) > 1 else np.full(len(body), np.inf)
    unsure = (best > _FARTHEST) | (lead < np.maximum(_CLEAR_LEAD, 0.5 * best))
    return order[:, 0], order[:, min(1, len(ink) - 1)], np.asarray(unsure)


def _from_pen(body: Floats, ink: Floats) -> Floats:
    """CIEDE2000 from the nearest strength of a pen. Ink lies over ink as densities add (Beer and Lambert)."""
    density = -np.log(np.maximum(ink, 1e-3))
    lab = _lab(body)
    tries = [delta_e_2000(lab, _lab(np.exp(-density * by))) + _STRENGTH_COST * (by != 1.0) for by in _STRENGTHS]
    return np.asarray(np.min(tries, axis=0))
