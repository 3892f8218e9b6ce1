"""Sheet covers against sheets laid one after another, and against the bound that no plan undercuts."""

from collections.abc import Iterator, Sequence

import numpy as np

from decor.calc.picture.sheets import tile
from decor.calc.picture.sheets_costs import Floats, Ground, Place, SheetSize
from tests.benchmarks import Comparison, Figure, middle_ms

SIZES = [SheetSize(12, 12, 9.0), SheetSize(12, 24, 16.0), SheetSize(6, 12, 5.5)]
JOIN, TRIM = 0.08, 0.02
ALONE = "sheets one after another, row by row"


def circle(across: int) -> np.ndarray:
    down, right = np.mgrid[:across, :across] - (across - 1) / 2
    return down**2 + right**2 <= (across / 2) ** 2


def heart(across: int) -> np.ndarray:
    down, right = np.mgrid[:across, :across]
    x = (right - (across - 1) / 2) / (across / 2) * 1.15
    y = 0.1 - (down - (across - 1) / 2) / (across / 2) * 1.15
    return (x * x + y * y - 1) ** 3 - x * x * y**3 <= 0


def arch(high: int, wide: int, thick: int) -> np.ndarray:
    down, right = np.mgrid[:high, :wide]
    x, y = right - (wide - 1) / 2, high - 1.0 - down
    outer = (x / (wide / 2)) ** 2 + (y / high) ** 2 <= 1
    return outer & ~((x / (wide / 2 - thick)) ** 2 + (y / (high - thick)) ** 2 <= 1)


def five(unit: int) -> np.ndarray:
    rows = ["11111", "10000", "11110", "00001", "00001", "10001", "01110"]
    return np.kron(np.array([[cell == "1" for cell in row] for row in rows]), np.ones((unit, unit))).astype(bool)


OUTLINES = {
    "rectangle, 83 × 84": np.ones((83, 84), bool),
    "circle, 6,948 cells": circle(94),
    "heart, 6,916 cells": heart(100),
    "arch, 3,466 cells": arch(70, 120, 20),
    "a 5 of 2,880 cells": five(12),
}


def one_after_another(ground: Ground, sizes: Sequence[SheetSize], costs: Sequence[Floats]) -> list[Place]:
    """Rows of sheets of one height from the first cell down, in each the sheet that costs least a cell, from the first
    cell on; of all heights the cheapest."""
    heights = sorted({size.rows for size in sizes})
    return min(
        (_rows_of(height, ground, sizes, costs) for height in heights), key=lambda laid: paid(ground, costs, laid)
    )


def _rows_of(height: int, ground: Ground, sizes: Sequence[SheetSize], costs: Sequence[Floats]) -> list[Place]:
    laid, row = [], int(ground.filled.any(axis=1).argmax())
    numbers = [number for number, size in enumerate(sizes) if size.rows == height]
    while ground.filled[row:].any():
        column = 0
        while (ahead := ground.filled[row : row + height, column:].any(axis=0)).any():
            column += int(ahead.argmax())
            held = [int(ground.filled[row : row + height, column : column + sizes[n].columns].sum()) for n in numbers]
            best = min(zip(numbers, held, strict=True), key=lambda one: costs[one[0]][row, column] / one[1])[0]
            laid.append(Place(row - ground.above, column - ground.left, best))
            column += sizes[best].columns
        row += height
    return laid


def paid(ground: Ground, costs: Sequence[Floats], laid: Sequence[Place]) -> float:
    return float(sum(costs[size][row + ground.above, column + ground.left] for row, column, size in laid))


BOUNDED = ("circle, 6,948 cells", "arch, 3,466 cells")
"""With time to spare, so that a busy machine does not spoil the ratio."""


def peer_cost(outline: np.ndarray) -> float:
    ground = Ground.of(outline, SIZES)
    costs = [ground.costs(size, JOIN, TRIM) for size in SIZES]
    return paid(ground, costs, one_after_another(ground, SIZES, costs))


def comparisons() -> Iterator[Comparison]:
    yield from judged()
    outline = OUTLINES["rectangle, 83 × 84"]
    quick = middle_ms(lambda: tile(outline, SIZES, join_cost=JOIN, trim_cost=TRIM, prove=False))
    yield Comparison("sheets: rectangle, 83 × 84, without its bound", quick)


def judged() -> Iterator[Comparison]:
    for name, outline in OUTLINES.items():
        found = tile(outline, SIZES, join_cost=JOIN, trim_cost=TRIM, prove=name in BOUNDED, seconds=4)
        yield Comparison(f"sheets: cost, {name}", found.cost, "", ALONE, peer_cost(outline), 1.000001)
        if name in BOUNDED:
            yield Comparison(f"sheets: cost, {name}", found.cost, "", "what no plan undercuts", found.bound, 1.12)


def figures() -> Iterator[Figure]:
    for name, outline in OUTLINES.items():
        took = middle_ms(lambda outline=outline: tile(outline, SIZES, join_cost=JOIN, trim_cost=TRIM), 1)
        yield Figure(f"sheets with their bound: {name}", took, "ms", 2000)
