"""Sheets of labels for bins and items: a code to scan, the same in letters, a swatch, a name."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal

import segno
from django.conf import settings

from decor.studio.documents import pdf_of
from inventory.models import Bin, Item
from inventory.shown import capital

QR_MM = {"24": 21.0, "12": 30.0, "6": 42.0}
"""Without its quiet zone, by labels on a page: whoever takes large ones reads them from further away. 20 mm is the
least that phones read at arm's length (common practice, no source)."""
QUIET = 4
"""Modules of white round the code (ISO/IEC 18004)."""
PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
GRIDS = {"24": (3, 8), "12": (2, 6), "6": (2, 3)}
"""Columns and rows; the paper is shared out evenly."""
MOST = 2_000

Kind = Literal["b", "i"]


@dataclass(frozen=True)
class Label:
    """`code` is what is typed where nothing can scan."""

    address: str
    code: str
    name: str
    small: str = ""
    rgb: str = ""
    colour: str = ""


@dataclass(frozen=True)
class Code:
    """A QR code as one path of unit squares; `size` with its quiet zone."""

    path: str
    size: int


@dataclass(frozen=True)
class Placed:
    """`code_mm` is the side of the code with its quiet zone."""

    x_mm: float
    y_mm: float
    label: Label
    code: Code
    code_mm: float

    @property
    def words_mm(self) -> float:
        return round(self.code_mm + 1.5, 2)


def address_of(kind: Kind, number: int) -> str:
    return f"{settings.SITE_URL.rstrip('/')}/{kind}/{number}/"


@cache
def code_of(address: str) -> Code:
    """Level M: a label may lose 15 % of its code to dirt and folds."""
    matrix = segno.make_qr(address, error="m", boost_error=False).matrix
    steps = []
    for y, row in enumerate(matrix):
        start = None
        for x, dark in enumerate([*row, 0]):
            if dark and start is None:
                start = x
            elif not dark and start is not None:
                steps.append(f"M{start + QUIET} {y + QUIET}h{x - start}v1h{start - x}z")
                start = None
    return Code("".join(steps), len(matrix) + 2 * QUIET)


def label_of_bin(bin_: Bin) -> Label:
    return Label(address_of("b", bin_.pk), bin_.name, "Bin")


def label_of_item(item: Item) -> Label:
    small = f"lies in {item.bin}" if item.bin else ""
    if item.kind != Item.Kind.LATEX:
        return Label(address_of("i", item.pk), f"No. {item.pk}", capital(item.name), small)
    latex = item.latex
    colour = latex.colour if latex.finish == "plain" else f"{latex.finish} {latex.colour}"
    return Label(address_of("i", item.pk), f"No. {item.pk}", capital(item.name), small, latex.rgb, colour)


def wanted(what: str) -> list[Label]:
    """`bins`, `items`, `bin-3`, `item-12`, `kind-latex`, `in-3` (what lies in that bin); nothing for anything else."""
    name, _, which = what.partition("-")
    number = int(which) if which.isascii() and which.isdecimal() and len(which) < 19 else 0
    if name in {"bins", "bin"}:
        found = Bin.objects.order_by("position", "name")
        return [label_of_bin(one) for one in (found if name == "bins" else found.filter(pk=number))[:MOST]]
    items = Item.objects.filter(active=True).select_related("latex").order_by("kind", "name")
    if name == "kind":
        items = items.filter(kind=which)
    elif name == "in":
        items = items.filter(bin__in=[b.name for b in Bin.objects.filter(pk=number)])
    elif name == "item":
        items = items.filter(pk=number)
    elif name != "items":
        return []
    return [label_of_item(one) for one in items[:MOST]]


def placed(labels: Sequence[Label], *, paper: str, grid: str, first: int = 1) -> list[list[Placed]]:
    """Page by page; `first` is the number of the first free label of a begun sheet."""
    columns, rows = GRIDS[grid]
    if not 1 <= first <= columns * rows:
        raise ValueError(f"first must be from 1 to {columns * rows}")
    width, height = PAPERS[paper]
    pages: list[list[Placed]] = []
    for at, label in enumerate(labels, start=first - 1):
        page, spot = divmod(at, columns * rows)
        while len(pages) <= page:
            pages.append([])
        row, column = divmod(spot, columns)
        x, y = column * width / columns, row * height / rows
        code = code_of(label.address)
        side = round(QR_MM[grid] * code.size / (code.size - 2 * QUIET), 2)
        pages[page].append(Placed(round(x, 2), round(y, 2), label, code, side))
    return pages


def labels_pdf(labels: Sequence[Label], *, paper: str, grid: str, first: int = 1) -> bytes:
    """Raises ValueError with the line that installs what is missing."""
    columns, rows = GRIDS[grid]
    width, height = PAPERS[paper]
    return pdf_of(
        "documents/labels.html",
        {
            "pages": placed(labels, paper=paper, grid=grid, first=first),
            "width_mm": round(width / columns, 2),
            "height_mm": round(height / rows, 2),
            "points": round(10 * QR_MM[grid] / QR_MM["24"], 1),
        },
        paper=paper,
    )
