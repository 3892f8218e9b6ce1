"""The ways to load a panel."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from decor.calc.pieces.needs import Shape

Way = Literal["paired", "two-sided", "sandwich", "strung"]


@dataclass(frozen=True)
class Loading:
    """A way to load: balloons in a cell, layers of sheets, depth in balloons, their shape, which tasks it takes."""

    balloons: int
    layers: int
    depth: float
    shape: Shape
    inflate_task: str


LOADINGS: dict[Way, Loading] = {
    "paired": Loading(1, 1, 1.0, "round", "inflate pairs"),
    "two-sided": Loading(2, 1, 2.0, "double-ended", "inflate pairs"),
    "sandwich": Loading(2, 2, 2.0, "round", "inflate pairs"),
    "strung": Loading(1, 1, 1.0, "double-ended", "inflate strings"),
}
