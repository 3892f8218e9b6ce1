"""A lettered chart with what is tied drawn over it: pairs as bars, a string's way as a line."""

from collections.abc import Iterable, Sequence

import numpy as np

from decor.calc.picture.chart import Chart
from decor.calc.picture.lattice import Lattice
from decor.calc.picture.loading import Pairs, Strings
from decor.calc.picture.sheets import Join
from jobs.designs.drawing import INK, PITCH, plain_svg

Span = tuple[int, int]
RING = 0.44 * PITCH
_BAR = 0.3
"""Half a bar's length, as a share of the way from cell to cell."""


def pairs_svg(
    chart: Chart,
    hexes: Sequence[str],
    letters: Sequence[str],
    pairs: Pairs,
    *,
    title: str,
    joins: Iterable[Join] = (),
    rows: Span,
    columns: Span,
) -> str:
    svg = plain_svg(chart, hexes, letters=letters, title=title, joins=joins, rows=rows, columns=columns, prefix="pairs")
    inside = _inside(pairs.pairs, chart.lattice, rows, columns).all(axis=1)
    bars = _bars(pairs.pairs[inside], chart.lattice)
    between = pairs.is_between_rows[inside]
    along = "".join(bar for bar, is_between in zip(bars, between, strict=True) if not is_between)
    across = "".join(bar for bar, is_between in zip(bars, between, strict=True) if is_between)
    return _over(svg, _line(along, 2.2, "along") + _line(across, 4.4, "between"))


def route_svg(
    chart: Chart,
    hexes: Sequence[str],
    letters: Sequence[str],
    strings: Strings,
    *,
    title: str,
    joins: Iterable[Join] = (),
    rows: Span,
    columns: Span,
) -> str:
    """The string's way from letter to letter, where the next cell touches; a ring where a section begins."""
    svg = plain_svg(chart, hexes, letters=letters, title=title, joins=joins, rows=rows, columns=columns, prefix="way")
    order = strings.order
    if not len(order):
        return svg
    inside = _inside(order, chart.lattice, rows, columns)
    steps = np.stack([order[:-1], order[1:]], axis=1)[inside[:-1] & inside[1:] & ~strings.long_steps]
    begins = order[inside & (np.diff(strings.blocks, prepend=-1) != 0)]
    rings = "".join(
        f'<circle cx="{x:g}" cy="{y:g}" r="{RING:g}" fill="none" stroke="{colour}" stroke-width="{width}"/>'
        for x, y in _centres(begins, chart.lattice).tolist()
        for colour, width in (("#fff", 4), (INK, 2))
    )
    return _over(svg, _line("".join(_bars(steps, chart.lattice)), 2.2, "route") + rings)


def _inside(cells: np.ndarray, lattice: Lattice, rows: Span, columns: Span) -> np.ndarray:
    row, column = np.divmod(cells, lattice.columns)
    return (row >= rows[0]) & (row < rows[1]) & (column >= columns[0]) & (column < columns[1])


def _centres(cells: np.ndarray, lattice: Lattice) -> np.ndarray:
    """(…, 2) in the drawing's own unit."""
    row, column = np.divmod(cells, lattice.columns)
    shift = 0.5 * (row % 2) if lattice.staggered else 0.0
    row_pitch = PITCH * lattice.row_pitch_m / lattice.pitch_m
    return np.round(np.stack([(column + 0.5 + shift) * PITCH, (row + 0.5) * row_pitch], axis=-1), 1)


def _bars(pairs: np.ndarray, lattice: Lattice) -> list[str]:
    one, other = (_centres(pairs[:, at], lattice) for at in (0, 1))
    middle, half = (one + other) / 2, (other - one) * _BAR / 2
    ends = np.concatenate([middle - half, middle + half], axis=1)
    return [f"M{x0:.1f} {y0:.1f}L{x1:.1f} {y1:.1f}" for x0, y0, x1, y1 in ends.tolist()]


def _line(path: str, width: float, name: str) -> str:
    """Dark on light, so that it is seen on any colour."""
    if not path:
        return ""
    return (
        f'<g class="{name}" fill="none" stroke-linecap="round" stroke-linejoin="round">'
        f'<path d="{path}" stroke="#fff" stroke-width="{width + 2.4:g}"/>'
        f'<path d="{path}" stroke="{INK}" stroke-width="{width:g}"/></g>'
    )


def _over(svg: str, drawn: str) -> str:
    return svg.removesuffix("</svg>") + drawn + "</svg>"
