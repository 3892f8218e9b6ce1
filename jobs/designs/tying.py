"""How a panel's balloons are tied: pairs or strings of its chart, section by section, kept in memory while they are
asked for again and again."""

import hashlib
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from django.core.cache import caches

from decor.calc.picture.chart import EMPTY, Chart
from decor.calc.picture.lattice import Lattice
from decor.calc.picture.loading import Pairs, Strings, plan_pairs, plan_strings, winding

MOST_EXACT = 12_000
"""Cells up to which the figures of an estimate are counted; of a larger chart a part is counted, in squares spread
over it, as a page must not wait for seconds."""
SQUARE, SQUARES = 24, 9
COUNTED_AS = 1
"""Raised when the same chart would be tied otherwise."""


@dataclass(frozen=True)
class Tied:
    """What the work depends on: mixed pairs and pairs between rows, or changes of colour along the strings."""

    mixed_pairs: int | None = None
    pairs_between_rows: int | None = None
    colour_changes: int | None = None


@dataclass(frozen=True)
class Wishes:
    """What was chosen for a panel: whether pairs may lie between two rows, whether strings wind."""

    between_rows: bool = True
    winding: bool = False

    @classmethod
    def from_plain(cls, plain: Any) -> "Wishes":
        given = plain if isinstance(plain, Mapping) else {}
        return cls(given.get("between_rows", True) is not False, given.get("winding", False) is True)

    def to_plain(self) -> dict[str, bool]:
        return {"between_rows": self.between_rows, "winding": self.winding}


KEY = "tying"
"""Under which a piece's measures keep the wishes."""


def wishes_of(piece: Any) -> Wishes:
    return Wishes.from_plain(piece.measures.get(KEY))


def tied(chart: Chart, blocks: np.ndarray | None, *, way: str, wishes: Wishes) -> Tied:
    """Of a way in which a cell's two balloons are of one colour, nothing. Kept by what it was counted from: a page that
    only asks whether an estimate still stands must not wait for a solver."""
    if way not in ("paired", "strung"):
        return Tied()
    kept, key = caches["figures"], _figures_key(chart, blocks, way, wishes)
    known = kept.get(key)
    if known is None:
        known = asdict(_counted(chart, blocks, way, wishes))
        kept.set(key, known)
    return Tied(**known)


def _figures_key(chart: Chart, blocks: np.ndarray | None, way: str, wishes: Wishes) -> str:
    said = repr((COUNTED_AS, chart.lattice, way, wishes)).encode()
    parts = (said, chart.cells.tobytes(), b"" if blocks is None else blocks.astype(np.int64).tobytes())
    return hashlib.sha256(b"|".join(hashlib.sha256(part).digest() for part in parts)).hexdigest()


def _counted(chart: Chart, blocks: np.ndarray | None, way: str, wishes: Wishes) -> Tied:
    if int(np.count_nonzero(chart.cells != EMPTY)) > MOST_EXACT:
        return _by_parts(chart, way, wishes)
    if way == "paired":
        pairs = pairs_for(chart, blocks, wishes)
        return Tied(pairs.mixed, pairs.between_rows)
    return Tied(colour_changes=strings_for(chart, blocks, wishes).changes)


def pairs_for(chart: Chart, blocks: np.ndarray | None, wishes: Wishes) -> Pairs:
    return _pairs(_key(chart), None if blocks is None else blocks.astype(np.int64).tobytes(), wishes.between_rows)


def strings_for(chart: Chart, blocks: np.ndarray | None, wishes: Wishes) -> Strings:
    return _strings(_key(chart), None if blocks is None else blocks.astype(np.int64).tobytes(), wishes.winding)


Key = tuple[Lattice, bytes]


def _key(chart: Chart) -> Key:
    return chart.lattice, chart.cells.tobytes()


def _chart(key: Key) -> Chart:
    lattice, cells = key
    return Chart(np.frombuffer(cells, dtype=np.int32).reshape(lattice.rows, lattice.columns), lattice)


def _blocks(blocks: bytes | None) -> np.ndarray | None:
    return None if blocks is None else np.frombuffer(blocks, dtype=np.int64)


@lru_cache(maxsize=24)
def _pairs(key: Key, blocks: bytes | None, between_rows: bool) -> Pairs:  # noqa: FBT001
    return plan_pairs(_chart(key), _blocks(blocks), between_rows)


@lru_cache(maxsize=24)
def _strings(key: Key, blocks: bytes | None, winds: bool) -> Strings:  # noqa: FBT001
    route = winding if winds else plan_strings
    return route(_chart(key), _blocks(blocks))


def _by_parts(chart: Chart, way: str, wishes: Wishes) -> Tied:
    """Squares spread over the chart, counted up to the whole."""
    parts = [part for part in _squares(chart) if part.filled]
    share = chart.filled / sum(part.filled for part in parts)
    if way == "strung":
        changes = sum(strings_for(part, None, wishes).changes for part in parts)
        return Tied(colour_changes=min(chart.filled - 1, round(changes * share)))
    found = [pairs_for(part, None, wishes) for part in parts]
    mixed, between = (round(sum(getattr(one, name) for one in found) * share) for name in ("mixed", "between_rows"))
    return Tied(min(mixed, chart.filled // 2), min(between, chart.filled // 2))


def _squares(chart: Chart) -> list[Chart]:
    lattice = chart.lattice
    high, wide = min(SQUARE, lattice.rows), min(SQUARE * SQUARE // min(SQUARE, lattice.rows), lattice.columns)
    # Even rows, so that a staggered lattice stays the one it is.
    tops = {int(at) // 2 * 2 for at in np.linspace(0, lattice.rows - high, SQUARES)}
    lefts = np.linspace(0, lattice.columns - wide, SQUARES).astype(int)
    return [
        Chart(
            chart.cells[top : top + high, left : left + wide],
            Lattice(lattice.kind, high, wide, lattice.pitch_m, lattice.row_pitch_m),
        )
        for top in sorted(tops)
        for left in lefts[:: max(1, len(lefts) // 3)]
    ]
