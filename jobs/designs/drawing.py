"""A chart as SVG text: shaded balloons on their net for the screen, flat cells with letters for print.

Colours stand in presentation attributes, as the pages allow no inline style. Every length is in
twentieths of a pitch, so that nearly all numbers are short whole ones.
"""

import re
from collections.abc import Iterable, Sequence
from html import escape

import numpy as np

from decor.calc.picture.chart import Chart
from decor.calc.picture.colour import linear_to_srgb, srgb_to_linear
from decor.calc.picture.lattice import Lattice
from decor.calc.picture.sheets import Join

PITCH = 20
NET_GROUND = "#EFEBE3"
NET_STRAP = "#BFB6A3"
INK = "#1E2421"

_MARGIN = 26.0
_LETTER = 11.0
_DARK_LIGHT = 0.18
"""Linear light at which black and white letters read equally well (contrast by WCAG 2)."""
# Widths in em of the letters that differ most from the middle one: only there to centre them.
_WIDTHS = {"J": 0.52, "L": 0.55, "F": 0.57, "E": 0.59, "M": 0.86, "W": 0.97, "Q": 0.76, "G": 0.74}

_HEX = re.compile(r"#[0-9A-Fa-f]{6}")
_NAME = re.compile(r"[A-Za-z][A-Za-z0-9_-]*")


def balloons_svg(
    chart: Chart,
    palette_hex: Sequence[str],
    *,
    title: str,
    joins: Iterable[Join] = (),
    prefix: str = "b",
) -> str:
    """Shaded balloons on the open net, joins as a dark dash on a light line.

    The group with class ``cells`` holds a group a row and in it a ``use`` a cell, empty ones too,
    so that a script can change cell (row, column) by pointing its ``href`` at
    ``#{prefix}{colour}``, or ``#{prefix}e`` for empty.

    Args:
        palette_hex: ``#rrggbb`` of each palette number that the chart uses.
        title: what a screen reader says.
        prefix: starts every id; must differ between drawings on one page.

    Raises:
        ValueError: naming the argument that is wrong.
    """
    colours = _checked_palette(chart, palette_hex)
    _check_prefix(prefix)
    lattice = chart.lattice
    width, height, row_pitch = _box(lattice)
    radius = balloon_radius_pitches(lattice) * PITCH
    return "".join(
        (
            _opening(lattice, (-1, -1, width + 2, height + 2), title, prefix, "balloons"),
            "<defs>",
            *(_balloon(f"{prefix}{number}", colour, radius) for number, colour in enumerate(colours)),
            f'<g id="{prefix}e"/>',
            f'<path id="{prefix}n" d="{_row_straps(lattice, row_pitch)}"/></defs>',
            f'<rect class="net-ground" x="-1" y="-1" width="{_n(width + 2)}" height="{_n(height + 2)}" rx="5" '
            f'fill="{NET_GROUND}"/>',
            f'<g class="net-straps" fill="none" stroke="{NET_STRAP}" stroke-width="1.5">',
            *(
                f'<use href="#{prefix}n" x="{_n(_shift(lattice, row))}" y="{_n(row * row_pitch)}"/>'
                for row in range(lattice.rows)
            ),
            '</g><g class="cells">',
            *_balloon_rows(chart, row_pitch, prefix),
            "</g>",
            _join_lines(lattice, joins, row_pitch),
            "</svg>",
        )
    )


def plain_svg(
    chart: Chart,
    palette_hex: Sequence[str],
    *,
    letters: Sequence[str],
    title: str,
    joins: Iterable[Join] = (),
    prefix: str = "c",
    rows: tuple[int, int] | None = None,
    columns: tuple[int, int] | None = None,
) -> str:
    """Flat cells with a letter each; rows and columns numbered from the origin corner, which is marked.

    Args:
        letters: one or two characters for each palette number that the chart uses.
        rows, columns: (start, stop) of the part to draw, as for one sheet; all by default. The
            numbers stay those of the whole panel.
        Otherwise as for `balloons_svg`.

    Raises:
        ValueError: naming the argument that is wrong.
    """
    colours = _checked_palette(chart, palette_hex)
    if chart.cells.max() >= len(letters):
        raise ValueError(f"letters: has {len(letters)}, the chart uses number {chart.cells.max()}")
    _check_prefix(prefix)
    lattice = chart.lattice
    down = _part("rows", rows, lattice.rows)
    across = _part("columns", columns, lattice.columns)
    row_pitch = _box(lattice)[2]
    left, top = across[0] * PITCH - _MARGIN, down[0] * row_pitch - _MARGIN
    width = (len(across) + lattice.width_pitches - lattice.columns) * PITCH + 2 * _MARGIN
    height = len(down) * row_pitch + 2 * _MARGIN
    return "".join(
        (
            _opening(lattice, (left, top, width, height), title, prefix, "plain"),
            f'<rect x="{_n(left)}" y="{_n(top)}" width="{_n(width)}" height="{_n(height)}" fill="#fff"/>',
            *(_filled_row(chart, colours, row, across, row_pitch) for row in down),
            _grid(lattice, down, across, row_pitch, prefix),
            f'<g font-family="Figtree, DejaVu Sans, sans-serif" font-size="{_LETTER}" font-weight="600">',
            *(_lettered_row(chart, colours, letters, row, across, row_pitch) for row in down),
            "</g>",
            _stepped_joins(lattice, joins, down, across, row_pitch),
            _numbers(lattice, down, across, row_pitch),
            f'<path class="origin" d="M{_n(left + 3)} {_n(top + 3)}h14l-14 14z" fill="{INK}"/></svg>',
        )
    )


def colour_letters(count: int) -> list[str]:
    """A, B, C … without I and O, which read as figures; then AA, AB …

    >>> colour_letters(10)[-2:], colour_letters(26)[-2:]
    (['J', 'K'], ['AA', 'AB'])
    """
    single = "ABCDEFGHJKLMNPQRSTUVWXYZ"
    double = (first + second for first in single for second in single)
    return [*single, *double][:count]


def balloon_radius_pitches(lattice: Lattice) -> float:
    """Half the mean distance of neighbours and a little more, as sized balloons press on each other;
    at most 0.6 of the nearest one's, where rows and columns stand very unlike."""
    down = lattice.row_pitch_m / lattice.pitch_m
    if lattice.staggered:
        slant = (0.25 + down * down) ** 0.5
        return min(0.53 * (1.0 + 2.0 * slant) / 3.0, 0.6 * min(1.0, slant))
    return min(0.53 * (1.0 + down) / 2.0, 0.6 * min(1.0, down))


def _opening(lattice: Lattice, box: tuple[float, float, float, float], title: str, prefix: str, name: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="net {name}" viewBox="{" ".join(map(_n, box))}" '
        f'role="img" aria-labelledby="{prefix}-title" data-kind="{lattice.kind}" '
        f'data-rows="{lattice.rows}" data-columns="{lattice.columns}">'
        f'<title id="{prefix}-title">{escape(title)}</title>'
    )


def _balloon(name: str, colour: str, radius: float) -> str:
    """One balloon round 0, 0: a unit circle scaled up, so that its gradient can be in user space,
    which every PDF reader draws."""
    light, lit, base, shade, rim = balloon_shades(colour)
    return (
        f'<radialGradient id="{name}g" gradientUnits="userSpaceOnUse" cx="-.12" cy="-.14" r="1.15" '
        f'fx="-.34" fy="-.4"><stop offset="0" stop-color="{light}"/><stop offset=".3" stop-color="{lit}"/>'
        f'<stop offset=".62" stop-color="{base}"/><stop offset=".86" stop-color="{shade}"/>'
        f'<stop offset="1" stop-color="{rim}"/></radialGradient>'
        f'<g id="{name}" transform="scale({_n(radius)})"><circle r="1" fill="url(#{name}g)"/>'
        '<ellipse cx="-.36" cy="-.42" rx=".2" ry=".13" transform="rotate(-45 -.36 -.42)" '
        'fill="#fff" fill-opacity=".62"/></g>'
    )


def balloon_shades(colour: str) -> tuple[str, str, str, str, str]:
    """A balloon's colour from its lit spot to its dark rim, mixed in linear light."""
    base = srgb_to_linear(np.array(rgb_of_hex(colour)) / 255.0)
    mixes = (base + (1.0 - base) * 0.26, base + (1.0 - base) * 0.08, base, base * 0.72, base * 0.36)
    light, lit, plain, shade, rim = (hex_of_rgb(np.rint(linear_to_srgb(mix) * 255.0)) for mix in mixes)
    return light, lit, plain, shade, rim


def rgb_of_hex(colour: str) -> tuple[int, int, int]:
    if not _HEX.fullmatch(colour):
        raise ValueError(f"colour: must look like #1e3a66, not {colour!r}")
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def hex_of_rgb(rgb: Iterable[float]) -> str:
    return "#" + "".join(f"{int(part):02x}" for part in rgb)


def _balloon_rows(chart: Chart, row_pitch: float, prefix: str) -> Iterable[str]:
    """A group a row, a use a cell. Joined from ready-made halves: 7,000 cells in a few ms."""
    colours = range(-1, int(chart.cells.max()) + 1)
    heads = {number: f'<use href="#{prefix}{"e" if number < 0 else number}" x="' for number in colours}
    tails = [f'{column * PITCH}"/>' for column in range(chart.lattice.columns)]
    for row, cells in enumerate(chart.cells.tolist()):
        x = _shift(chart.lattice, row) + PITCH / 2
        yield f'<g transform="translate({_n(x)} {_n((row + 0.5) * row_pitch)})">'
        yield "".join([heads[cell] + tail for cell, tail in zip(cells, tails, strict=True)])
        yield "</g>"


def _row_straps(lattice: Lattice, row_pitch: float) -> str:
    """The straps round one row of openings: boxes on square, six-sided on the others."""
    across, edges = lattice.columns, range(lattice.columns + 1)
    if not lattice.staggered:
        lines = f"M0 0H{across * PITCH}M0 {_n(row_pitch)}H{across * PITCH}"
        return lines + "".join(f"M{column * PITCH} 0v{_n(row_pitch)}" for column in edges)
    lean, half = row_pitch / 6.0, PITCH // 2
    zigzag = f"l{half} {_n(-2 * lean)}l{half} {_n(2 * lean)}" * across
    mirrored = f"l{half} {_n(2 * lean)}l{half} {_n(-2 * lean)}" * across
    posts = "".join(f"M{column * PITCH} {_n(lean)}v{_n(row_pitch - 2 * lean)}" for column in edges)
    return f"M0 {_n(lean)}{zigzag}M0 {_n(row_pitch - lean)}{mirrored}{posts}"


def _join_lines(lattice: Lattice, joins: Iterable[Join], row_pitch: float) -> str:
    path = "".join(_join_path(lattice, join, row_pitch) for join in joins)
    if not path:
        return ""
    # Widths in screen pixels, or the joins of a large panel would be too thin to see.
    return (
        f'<g class="joins" fill="none"><path d="{path}" vector-effect="non-scaling-stroke" stroke="#fff" '
        f'stroke-width="3"/><path d="{path}" vector-effect="non-scaling-stroke" stroke="{INK}" '
        'stroke-width="1.5" stroke-dasharray="5 3"/></g>'
    )


def _join_path(lattice: Lattice, join: Join, row_pitch: float) -> str:
    """A straight line: over shifted rows an upright join runs through the middle of its steps."""
    middle = PITCH / 4 if lattice.staggered and lattice.rows > 1 else 0.0
    if join.orientation == "level":
        return f"M{join.start * PITCH} {_n(join.at * row_pitch)}H{_n(join.stop * PITCH + 2 * middle)}"
    return f"M{_n(join.at * PITCH + middle)} {_n(join.start * row_pitch)}V{_n(join.stop * row_pitch)}"


def _box(lattice: Lattice) -> tuple[float, float, float]:
    """Width, height and row pitch as drawn."""
    row_pitch = round(PITCH * lattice.row_pitch_m / lattice.pitch_m, 2)
    return lattice.width_pitches * PITCH, row_pitch * lattice.rows, row_pitch


def _shift(lattice: Lattice, row: int) -> float:
    return lattice.row_shift_pitches(row) * PITCH


def _n(number: float) -> str:
    """A number as short as SVG takes it."""
    return f"{number:.2f}".rstrip("0").rstrip(".")


def _checked_palette(chart: Chart, palette_hex: Sequence[str]) -> list[str]:
    for colour in palette_hex:
        if not _HEX.fullmatch(colour):
            raise ValueError(f"palette_hex: must look like #1e3a66, not {colour!r}")
    if chart.cells.max() >= len(palette_hex):
        raise ValueError(f"palette_hex: has {len(palette_hex)} colours, the chart uses number {chart.cells.max()}")
    return list(palette_hex)


def _check_prefix(prefix: str) -> None:
    if not _NAME.fullmatch(prefix):
        raise ValueError(f"prefix: must be a plain name that starts with a letter, not {prefix!r}")


def _part(name: str, part: tuple[int, int] | None, size: int) -> range:
    start, stop = (0, size) if part is None else part
    if not 0 <= start < stop <= size:
        raise ValueError(f"{name}: must be a part of 0…{size}, not {start}…{stop}")
    return range(start, stop)


def _filled_row(chart: Chart, colours: list[str], row: int, across: range, row_pitch: float) -> str:
    x, parts = across.start * PITCH + _shift(chart.lattice, row), []
    for colour, length in chart.runs(row, start=across.start, stop=across.stop):
        if colour >= 0:
            parts.append(
                f'<rect x="{_n(x)}" y="{_n(row * row_pitch)}" width="{length * PITCH}" '
                f'height="{_n(row_pitch)}" fill="{colours[colour]}"/>'
            )
        x += length * PITCH
    return "".join(parts)


def _grid(lattice: Lattice, down: range, across: range, row_pitch: float, prefix: str) -> str:
    """A box round each cell; a heavier line after every fifth row and column of the panel."""
    left, right = across.start * PITCH, across.stop * PITCH
    posts = {
        heavy: "".join(
            f"M{column * PITCH} 0v{_n(row_pitch)}"
            for column in range(across.start, across.stop + 1)
            if not heavy or column % 5 == 0
        )
        for heavy in (False, True)
    }
    fives = "".join(
        f"M{_n(left)} {_n(row * row_pitch)}H{_n(right + (PITCH / 2 if lattice.staggered else 0))}"
        for row in range(down.start + 1, down.stop)
        if row % 5 == 0
    )
    uses = "".join(
        f'<use href="#{prefix}{{0}}" x="{_n(_shift(lattice, row))}" y="{_n(row * row_pitch)}"/>' for row in down
    )
    boxes = f"M{left} 0H{right}V{_n(row_pitch)}H{left}z{posts[False]}"
    return (
        f'<defs><path id="{prefix}row" d="{boxes}"/><path id="{prefix}five" d="{posts[True] or "M0 0"}"/></defs>'
        f'<g fill="none" stroke="#767D78" stroke-width=".6">{uses.format("row")}</g>'
        f'<g fill="none" stroke="#3A413D" stroke-width="1.3">{uses.format("five")}<path d="{fives}"/></g>'
    )


def _lettered_row(
    chart: Chart, colours: list[str], letters: Sequence[str], row: int, across: range, row_pitch: float
) -> str:
    """The row's letters in one or two text elements, each character at its own place.

    Not centred by text-anchor: the PDF maker then centres the whole row at its first cell.
    """
    inks: dict[str, tuple[list[str], list[str]]] = {}
    shift = _shift(chart.lattice, row) + PITCH / 2
    for column, colour in zip(across, chart.cells[row, across.start : across.stop].tolist(), strict=True):
        if colour < 0:
            continue
        characters, places = inks.setdefault(_ink_on(colours[colour]), ([], []))
        widths = [_WIDTHS.get(character, 0.66) * _LETTER for character in letters[colour]]
        x = column * PITCH + shift - sum(widths) / 2
        for character, width in zip(letters[colour], widths, strict=True):
            characters.append(escape(character))
            places.append(f"{x:.1f}")
            x += width
    y = _n((row + 0.5) * row_pitch + 0.36 * _LETTER)
    return "".join(
        f'<text y="{y}" fill="{ink}" x="{" ".join(places)}">{"".join(characters)}</text>'
        for ink, (characters, places) in inks.items()
    )


def _ink_on(colour: str) -> str:
    light = srgb_to_linear(np.array(rgb_of_hex(colour)) / 255.0) @ np.array([0.2126, 0.7152, 0.0722])
    return "#fff" if light < _DARK_LIGHT else "#000"


def _stepped_joins(lattice: Lattice, joins: Iterable[Join], down: range, across: range, row_pitch: float) -> str:
    """Joins inside the part; an upright one steps with the shifted rows, between the cells it parts."""
    path = []
    for join in joins:
        inside, along = (across, down) if join.orientation == "upright" else (down, across)
        start, stop = max(join.start, along.start), min(join.stop, along.stop)
        if not (inside.start < join.at < inside.stop and start < stop):
            continue
        if join.orientation == "level":
            lean = PITCH / 2 if lattice.staggered else 0.0
            path.append(f"M{start * PITCH} {_n(join.at * row_pitch)}H{_n(stop * PITCH + lean)}")
            continue
        path.append(f"M{_n(join.at * PITCH + _shift(lattice, start))} {_n(start * row_pitch)}")
        for row in range(start, stop):
            path.append(f"H{_n(join.at * PITCH + _shift(lattice, row))}V{_n((row + 1) * row_pitch)}")
    if not path:
        return ""
    return (
        f'<g class="joins" fill="none"><path d="{"".join(path)}" stroke="#fff" stroke-width="4.5"/>'
        f'<path d="{"".join(path)}" stroke="#000" stroke-width="2.5" stroke-dasharray="7 4"/></g>'
    )


def _numbers(lattice: Lattice, down: range, across: range, row_pitch: float) -> str:
    """Row numbers on both sides, column numbers above and below, from 1 at the panel's corner."""
    left, right = across.start * PITCH - 6, across.stop * PITCH + 6
    top, bottom = down.start * row_pitch - 6, down.stop * row_pitch + 13
    parts = ['<g font-family="Figtree, DejaVu Sans, sans-serif" font-size="9" fill="#000">']
    for row in down:
        y, shift = _n((row + 0.5) * row_pitch + 3.2), _shift(lattice, row)
        parts.append(f'<text text-anchor="end" x="{_n(left)}" y="{y}">{row + 1}</text>')
        parts.append(f'<text x="{_n(right + shift)}" y="{y}">{row + 1}</text>')
    for y, row in ((top, down.start), (bottom, down.stop - 1)):
        for column in across:
            x = (column + 0.5) * PITCH + _shift(lattice, row)
            parts.append(f'<text text-anchor="middle" x="{_n(x)}" y="{_n(y)}">{column + 1}</text>')
    return "".join([*parts, "</g>"])
