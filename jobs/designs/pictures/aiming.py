"""What each cell of a panel ought to show: from a picture, from words, from a pattern, or from the chart itself."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from decor.calc.picture import focus, framing, ground, lettering, outlines, patterns, sampling
from decor.calc.picture.lattice import Lattice
from decor.studio.pictures import PictureRefused, picture_array
from jobs.designs.catalogue import LatexItem, SheetType
from jobs.designs.charting import cells_array
from jobs.designs.models import Panel
from jobs.designs.pictures.recipe import FramePart, Recipe, text_bits

Floats = npt.NDArray[np.float64]
Marks = npt.NDArray[np.bool_]
Numbers = npt.NDArray[np.int64]

HALF = 0.5
"""A cell is used, or belongs to the background, where at least half of it does."""
THIN_SHARE = 0.0025
"""Less of a drawing than this in lines too thin for their cells is not worth a warning: corners of thick shapes come to
0.0017, a thin line under a logo to 0.0028 (tried out, no source)."""
THIN_WORDS = {
    0.5: "half a cell",
    0.75: "three quarters of a cell",
    1.0: "one cell",
    1.25: "one and a quarter cells",
    1.5: "one and a half cells",
}
CALM_BELOW = 0.35
"""Cells that a found focus covers less than this are its background."""
PLAIN_FRAME = FramePart()


class MakingRefused(ValueError):
    """Why no chart comes of a recipe, in words; `about` is the part of the recipe that is to be changed."""

    def __init__(self, about: str, message: str, *, short_by: int = 0) -> None:
        self.about, self.message, self.short_by = about, message, short_by
        super().__init__(message)


@dataclass(frozen=True)
class Plot:
    """The panel's cells and the balloons that they may take."""

    recipe: Recipe
    sheet: SheetType
    lattice: Lattice
    items: tuple[LatexItem, ...]

    @property
    def srgb(self) -> Floats:
        return np.array([item.srgb for item in self.items], dtype=np.float64).reshape(-1, 3)

    def number_of(self, latex: int | None) -> int:
        """The item's number in the palette, -1 where it has none."""
        return next((at for at, item in enumerate(self.items) if item.id == latex), -1)


@dataclass(frozen=True)
class Aim:
    """For each cell its colour, (n, 3) sRGB 0…1, and whether it is used. `numbers` are palette numbers where the
    recipe itself names the colours, -1 elsewhere; `weights` say how much a cell counts; where `busy` is given, only
    those cells are diffused."""

    cells_srgb: Floats
    used: Marks
    kind: str
    numbers: Numbers | None = None
    weights: Floats | None = None
    busy: Marks | None = None
    warnings: tuple[str, ...] = ()
    focus_seen: bool = field(default=False)


def aim_of(plot: Plot, picture: bytes | None, panel: Panel | None, hexes: Mapping[int, str]) -> Aim:
    """Raises MakingRefused, PictureRefused. `hexes` are the on-screen colours of the studio's balloons by id."""
    source = plot.recipe.source
    if source == "picture" and picture is not None:
        aim = _from_picture(plot, picture)
    elif source == "words":
        aim = _from_words(plot)
    elif source == "pattern":
        aim = _from_pattern(plot)
    elif panel is not None:
        aim = _from_chart(plot, panel, hexes)
    else:
        raise MakingRefused("picture", "There is no picture yet. Choose one.")
    return _painted_focus(plot, _outlined(plot, aim))


# --- a picture


def _from_picture(plot: Plot, data: bytes) -> Aim:
    recipe, lattice = plot.recipe, plot.lattice
    pixels = _framed(data, recipe.frame, lattice.cells)
    backdrop = _backdrop(pixels, recipe)
    alpha = np.ascontiguousarray(pixels[..., 3]) if pixels.shape[2] == 4 else None
    colours = np.ascontiguousarray(pixels[..., :3])
    kind = recipe.kind if recipe.kind != "auto" else sampling.kind_of(colours)
    if kind == "flat":
        cells = sampling.sample_flat(colours, lattice, plot.srgb, cover=alpha)
        warnings = _thin_words(sampling.thin_strokes(colours, lattice, of_cells=recipe.of_cells))
    else:
        cells, warnings = sampling.sample(colours, lattice, cover=alpha), ()
    aim = Aim(cells, np.ones(lattice.cells, dtype=bool), kind, warnings=warnings)
    aim = _seen_through(plot, aim, alpha)
    aim = _on_backdrop(plot, aim, backdrop)
    return _found_focus(plot, aim, colours, backdrop)


def _framed(data: bytes, frame: FramePart, cells: int) -> npt.NDArray[np.uint8]:
    share = max((frame.right - frame.left) * (frame.bottom - frame.top), 1e-3)
    pixels = picture_array(data, round(cells / share))
    if replace(frame, ground=PLAIN_FRAME.ground) == PLAIN_FRAME:
        return pixels
    try:
        return framing.framed(pixels, framing_of(frame))
    except ValueError as wrong:
        raise MakingRefused("frame", f"This part of the picture is too small: {wrong}.") from wrong


def framing_of(frame: FramePart) -> framing.Frame:
    return framing.Frame(
        left=frame.left,
        top=frame.top,
        right=frame.right,
        bottom=frame.bottom,
        turn=frame.turn,
        level_deg=frame.level_deg,
        brightness=frame.brightness,
        contrast=frame.contrast,
        mirror=frame.mirror,
    )


def _backdrop(pixels: npt.NDArray[np.uint8], recipe: Recipe) -> Marks | None:
    """(h, w) of the picture's plain background, where it has one and somebody wants to know."""
    if recipe.frame.ground.act == "keep" and recipe.diffusion == "none":
        return None
    if recipe.frame.ground.act == "keep" and recipe.kind == "flat":
        return None
    return ground.plain_ground(pixels)


def _seen_through(plot: Plot, aim: Aim, alpha: npt.NDArray[np.uint8] | None) -> Aim:
    """Where nothing of the picture is, there is no balloon, whatever the outline."""
    if alpha is None:
        if plot.recipe.outline.kind != "see-through":
            return aim
        return _warned(aim, "Nothing of this picture is see-through, so its outline is the whole rectangle.")
    used = sampling.sample_cover(alpha, plot.lattice) >= HALF
    if not used.any():
        raise MakingRefused("outline", "This picture is see-through all over; nothing would be left of it.")
    return replace(aim, used=used)


def _on_backdrop(plot: Plot, aim: Aim, backdrop: Marks | None) -> Aim:
    wanted = plot.recipe.frame.ground
    if wanted.act == "keep":
        return aim
    if backdrop is None:
        return _warned(aim, "No plain background was found in this picture; it is kept as it is.")
    behind = sampling.sample_cover((backdrop * 255).astype(np.uint8), plot.lattice) >= HALF
    if wanted.act == "empty":
        if behind.all():
            raise MakingRefused("frame", "The whole picture is one plain background; nothing would be left of it.")
        return replace(aim, used=aim.used & ~behind)
    number = plot.number_of(wanted.latex)
    if number < 0:
        return _warned(aim, "The colour for the background is not among the chosen ones; the background is kept.")
    cells, numbers = aim.cells_srgb.copy(), np.full(plot.lattice.cells, -1)
    cells[behind], numbers[behind] = plot.srgb[number], number
    used = aim.used if plot.recipe.outline.kind == "see-through" else aim.used | behind
    return replace(aim, cells_srgb=cells, numbers=numbers, used=used)


def _found_focus(plot: Plot, aim: Aim, colours: npt.NDArray[np.uint8], backdrop: Marks | None) -> Aim:
    """The weights of a focus that is found, and the cells worth diffusing: all but a calm background."""
    recipe = plot.recipe
    seen = None
    if recipe.focus.act == "found":
        found = focus.found(colours)
        if found is None:
            aim = _warned(aim, "No face and no clear subject was found. Paint the part that counts instead.")
        else:
            seen = sampling.sample_cover((np.clip(found, 0, 1) * 255).astype(np.uint8), plot.lattice)
            aim = replace(aim, weights=1 + (recipe.focus.strength - 1) * seen, focus_seen=True)
    if recipe.calm_ground and aim.kind == "photograph" and recipe.diffusion != "none":
        if backdrop is not None:
            behind = sampling.sample_cover((backdrop * 255).astype(np.uint8), plot.lattice) >= HALF
            return replace(aim, busy=~behind)
        if seen is not None:
            return replace(aim, busy=seen >= CALM_BELOW)
    return aim


def _thin_words(strokes: "sampling.ThinStrokes") -> tuple[str, ...]:
    if strokes.share < THIN_SHARE:
        return ()
    return (
        f"Some lines are under {THIN_WORDS[strokes.narrowest_cells]} thick and may break up. Make the panel larger, or "
        "the lines thicker.",
    )


# --- words, patterns, the chart itself


def _from_words(plot: Plot) -> Aim:
    words, lattice = plot.recipe.words, plot.lattice
    if not words.text.strip():
        raise MakingRefused("words", "There are no words yet. Write some.")
    try:
        parts = lettering.laid(
            words.text,
            lattice,
            height=words.height,
            align=words.align,
            outline=words.outline,
            shadow=words.shadow,
            slanted=words.slanted and lattice.staggered,
        ).astype(np.int64)
    except ValueError as refusal:
        raise MakingRefused("words", str(refusal)) from refusal
    named = words.colours
    by_part = [named.ground, named.letter, named.outline, named.shadow]
    return _named(plot, parts.ravel(), by_part, "words")


def _from_pattern(plot: Plot) -> Aim:
    pattern = plot.recipe.pattern
    if pattern.kind not in PATTERNS or not pattern.colours:
        raise MakingRefused("pattern", "Choose a pattern and its colours.")
    try:
        # Every pattern counts its own colours.
        parts = getattr(patterns, pattern.kind)(plot.lattice, colours=len(pattern.colours), **pattern.options)
    except (ValueError, TypeError) as refusal:
        raise MakingRefused("pattern", str(refusal)) from refusal
    return _named(plot, np.asarray(parts, dtype=np.int64).ravel(), pattern.colours, "pattern")


PATTERNS = ("stripes", "checks", "gradient", "rings")


def _named(plot: Plot, parts: Numbers, latex: Sequence[int | None], about: str) -> Aim:
    """Cells whose colours the recipe names: `parts` are numbers into `latex`, None is no balloon."""
    numbers = np.array([plot.number_of(one) for one in latex])
    lost = [at for at, one in enumerate(latex) if one is not None and numbers[at] < 0 and (parts == at).any()]
    if lost:
        raise MakingRefused(about, "One of the colours has no balloons that fit this sheet. Choose another.")
    chosen = numbers[parts]
    used = chosen >= 0
    if not used.any():
        raise MakingRefused(about, "No cell would have a balloon. Choose a colour.")
    cells = np.zeros((len(parts), 3))
    cells[used] = plot.srgb[chosen[used]]
    return Aim(cells, used, about, numbers=chosen)


def _from_chart(plot: Plot, panel: Panel, hexes: Mapping[int, str]) -> Aim:
    """The chart that stands, where there is no picture to look at again; in another size its nearest cells."""
    rows = (np.arange(plot.lattice.rows) * panel.rows) // plot.lattice.rows
    columns = (np.arange(plot.lattice.columns) * panel.columns) // plot.lattice.columns
    stands = cells_array(panel)[np.ix_(rows, columns)].astype(np.int64).ravel()
    rgb = np.array([_srgb(hexes.get(number, "#808080")) for number in panel.palette])
    used = stands >= 0
    cells = np.zeros((len(stands), 3))
    cells[used] = rgb[stands[used]]
    return Aim(cells, used, "flat")


def _srgb(hexed: str) -> tuple[float, float, float]:
    return tuple(int(hexed[at : at + 2], 16) / 255.0 for at in (1, 3, 5))  # type: ignore[return-value]


# --- all of them


def _outlined(plot: Plot, aim: Aim) -> Aim:
    outline = plot.recipe.outline
    if outline.kind in ("whole", "see-through"):
        return aim
    if outline.kind == "painted":
        shape = text_bits(outline.cells, plot.lattice.cells)
        if not shape.any():
            return _warned(aim, "The outline was painted for another size; the whole rectangle is used.")
    else:
        shape = _shape(plot)
    used = aim.used & shape
    if not used.any():
        raise MakingRefused("outline", "Nothing of the picture lies inside this outline.")
    return replace(aim, used=used)


def _shape(plot: Plot) -> Marks:
    outline = plot.recipe.outline
    try:
        if outline.kind == "letters":
            return np.asarray(lettering.letter_mask(outline.text, plot.lattice)).ravel()
        return np.asarray(outlines.outline(outline.kind, plot.lattice)).ravel()
    except ValueError as refusal:
        raise MakingRefused("outline", str(refusal)) from refusal


def _painted_focus(plot: Plot, aim: Aim) -> Aim:
    wanted = plot.recipe.focus
    if wanted.act != "painted":
        return aim
    marked = text_bits(wanted.cells, plot.lattice.cells)
    if not marked.any():
        return _warned(aim, "Nothing is painted yet that should keep its colours.")
    return replace(aim, weights=np.where(marked, wanted.strength, 1.0), focus_seen=True)


def _warned(aim: Aim, words: str) -> Aim:
    return replace(aim, warnings=(*aim.warnings, words))


__all__ = ["Aim", "MakingRefused", "PictureRefused", "Plot", "aim_of", "framing_of"]
