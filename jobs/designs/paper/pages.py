"""Chart paper as it is printed: the cells of the sheet's own lattice, corner markers, key boxes for the pens."""

from collections.abc import Sequence
from html import escape

from decor.calc.picture.lattice import Lattice
from decor.calc.picture.paper import (
    BIT_MM,
    KEY_MM,
    MARGIN_MM,
    MARKER_MM,
    PaperLayout,
    code_of,
    paper_layout,
    paper_parts,
)

_INK = "#000"
_LINE = "#a9a9a9"


def paper_svgs(
    lattice: Lattice,
    names: Sequence[str],
    *,
    number: int,
    title: str,
    paper: str,
) -> list[str]:
    """One SVG a page, in millimetres. `names` are the colours of the key boxes; `number` is told by the code on
    every page."""
    parts = paper_parts(lattice, colours=len(names), paper=paper)
    layouts = [paper_layout(lattice, part, colours=len(names), paper=paper) for part in parts]
    return [_page(layout, names, number=number, title=title, pages=len(parts)) for layout in layouts]


def _page(layout: PaperLayout, names: Sequence[str], *, number: int, title: str, pages: int) -> str:
    width, height = layout.page_mm
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" width="{width:g}mm" '
        f'height="{height:g}mm" font-family="Figtree, DejaVu Sans, sans-serif">',
        _markers(layout),
        _code(layout, number),
        _words(layout, title, pages),
        _cells(layout),
        _numbers(layout),
        _keys(layout, names),
        "</svg>",
    ]
    return "".join(parts)


def _markers(layout: PaperLayout) -> str:
    unit = MARKER_MM / 7
    rings = "".join(
        f'<rect x="{x - 3 * unit:.3f}" y="{y - 3 * unit:.3f}" width="{6 * unit:.3f}" height="{6 * unit:.3f}" '
        f'fill="none" stroke="{_INK}" stroke-width="{unit:.3f}"/>'
        f'<rect x="{x - 1.5 * unit:.3f}" y="{y - 1.5 * unit:.3f}" width="{3 * unit:.3f}" height="{3 * unit:.3f}" '
        f'fill="{_INK}"/>'
        for x, y in layout.markers
    )
    return f"<g>{rings}</g>"


def _code(layout: PaperLayout, number: int) -> str:
    half = BIT_MM / 2
    return "".join(
        f'<rect x="{x - half:.3f}" y="{y - half:.3f}" width="{BIT_MM:g}" height="{BIT_MM:g}" fill="{_INK}"/>'
        for (x, y), bit in zip(layout.bits, code_of(number, layout.part.number), strict=True)
        if bit
    )


def _words(layout: PaperLayout, title: str, pages: int) -> str:
    part, (width, height) = layout.part, layout.page_mm
    where = f"page {part.number} of {pages}" if pages > 1 else ""
    rows = f"rows {part.row_start + 1} to {part.row_stop}, columns {part.column_start + 1} to {part.column_stop}"
    line = " · ".join(filter(None, [title[:60], where, rows]))
    hint = (
        "First colour a box above with each pen you use, then the cells. A colour you do not use keeps its box white."
    )
    return (
        f'<text x="{width / 2:g}" y="{MARGIN_MM + 10:g}" text-anchor="middle" font-size="3.4" fill="{_INK}">'
        f"{escape(line)}</text>"
        f'<text x="{width / 2:g}" y="{height - 9:g}" text-anchor="middle" font-size="2.8" fill="{_INK}">'
        f"{hint}</text>"
        f'<text x="{width / 2:g}" y="{height - 5:g}" text-anchor="middle" font-size="2.6" fill="{_INK}">'
        "Photograph the whole page with its four corner marks, without flash.</text>"
    )


def _cells(layout: PaperLayout) -> str:
    r = layout.radius_mm
    circles = "".join(
        f"M{x - r:.2f} {y:.2f}a{r:.2f} {r:.2f} 0 1 0 {2 * r:.2f} 0a{r:.2f} {r:.2f} 0 1 0 {-2 * r:.2f} 0"
        for x, y in layout.cells
    )
    return f'<path d="{circles}" fill="none" stroke="{_LINE}" stroke-width=".16"/>'


def _numbers(layout: PaperLayout) -> str:
    """Every fifth row and column, in the margin."""
    part = layout.part
    cells = layout.cells.reshape(part.rows, part.columns, 2)
    found, left = [], cells[0, 0, 0] - layout.radius_mm - 0.8
    for row in range(part.rows):
        if (part.row_start + row + 1) % 5 == 0:
            found.append((left, cells[row, 0, 1] + 0.8, "end", part.row_start + row + 1))
    for column in range(part.columns):
        if (part.column_start + column + 1) % 5 == 0:
            x, y = cells[0, column]
            found.append((x, y - layout.pitch_mm * 0.75, "middle", part.column_start + column + 1))
    texts = (
        f'<text x="{x:.2f}" y="{y:.2f}" text-anchor="{at}" font-size="2.2" fill="{_INK}">{number}</text>'
        for x, y, at, number in found
    )
    return "".join(texts)


def _keys(layout: PaperLayout, names: Sequence[str]) -> str:
    half = KEY_MM / 2
    return "".join(
        f'<rect x="{x - half:.2f}" y="{y - half:.2f}" width="{KEY_MM:g}" height="{KEY_MM:g}" fill="none" '
        f'stroke="{_LINE}" stroke-width=".25"/>'
        f'<text x="{x:.2f}" y="{y + half + 3:.2f}" text-anchor="middle" font-size="2.7" fill="{_INK}">'
        f"{escape(name[:16])}</text>"
        for (x, y), name in zip(layout.keys, names, strict=True)
    )
