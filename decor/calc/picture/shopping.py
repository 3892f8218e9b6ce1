"""What would have to be bought so that a picture suffers least, beside how it would look with everything at hand."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from decor.calc.picture.asked import checked_colours
from decor.calc.picture.colour import delta_e_2000_table, srgb_to_lab
from decor.calc.picture.flows import place
from decor.calc.picture.matching_groups import Numbers, distinct, handed_out

_LEAST_PRICE = 1e-3
"""With a price of 0 having a balloon and buying it would cost the same."""
_NEAR_ENOUGH, _SMALL_TABLE = 9e-5, 150_000
"""As for a match within stock."""


@dataclass(frozen=True)
class Shopping:
    """`numbers` (n,) are the cells with what is in stock and what is bought, `buy` (p,) how much that is;
    `free_numbers` (n,) the cells with everything at hand, `plain_shortfall` (p,) what the stock lacks for those.
    `mean_de` and `free_mean_de` are mean CIEDE2000 from the picture."""

    numbers: Numbers
    buy: Numbers
    mean_de: float
    free_numbers: Numbers
    free_mean_de: float
    plain_shortfall: Numbers


def buy_list(
    cells_srgb: npt.ArrayLike,
    palette_srgb: npt.ArrayLike,
    stock: npt.ArrayLike,
    *,
    price_de: float,
    weights: npt.ArrayLike | None = None,
) -> Shopping:
    """The shopping list of the least harm: a balloon is bought where it brings the picture nearer by more than its
    price, and where there are simply too few. One flow over stock and shop at once, exact to 0.0001 a cell.

    Args:
        cells_srgb: (n, 3) sRGB 0…1, n from 1.
        palette_srgb: (p, 3) sRGB 0…1, p from 1.
        stock: (p,) whole balloons there are of each colour, from 0.
        price_de: what a bought balloon must be worth, in CIEDE2000 of one cell, from 0.
        weights: (n,) above 0: how much each cell counts.

    Raises:
        ValueError: naming the argument that is wrong.

    >>> red, blue = [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]
    >>> buy_list([red, red, blue], [red, blue], [1, 5], price_de=8.0).buy.tolist()
    [1, 0]
    """
    cells, palette = checked_colours("cells_srgb", cells_srgb), checked_colours("palette_srgb", palette_srgb)
    if not len(cells) or not len(palette):
        raise ValueError("cells_srgb, palette_srgb: there must be at least one cell and one colour")
    have = np.asarray(stock)
    if have.shape != (len(palette),) or bool(np.any(have < 0)):
        raise ValueError(f"stock: needs a number from 0 for each of {len(palette)} colours")
    if not price_de >= 0.0:
        raise ValueError("price_de: must be 0 or more")
    counts = None if weights is None else np.asarray(weights, dtype=np.float64)
    firsts, group = distinct(cells, counts)
    table = delta_e_2000_table(srgb_to_lab(cells[firsts]), srgb_to_lab(palette))
    harm = table if counts is None else table * counts[firsts].astype(np.float32)[:, None]
    sizes = np.bincount(group, minlength=len(firsts))
    # What is bought is always the cell's nearest, so that one column stands for the whole shop.
    nearest = table.argmin(axis=1)
    shop = harm.min(axis=1, keepdims=True) + np.float32(max(price_de, _LEAST_PRICE))
    room = np.append(np.minimum(have, len(cells)).astype(np.int64), len(cells))
    both = np.concatenate([harm, shop], axis=1)
    placed = place(both, sizes, room, tolerance=_NEAR_ENOUGH if both.size > _SMALL_TABLE else 0.0, within=0.1)
    taken = handed_out(group, placed.groups, placed.colours, placed.amounts)
    bought = taken == len(palette)
    numbers = np.where(bought, nearest[group], taken)
    free = nearest[group]
    return Shopping(
        numbers=numbers,
        buy=np.bincount(numbers[bought], minlength=len(palette)),
        mean_de=_mean(table, group, numbers),
        free_numbers=free,
        free_mean_de=_mean(table, group, free),
        plain_shortfall=np.maximum(np.bincount(free, minlength=len(palette)) - have, 0).astype(np.int64),
    )


def _mean(table: npt.NDArray[np.float32], group: Numbers, numbers: Numbers) -> float:
    return float(table[group, numbers].mean(dtype=np.float64)) if len(numbers) else 0.0
