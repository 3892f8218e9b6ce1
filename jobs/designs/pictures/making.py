"""From a recipe to a chart: what each cell ought to show, then the balloons that come nearest to it."""

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from decor.calc.picture import dithering, gathering
from decor.calc.picture.chart import EMPTY, Chart
from decor.calc.picture.colour import delta_e_2000, srgb_to_lab
from decor.calc.picture.matching import Matched, NotEnoughStock, match
from decor.calc.pieces.panel import LOADINGS
from decor.studio.templatetags.desk import day_words
from jobs.designs.catalogue import Catalogue, LatexItem
from jobs.designs.measured import Charted
from jobs.designs.models import Panel, Piece
from jobs.designs.pictures.aiming import Aim, MakingRefused, Plot, aim_of
from jobs.designs.pictures.keeping import FREE, STAYS_EMPTY, Kept, by_hand, kept_of
from jobs.designs.pictures.mixing import Mix, mixed
from jobs.designs.pictures.musts import musts_of, with_musts
from jobs.designs.pictures.plots import allowed_of, plot_of, stock_of
from jobs.designs.pictures.recipe import Recipe
from jobs.designs.pictures.spares import Spares
from jobs.designs.taken import free_beside

Floats = npt.NDArray[np.float64]
Marks = npt.NDArray[np.bool_]
Numbers = npt.NDArray[np.int64]

COUNTS_MOST = 1.5
"""A cell that counts this many times as much as others is left alone when stray balloons are gathered."""
STRENGTHS = {"none": 0.0, "some": 0.5, "full": 1.0}


@dataclass(frozen=True)
class Made:
    """A chart and how near it comes. `palette` are the balloons that its numbers stand for; `cells_srgb` what the
    cells ought to be, (n, 3) sRGB 0…1; `mean_de` the mean CIEDE2000 of the filled cells from that, `focus_de` the
    same of the focus; `gap` how far above the best possible choice of colours it is at most, as a share (0.003);
    `changes` counts the colour changes along the rows, `plain_changes` those that there were without diffusion; `kept`
    the cells painted by hand or locked that stay as they stood, `gone` those that do not."""

    recipe: Recipe
    chart: Chart
    palette: tuple[int, ...]
    cells_srgb: Floats
    kind: str
    strength: float
    mean_de: float
    focus_de: float | None
    gap: float | None
    changes: int
    plain_changes: int
    painted: bytes
    locked: bytes
    kept: int
    gone: int
    warnings: tuple[str, ...]

    def charted(self, **picture: Any) -> Charted:
        """What is kept of it; `picture` are Charted's words for where the picture comes from."""
        return Charted(
            sheet_id=self.recipe.sheet,
            loading=self.recipe.loading,
            palette=self.palette,
            chart=self.chart,
            within_stock=self.recipe.within_stock,
            recipe=self.recipe.to_plain(),
            painted=self.painted,
            locked=self.locked,
            **picture,
        )


@dataclass(frozen=True)
class Task:
    """A recipe brought down to arrays: `used` are the cells with a balloon; `fixed` (n,) is the palette number of a
    cell that is settled, -1 elsewhere; `allowed` (p,) may be chosen for the others; `stock` (p,) is how many cells
    each colour can fill, None without a limit; `must` are palette numbers; `gone` cells painted by hand or locked that
    do not stay."""

    plot: Plot
    aim: Aim
    kept: Kept
    allowed: Marks
    used: Marks
    fixed: Numbers
    stock: Numbers | None
    must: list[int]
    gone: int
    warnings: tuple[str, ...]

    @property
    def open(self) -> Marks:
        """Cells that are still to be chosen."""
        return self.used & (self.fixed < 0)

    @property
    def left(self) -> Numbers | None:
        """The stock that the settled cells leave."""
        if self.stock is None:
            return None
        settled = np.bincount(self.fixed[self.fixed >= 0], minlength=len(self.stock))
        return np.maximum(self.stock - settled, 0)


def made(
    recipe: Recipe,
    picture: bytes | None,
    *,
    catalogue: Catalogue,
    piece: Piece,
    free: Mapping[int, int] | None = None,
    anew: bool = False,
) -> Made:
    """The chart of a recipe for this piece: its event's stock is the limit where the recipe says so, its panel's
    cells that were painted by hand or locked stay, unless it is made `anew`, of another picture. `free` is what the
    event could have of each balloon, asked for where it is not given. A photograph leaves room for spares within it
    where it can; drawings do not, as a logo's red must not change for them. What then is wanting is said.

    Raises:
        MakingRefused: no chart comes of it; says why, and which part of the recipe is to be changed.
        PictureRefused: the picture does not open.
    """
    task = task_of(recipe, picture, catalogue=catalogue, piece=piece, free=free, anew=anew)
    if not recipe.within_stock:
        return chosen(task, piece)
    known = free if free is not None else free_left(task.plot, piece, catalogue)
    spares = Spares.now(catalogue.making.spares_share)
    done = None
    if task.aim.kind == "photograph":
        with suppress(MakingRefused):  # too little is free for spares: the chart goes before them
            done = chosen(_leaving_spares(task, piece, spares.left(known)), piece)
    done = done or chosen(task, piece)
    return replace(done, warnings=(*done.warnings, *_wanting_spares(done, spares, known, piece)))


def _leaving_spares(task: Task, piece: Piece, left: Mapping[int, int]) -> Task:
    """Settled cells take what they take."""
    assert task.stock is not None
    settled = np.bincount(task.fixed[task.fixed >= 0], minlength=len(task.stock))
    return replace(task, stock=np.maximum(np.minimum(task.stock, stock_of(task.plot, piece, left)), settled))


def _wanting_spares(done: Made, spares: Spares, free: Mapping[int, int], piece: Piece) -> tuple[str, ...]:
    each = LOADINGS[done.recipe.loading].balloons * piece.count
    taken = {done.palette[number]: n * each for number, n in done.chart.counts().items()}
    if not (short := sum(spares.wanting(taken, free).values())):
        return ()
    return (f"What is free leaves too few spares: {short:,} to buy.",)


def task_of(
    recipe: Recipe,
    picture: bytes | None,
    *,
    catalogue: Catalogue,
    piece: Piece,
    free: Mapping[int, int] | None = None,
    anew: bool = False,
) -> Task:
    """As for `made`."""
    panel: Panel | None = getattr(piece, "panel", None)
    plot, lost = plot_of(recipe, catalogue)
    plot, kept, changed = kept_of(plot, None if anew else panel, catalogue)
    allowed = allowed_of(plot)
    aim = aim_of(plot, picture, panel, {item.id: item.rgb for item in catalogue.latex})
    stock, over = (None, ())
    if recipe.within_stock:
        known = free if free is not None else free_left(plot, piece, catalogue)
        stock, over = _with_kept(stock_of(plot, piece, known), plot, kept)
    used = (aim.used | (kept.numbers >= 0)) & (kept.numbers != STAYS_EMPTY)
    if not used.any():
        raise MakingRefused("outline", "At least one cell must have a balloon.")
    fixed = np.where(used, np.maximum(kept.numbers, FREE), FREE)
    if aim.numbers is not None:
        fixed = np.where(used, _with_named(fixed, aim.numbers, stock), FREE)
    must = musts_of(plot, fixed, used, stock, _day(piece)) if plot.recipe.must else []
    gone = by_hand(panel) - kept.count
    return Task(plot, aim, kept, allowed, used, fixed, stock, must, gone, (*lost, *changed, *over, *aim.warnings))


def free_left(plot: Plot, piece: Piece, catalogue: Catalogue) -> dict[int, int]:
    return free_beside(piece, [item.id for item in plot.items], catalogue)


def _day(piece: Piece) -> str:
    return day_words(piece.event.doors.astimezone(piece.event.zone))


def _with_kept(stock: Numbers, plot: Plot, kept: Kept) -> tuple[Numbers, tuple[str, ...]]:
    """What was painted by hand or locked stays even where stock is short of it, and it is said."""
    held = np.bincount(kept.numbers[kept.numbers >= 0], minlength=len(stock))
    over = [f"{item.words} by {n:,}" for item, n in zip(plot.items, (held - stock).tolist(), strict=True) if n > 0]
    if not over:
        return stock, ()
    words = f"Cells painted by hand or locked take more than is free: {', '.join(over)}."
    return np.maximum(stock, held), (words,)


def _with_named(fixed: Numbers, named: Numbers, stock: Numbers | None) -> Numbers:
    """Cells whose colour the recipe names are settled, but those of a colour that is short: its balloons go where
    they are missed most."""
    both = np.where(fixed >= 0, fixed, named)
    if stock is None:
        return both
    short = np.bincount(both[both >= 0], minlength=len(stock)) > stock
    return np.where((fixed < 0) & (both >= 0) & short[np.maximum(both, 0)], FREE, both)


# --- choosing


def chosen(task: Task, piece: Piece) -> Made:
    numbers, gap = _nearest(task, piece)
    plain = numbers
    strength = _strength(task)
    if strength:
        numbers = _mixed(task, numbers, strength)
    elif task.plot.recipe.gather:
        numbers = _gathered(task, numbers)
    if task.must:
        numbers = with_musts(
            numbers,
            task.must,
            cells_srgb=task.aim.cells_srgb,
            palette_srgb=task.plot.srgb,
            may=task.open,
            weights=task.aim.weights,
        )
    return _told(task, numbers, plain, gap, strength)


def _nearest(task: Task, piece: Piece) -> tuple[Numbers, float | None]:
    """(n,) palette numbers, -1 without a balloon, at the least loss over the whole picture; and the gap."""
    recipe, plot = task.plot.recipe, task.plot
    at = np.flatnonzero(task.used)
    try:
        matched = match(
            task.aim.cells_srgb[at],
            plot.srgb,
            stock=task.stock,
            most_colours=recipe.most_colours,
            must=task.must,
            must_not=np.flatnonzero(~task.allowed).tolist(),
            weights=None if task.aim.weights is None else task.aim.weights[at],
            locked=task.fixed[at],
        )
    except NotEnoughStock as short:
        raise _too_few(short.short_by, len(at), piece) from short
    numbers = np.full(plot.lattice.cells, EMPTY)
    numbers[at] = matched
    return numbers, _gap(matched) if recipe.most_colours is not None else None


def _gap(matched: Matched) -> float | None:
    if matched.bound > 0:
        return max(0.0, float(matched.total / matched.bound) - 1.0)
    return 0.0 if matched.total == 0 else None


def _too_few(short_by: int, cells: int, piece: Piece) -> MakingRefused:
    words = (
        f"The free balloons of these colours fill {cells - short_by:,} of {cells:,} cells on {_day(piece)}: "
        f"{short_by:,} short. Choose more colours, a smaller size, or untick this."
    )
    return MakingRefused("within_stock", words, short_by=short_by)


def _strength(task: Task) -> float:
    recipe = task.plot.recipe
    if recipe.diffusion in STRENGTHS:
        return STRENGTHS[recipe.diffusion] if recipe.source == "picture" else 0.0
    if task.aim.kind not in ("flat", "photograph"):
        return 0.0
    return dithering.strength_for(task.aim.kind, recipe.cells)


def _mixed(task: Task, numbers: Numbers, strength: float) -> Numbers:
    """The chosen colours laid so that neighbours make up for each other; settled cells and a calm background keep what
    they have."""
    calm = np.zeros(len(numbers), dtype=np.bool_) if task.aim.busy is None else task.used & ~task.aim.busy
    return mixed(
        Mix(
            lattice=task.plot.lattice,
            cells_srgb=task.aim.cells_srgb,
            palette_srgb=task.plot.srgb,
            used=task.used,
            settled=np.where(calm, numbers, task.fixed),
            busy=~calm | (task.fixed >= 0),
            may=_may_be_mixed(task, numbers),
            stock=task.stock,
            weights=task.aim.weights,
            strength=strength,
        )
    )


def _may_be_mixed(task: Task, numbers: Numbers) -> Marks:
    """(p,) all allowed colours, or those that were chosen where only so many may be."""
    if task.plot.recipe.most_colours is None:
        return task.allowed
    taken = np.bincount(numbers[numbers >= 0], minlength=len(task.allowed)) > 0
    return task.allowed & taken


def _gathered(task: Task, numbers: Numbers) -> Numbers:
    plot = task.plot
    stays = task.fixed
    if task.aim.weights is not None:  # what counts most keeps its balloons
        stays = np.where(task.aim.weights >= COUNTS_MOST, np.maximum(numbers, 0), stays)
    return np.asarray(gathering.gather(numbers, task.aim.cells_srgb, plot.srgb, plot.lattice, locked=stays))


# --- what came of it


def _told(task: Task, numbers: Numbers, plain: Numbers, gap: float | None, strength: float) -> Made:
    plot, aim, kept = task.plot, task.aim, task.kept
    filled = numbers >= 0
    de = delta_e_2000(srgb_to_lab(aim.cells_srgb[filled]), srgb_to_lab(plot.srgb[numbers[filled]]))
    items, anew = _palette(plot, numbers)
    return Made(
        recipe=plot.recipe,
        chart=Chart(anew.reshape(plot.lattice.rows, plot.lattice.columns), plot.lattice),
        palette=tuple(item.id for item in items),
        cells_srgb=aim.cells_srgb,
        kind=aim.kind,
        strength=strength,
        mean_de=float(de.mean()),
        focus_de=_focus_de(aim, de, filled),
        gap=gap,
        changes=_changes(numbers, plot),
        plain_changes=_changes(plain, plot),
        painted=np.packbits(kept.painted).tobytes() if kept.painted.any() else b"",
        locked=np.packbits(kept.locked).tobytes() if kept.locked.any() else b"",
        kept=kept.count,
        gone=task.gone,
        warnings=task.warnings,
    )


def _focus_de(aim: Aim, de: Floats, filled: Marks) -> float | None:
    if aim.weights is None:
        return None
    extra = aim.weights[filled] - 1.0
    return float(de @ extra / extra.sum()) if extra.sum() > 0 else None


def _changes(numbers: Numbers, plot: Plot) -> int:
    """How often the colour changes along the rows."""
    cells = numbers.reshape(plot.lattice.rows, plot.lattice.columns)
    return int(np.count_nonzero(cells[:, 1:] != cells[:, :-1]))


def _palette(plot: Plot, numbers: Numbers) -> tuple[tuple[LatexItem, ...], Numbers]:
    """The colours that were offered, or, where they were chosen out of many, the ones that were taken."""
    counts = np.bincount(numbers[numbers >= 0], minlength=len(plot.items))
    recipe = plot.recipe
    offered = np.array([item.id in recipe.palette and item.id not in recipe.must_not for item in plot.items])
    stays = (counts > 0) | (offered & (recipe.most_colours is None) & (recipe.source not in ("words", "pattern")))
    anew = np.cumsum(stays) - 1
    items = tuple(item for item, stay in zip(plot.items, stays, strict=True) if stay)
    return items, np.where(numbers >= 0, anew[np.maximum(numbers, 0)], EMPTY)
