"""What is asked of a match, checked: each refusal names the argument and says what is wrong with it."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from decor.calc.picture.colour import checked_srgb

Floats = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.int64]


class NotEnoughStock(ValueError):
    """The cells outnumber the balloons; ``short_by`` tells by how many."""

    def __init__(self, short_by: int) -> None:
        self.short_by = short_by
        super().__init__(f"stock: {short_by:,} balloons short for the number of cells")


def checked_colours(name: str, srgb: npt.ArrayLike) -> Floats:
    colours = np.asarray(srgb, dtype=np.float64)
    if colours.size == 0:
        return np.empty((0, 3))
    if colours.ndim != 2:
        raise ValueError(f"{name}: must be a list of colours, its shape is {colours.shape}")
    return checked_srgb(name, colours)


def checked_weights(weights: npt.ArrayLike | None, cells: int) -> Floats | None:
    if weights is None:
        return None
    given = np.asarray(weights, dtype=np.float64)
    if given.shape != (cells,) or not bool(np.all(np.isfinite(given) & (given > 0.0))):
        raise ValueError(f"weights: needs a number above 0 for each of {cells} cells")
    return given


def checked_locked(locked: npt.ArrayLike | None, cells: int, colours: int) -> Numbers:
    if locked is None:
        return np.full(cells, -1, dtype=np.int64)
    given = np.asarray(locked)
    if given.shape != (cells,) or given.dtype.kind not in "iu" or bool(np.any((given < -1) | (given >= colours))):
        raise ValueError(f"locked: needs a palette number, or -1, for each of {cells} cells")
    return given.astype(np.int64)


def columns_left(colours: int, must_not: Sequence[int]) -> Numbers:
    return np.setdiff1d(np.arange(colours), checked_numbers("must_not", must_not, colours))


def checked_numbers(name: str, numbers: Sequence[int], colours: int) -> Numbers:
    given = np.asarray(list(numbers), dtype=np.int64)
    if bool(np.any((given < 0) | (given >= colours))):
        raise ValueError(f"{name}: palette numbers run from 0 to {colours - 1}")
    return given


def checked_must(
    must: Sequence[int], columns: Numbers, held: Numbers, cells: int, most_colours: int | None
) -> list[int]:
    """Places among the columns of the must colours that no locked cell has yet."""
    if most_colours is not None and (isinstance(most_colours, bool) or most_colours < 1):
        raise ValueError("most_colours: must be 1 or more")
    if most_colours is not None and len(set(must)) > most_colours:
        raise ValueError(f"most_colours: {most_colours} leaves no room for the {len(set(must))} that must be used")
    asked = sorted(set(must) - set(held.tolist()))
    places = {int(column): at for at, column in enumerate(columns)}
    missing = [number for number in asked if number not in places]
    if missing:
        raise ValueError(f"must: {missing[0]} is not among the colours that may be chosen")
    if len(asked) > cells:
        raise ValueError(f"must: {len(asked)} colours need as many cells, there are {cells}")
    return [places[number] for number in asked]


def checked_stock(stock: npt.ArrayLike, colours: int, locked: Numbers, columns: Numbers) -> Numbers:
    """What is left of each colour once the locked cells have theirs."""
    given = np.asarray(stock)
    if given.shape != (colours,):
        raise ValueError(f"stock: needs one number for each of {colours} colours, has {given.shape}")
    if given.dtype.kind not in "iuf" or bool(np.any(given != np.floor(given))) or bool(np.any(given < 0)):
        raise ValueError("stock: must be whole numbers of balloons from 0")
    # No colour can be used oftener than there are cells; so far larger numbers stay harmless.
    limits: Numbers = np.minimum(given, len(locked)).astype(np.int64)
    left = limits - np.bincount(locked[locked >= 0], minlength=colours)
    open_cells = int(np.count_nonzero(locked < 0))
    short_by = max(0, open_cells - int(np.maximum(left[columns], 0).sum())) - int(np.minimum(left, 0).sum())
    if short_by > 0:
        raise NotEnoughStock(short_by)
    return left
