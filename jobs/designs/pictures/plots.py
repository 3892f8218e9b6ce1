"""A panel's cells and the balloons that fit them."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from decor.calc.picture.lattice import MOST_CELLS, Lattice
from decor.calc.pieces.panel import LOADINGS
from jobs.designs.catalogue import Catalogue, LatexItem, SheetType
from jobs.designs.models import Piece
from jobs.designs.pictures.aiming import MakingRefused, Plot
from jobs.designs.pictures.recipe import Recipe

Marks = npt.NDArray[np.bool_]
Numbers = npt.NDArray[np.int64]


def plot_of(recipe: Recipe, catalogue: Catalogue) -> tuple[Plot, tuple[str, ...]]:
    """The cells and the balloons that fit them, in the recipe's order; raises MakingRefused."""
    sheet = catalogue.sheet(recipe.sheet)
    if sheet is None:
        raise MakingRefused("sheet", "This sheet type is no longer in stock. Choose another.")
    lattice = _lattice(recipe, sheet)
    fitting = catalogue.fitting(sheet.sized_diameter_m, LOADINGS[recipe.loading].shape)
    wanted = (*recipe.palette, *recipe.must, *_named_in(recipe))
    found = {number: fitted(catalogue.balloon(number), fitting) for number in dict.fromkeys(wanted)}
    items = tuple(dict.fromkeys(item for item in found.values() if item))
    if not items:
        raise MakingRefused("palette", "Choose at least one colour that has balloons for this sheet.")
    same = {number: item.id for number, item in found.items() if item}
    return Plot(_in_ids(recipe, same), sheet, lattice, items), _lost(found, catalogue)


def _lattice(recipe: Recipe, sheet: SheetType) -> Lattice:
    if not recipe.cells:
        raise MakingRefused("rows", "The panel has no size yet. Say how wide and how high it is.")
    if recipe.cells > MOST_CELLS:
        raise MakingRefused("rows", f"This makes {recipe.cells:,} cells; the most is {MOST_CELLS:,}.")
    return sheet.lattice_of(recipe.rows, recipe.columns)


def fitted(item: LatexItem | None, fitting: Sequence[LatexItem]) -> LatexItem | None:
    """The same colour in the size and shape that the sheet and the way of loading need."""
    if item is None or item in fitting:
        return item
    return next((other for other in fitting if other.words == item.words), None)


def _named_in(recipe: Recipe) -> tuple[int, ...]:
    """The balloons that the recipe gives a place of their own."""
    named: list[int | None] = []
    if recipe.frame.ground.act == "colour":
        named.append(recipe.frame.ground.latex)
    if recipe.source == "words":
        colours = recipe.words.colours
        named += [colours.letter, colours.outline, colours.shadow, colours.ground]
    if recipe.source == "pattern":
        named += recipe.pattern.colours
    return tuple(number for number in named if number is not None)


def _in_ids(recipe: Recipe, same: Mapping[int, int]) -> Recipe:
    """The recipe with every balloon as the one that fits."""

    def of(number: int | None) -> int | None:
        return same.get(number, number) if number is not None else None

    def all_of(numbers: tuple[int, ...]) -> tuple[int, ...]:
        return tuple(dict.fromkeys(same.get(number, number) for number in numbers))

    words, frame = recipe.words, recipe.frame
    colours = replace(
        words.colours,
        letter=of(words.colours.letter),
        outline=of(words.colours.outline),
        shadow=of(words.colours.shadow),
        ground=of(words.colours.ground),
    )
    return replace(
        recipe,
        palette=all_of(recipe.palette),
        must=all_of(recipe.must),
        must_not=all_of(recipe.must_not),
        words=replace(words, colours=colours),
        pattern=replace(recipe.pattern, colours=tuple(same.get(n, n) for n in recipe.pattern.colours)),
        frame=replace(frame, ground=replace(frame.ground, latex=of(frame.ground.latex))),
    )


def _lost(found: Mapping[int, LatexItem | None], catalogue: Catalogue) -> tuple[str, ...]:
    named = [item.words for number, fit in found.items() if fit is None and (item := catalogue.balloon(number))]
    if not named:
        return ()
    return (f"No balloons of the size and shape that this sheet needs: {', '.join(sorted(set(named)))}.",)


def allowed_of(plot: Plot) -> Marks:
    """(p,) the colours that the program may choose for a cell; must and must-not are held against each other."""
    recipe = plot.recipe
    both = [item.words for item in plot.items if item.id in recipe.must and item.id in recipe.must_not]
    if both:
        raise MakingRefused("must", f"{both[0].capitalize()} is asked for and ruled out. Choose one of the two.")
    choice = {*recipe.palette, *recipe.must} or {item.id for item in plot.items}
    allowed = np.array([item.id in choice and item.id not in recipe.must_not for item in plot.items])
    if not allowed.any():
        raise MakingRefused("must_not", "Every colour is ruled out. Allow at least one.")
    if recipe.most_colours is not None and len(recipe.must) > recipe.most_colours:
        raise MakingRefused(
            "most_colours",
            f"{len(recipe.must)} colours must be used, but at most {recipe.most_colours} may be. Raise the one or "
            "free the other.",
        )
    return allowed


def stock_of(plot: Plot, piece: Piece, free: Mapping[int, int]) -> Numbers:
    """(p,) cells that each colour can fill in one piece, where alike pieces share what is free."""
    ids = [item.id for item in plot.items]
    each = LOADINGS[plot.recipe.loading].balloons * piece.count
    return np.array([max(0, free.get(number, 0)) // each for number in ids], dtype=np.int64)
