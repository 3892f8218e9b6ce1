"""Chart paper: where everything stands on a printed page that is coloured in by hand and read back from a photograph.

All positions are millimetres on the page, x to the right and y down from its top left corner.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from decor.calc.picture.lattice import Lattice

Points = npt.NDArray[np.float64]

PAPERS_MM: dict[str, tuple[float, float]] = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""Width and height of a page: ISO 216, ANSI/ASME Y14.1."""
MARGIN_MM = 12.0
MARKER_MM = 10.5
"""Side of a corner marker: a ring, a gap and a core of 1 : 1 : 3 : 1 : 1, the finder pattern of ISO/IEC 18004."""
MOST_COLOURS = 16
MOST_PAGES = 16
LEAST_PITCH_MM = 4.5
"""Below that a felt pen does not keep within a cell (studio default, no source)."""
CELL_RADIUS = 0.42
"""Of a printed circle, in pitches; what is left between circles shows the paper's own white."""
_BAND_MM = 8.0
_KEY_ROW_MM = 15.0
_KEYS_IN_A_ROW = 8
BIT_MM = 3.6
_BIT_STEP_MM = 4.6
_GUARD = (1, 0, 1, 1)
_PAGE_BITS, _PAPER_BITS, _CHECK_BITS = 5, 11, 6
PAPERS = 2**_PAPER_BITS
"""How many papers are told apart; after so many the numbers begin again."""
KEY_MM = 9.0


@dataclass(frozen=True)
class PaperPart:
    """The rows and columns of the panel that one page carries; stops are exclusive."""

    number: int
    row_start: int
    row_stop: int
    column_start: int
    column_stop: int

    @property
    def rows(self) -> int:
        return self.row_stop - self.row_start

    @property
    def columns(self) -> int:
        return self.column_stop - self.column_start


@dataclass(frozen=True)
class PaperLayout:
    """One page. `cells` (rows·columns, 2), `gaps` (rows + 1, columns + 1, 2), `keys` (colours, 2), `bits` (26, 2) and
    `markers` (4, 2: top left, top right, bottom right, bottom left) are centres in millimetres."""

    part: PaperPart
    page_mm: tuple[float, float]
    pitch_mm: float
    cells: Points
    gaps: Points
    keys: Points
    bits: Points
    markers: Points

    @property
    def radius_mm(self) -> float:
        return self.pitch_mm * CELL_RADIUS


def code_of(paper: int, page: int) -> tuple[int, ...]:
    """The bits printed along the top of a page: a guard, the page's number from 1, its paper's number and a check;
    1 is black. Of the paper's number the lowest 11 bits are printed.

    Raises:
        ValueError: ``page`` or ``paper`` cannot be printed.

    >>> len(code_of(5, 1)), code_of(5, 1)[:4]
    (26, (1, 0, 1, 1))
    """
    if not 1 <= page < 2**_PAGE_BITS:
        raise ValueError(f"page: must lie in 1…{2**_PAGE_BITS - 1}, not {page}")
    if paper < 0:
        raise ValueError(f"paper: must be 0 or more, not {paper}")
    number = paper % PAPERS << _PAGE_BITS | page
    check = number * 37 % 61
    return (*_GUARD, *_bits_of(number, _PAGE_BITS + _PAPER_BITS), *_bits_of(check, _CHECK_BITS))


def code_read(bits: npt.ArrayLike) -> tuple[int, int] | None:
    """The paper's and the page's number that such bits name, None where they are no code.

    >>> code_read(code_of(2050, 12)), code_read([0] * 26)
    ((2, 12), None)
    """
    read = tuple(int(bit) for bit in np.asarray(bits).ravel())
    body = read[len(_GUARD) : len(_GUARD) + _PAGE_BITS + _PAPER_BITS]
    paper, page = divmod(sum(bit << at for at, bit in enumerate(body)), 2**_PAGE_BITS)
    return (paper, page) if page and read == code_of(paper, page) else None


def _bits_of(number: int, count: int) -> list[int]:
    return [number >> at & 1 for at in range(count)]


def paper_parts(lattice: Lattice, *, colours: int, paper: str = "A4") -> tuple[PaperPart, ...]:
    """The panel cut into pages, as even as can be, in which no cell is too small for a pen.

    A page begins with an even row, so that odd rows stand to the right on every page.

    Raises:
        ValueError: the panel needs more than 16 pages, or ``colours`` or ``paper`` is out of range.
    """
    wide, high = _room_mm(colours, paper)
    step = lattice.row_pitch_m / lattice.pitch_m
    most_columns = int(wide / LEAST_PITCH_MM - (0.5 if lattice.staggered else 0.0))
    most_rows = int(high / (LEAST_PITCH_MM * step))
    rows = _even_cuts(lattice.rows, most_rows, 2 if lattice.staggered else 1)
    columns = _even_cuts(lattice.columns, most_columns, 1)
    if len(rows) * len(columns) > MOST_PAGES:
        raise ValueError(
            f"lattice: {lattice.columns} wide and {lattice.rows} high would fill {len(rows) * len(columns)} pages; "
            f"the most is {MOST_PAGES}"
        )
    places = [(down, across) for down in rows for across in columns]
    return tuple(PaperPart(number, *down, *across) for number, (down, across) in enumerate(places, 1))


def paper_layout(lattice: Lattice, part: PaperPart, *, colours: int, paper: str = "A4") -> PaperLayout:
    """Where everything stands on the page of this part; cells are as large as the page allows.

    Raises:
        ValueError: ``colours`` or ``paper`` is out of range.
    """
    width, height = PAPERS_MM[paper]
    wide, high = _room_mm(colours, paper)
    step = lattice.row_pitch_m / lattice.pitch_m
    stagger = 0.5 if lattice.staggered else 0.0
    pitch = min(wide / (part.columns + stagger), high / (part.rows * step), 12.0)
    left = (width - pitch * (part.columns + stagger)) / 2.0
    top = MARGIN_MM + MARKER_MM + _BAND_MM
    inset = MARGIN_MM + MARKER_MM / 2.0
    return PaperLayout(
        part=part,
        page_mm=(width, height),
        pitch_mm=pitch,
        cells=_grid(part.rows, part.columns, left + pitch / 2, top + pitch * step / 2, pitch, step, stagger),
        gaps=_gaps(part.rows, part.columns, left, top, pitch, step, stagger),
        keys=_keys(colours, width, height),
        bits=_bits(width),
        markers=np.array([[inset, inset], [width - inset, inset], [width - inset, height - inset],
                          [inset, height - inset]]),
    )  # fmt: skip


def _room_mm(colours: int, paper: str) -> tuple[float, float]:
    if paper not in PAPERS_MM:
        raise ValueError(f"paper: must be one of {', '.join(PAPERS_MM)}, not {paper!r}")
    if not 1 <= colours <= MOST_COLOURS:
        raise ValueError(f"colours: must lie in 1…{MOST_COLOURS}, not {colours}")
    width, height = PAPERS_MM[paper]
    key_rows = -(-colours // _KEYS_IN_A_ROW)
    return width - 2 * MARGIN_MM, height - 2 * MARGIN_MM - MARKER_MM - _BAND_MM - key_rows * _KEY_ROW_MM - 4.0


def _even_cuts(length: int, most: int, multiple: int) -> list[tuple[int, int]]:
    most -= most % multiple
    count = -(-length // most)
    edges = [round(length * at / count / multiple) * multiple for at in range(count)] + [length]
    return list(pairwise(edges))


def _grid(rows: int, columns: int, left: float, top: float, pitch: float, step: float, stagger: float) -> Points:
    row, column = np.divmod(np.arange(rows * columns), columns)
    return np.stack([left + (column + stagger * (row % 2)) * pitch, top + row * step * pitch], axis=1)


def _gaps(rows: int, columns: int, left: float, top: float, pitch: float, step: float, stagger: float) -> Points:
    """Where the paper shows between the circles, as far as can be from all of them: on straight rows midway between
    four, else between two neighbours of a row and the one above them."""
    row, column = np.mgrid[0 : rows + 1, 0 : columns + 1].astype(np.float64)
    if not stagger:
        return np.stack([left + column * pitch, top + row * step * pitch], axis=2)
    above = (step * step - 0.25) / (2.0 * step)
    x = left + (column + stagger * (row % 2)) * pitch
    return np.stack([x, top + ((row + 0.5) * step - above) * pitch], axis=2)


def _keys(colours: int, width: float, height: float) -> Points:
    """Boxes between the bottom markers, as many rows as are needed, filled from the left."""
    room = width - 2 * (MARGIN_MM + MARKER_MM + 3.0)
    row, column = np.divmod(np.arange(colours), _KEYS_IN_A_ROW)
    rows = -(-colours // _KEYS_IN_A_ROW)
    x = (width - room) / 2 + (column + 0.5) * room / _KEYS_IN_A_ROW
    y = height - MARGIN_MM - _KEY_ROW_MM * (rows - row) + KEY_MM / 2
    return np.stack([x, y], axis=1)


def _bits(width: float) -> Points:
    count = len(_GUARD) + _PAGE_BITS + _PAPER_BITS + _CHECK_BITS
    x = width / 2 + (np.arange(count) - (count - 1) / 2) * _BIT_STEP_MM
    return np.stack([x, np.full(count, MARGIN_MM + BIT_MM / 2)], axis=1)
