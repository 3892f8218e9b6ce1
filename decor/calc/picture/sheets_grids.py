"""A plain grid of one sheet type, corners meeting corners."""

from __future__ import annotations

import numpy as np

from decor.calc.picture.sheets_costs import Floats, Ground, Place, SheetSize


def grids(ground: Ground, size: SheetSize, costs: Floats, number: int) -> list[Place] | None:
    """The cheapest plain grid of one size, corners meeting corners, wherever it begins; None where there is none."""
    high = -(-ground.tall // size.rows) * size.rows
    wide = -(-ground.wide // size.columns) * size.columns
    room = np.zeros((high, wide))
    room[: ground.tall, : ground.wide] = costs
    whole = room.reshape(high // size.rows, size.rows, wide // size.columns, size.columns).sum(axis=(0, 2))
    # Of equal ones the grid that begins at the panel's first row and column, as spare cells are best last.
    whole = np.roll(whole, (-(ground.above % size.rows), -(ground.left % size.columns)), axis=(0, 1))
    down, across = divmod(int(whole.argmin()), size.columns)
    if not np.isfinite(whole[down, across]):
        return None
    rows = range((down + ground.above) % size.rows, ground.tall, size.rows)
    columns = range((across + ground.left) % size.columns, ground.wide, size.columns)
    return [
        Place(row - ground.above, column - ground.left, number)
        for row in rows
        for column in columns
        if ground.filled[row : row + size.rows, column : column + size.columns].any()
    ]
