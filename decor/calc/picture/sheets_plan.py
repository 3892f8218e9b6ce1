"""The sheet plan that follows from where sheets lie: numbers, joins, sections, strips and the order of assembly."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from decor.calc.picture.sheets import Edge, Join, PlacedSheet, Section, SheetPlan
from decor.calc.picture.sheets_costs import Bools, Place, SheetSize, checked_outline

Whole = npt.NDArray[np.int64]


def plan_of(outline: npt.ArrayLike, places: Sequence[Place], sizes: Sequence[SheetSize]) -> SheetPlan:
    """Numbers the sheets row by row from the origin corner and finds their joins.

    Sheets that carry no cell are left out; one whole section.

    Args:
        outline: (rows, columns) bool.
        places: where sheets lie, see `Tiling.places`.

    Raises:
        ValueError: `places`: a filled cell is under no sheet, or under two.
    """
    filled = checked_outline(outline)
    carried = np.zeros(filled.shape, dtype=np.int64)
    sheets: list[PlacedSheet] = []
    for row, column, size in sorted(places):
        kind = sizes[size]
        top, left = max(row, 0), max(column, 0)
        here = np.s_[top : max(row + kind.rows, 0), left : max(column + kind.columns, 0)]
        part = filled[here]
        if not part.any():
            continue
        if carried[here][part].any():
            raise ValueError("places: a cell lies under two sheets")
        number = len(sheets) + 1
        carried[here][part] = number
        rows, columns = np.flatnonzero(part.any(axis=1)) + top, np.flatnonzero(part.any(axis=0)) + left
        box = int(rows[0]), int(rows[-1]) + 1, int(columns[0]), int(columns[-1]) + 1
        held = int(np.count_nonzero(part))
        sheets.append(
            PlacedSheet(number, *box, size=size, skip_rows=box[0] - row, skip_columns=box[2] - column, filled=held)
        )
    if np.count_nonzero(carried) != np.count_nonzero(filled):
        raise ValueError("places: a cell lies under no sheet")
    joins = tuple(sorted(_joins(carried), key=lambda join: (max(join.first, join.second), join.first, join.start)))
    return SheetPlan(tuple(sheets), joins)


def covers(outline: Bools, places: Sequence[Place], sizes: Sequence[SheetSize]) -> bool:
    """Whether each filled cell is under exactly one sheet, so that a plan still serves a changed chart."""
    over = np.zeros(outline.shape, dtype=np.int64)
    for row, column, size in places:
        kind = sizes[size]
        over[max(row, 0) : max(row + kind.rows, 0), max(column, 0) : max(column + kind.columns, 0)] += 1
    return bool((over[outline] == 1).all())


def _joins(carried: Whole) -> list[Join]:
    """Runs of neighbouring cells of two sheets, across upright edges and across level ones."""
    upright = [Join(run[0], run[1], "upright", *run[2:]) for run in _runs(carried)]
    level = [Join(run[0], run[1], "level", *run[2:]) for run in _runs(carried.T)]
    return upright + level


def _runs(carried: Whole) -> list[tuple[int, int, int, int, int]]:
    """(first, second, at, start, stop) for edges between columns."""
    found = []
    before, after = carried[:, :-1], carried[:, 1:]
    met = (before != after) & (before > 0) & (after > 0)
    for at in np.flatnonzero(met.any(axis=0)):
        rows = np.flatnonzero(met[:, at])
        pairs = np.stack([before[rows, at], after[rows, at]])
        breaks = np.flatnonzero((np.diff(rows) > 1) | (np.diff(pairs, axis=1) != 0).any(axis=0)) + 1
        for run in np.split(rows, breaks):
            one, other = int(before[run[0], at]), int(after[run[0], at])
            found.append((one, other, int(at) + 1, int(run[0]), int(run[-1]) + 1))
    return found


def joined_edges(plan: SheetPlan) -> dict[int, set[Edge]]:
    """By sheet number: the edges at which it meets a neighbour."""
    found: dict[int, set[Edge]] = {sheet.number: set() for sheet in plan.sheets}
    for join in plan.joins:
        found[join.first].add("right" if join.orientation == "upright" else "bottom")
        found[join.second].add("left" if join.orientation == "upright" else "top")
    return found


Passes = Callable[[float, float], bool]
"""Whether a section of so many metres, wide and high, passes every door and goes into the van."""


@dataclass(frozen=True)
class _Group:
    members: frozenset[int]
    box: tuple[int, int, int, int]

    def with_(self, other: _Group) -> _Group:
        a, b = self.box, other.box
        box = min(a[0], b[0]), max(a[1], b[1]), min(a[2], b[2]), max(a[3], b[3])
        return _Group(self.members | other.members, box)


def sectioned(plan: SheetPlan, passes: Passes, *, pitch_m: float, row_pitch_m: float) -> SheetPlan:
    """The plan with its sheets gathered into sections that pass, so that few join tabs are left for the venue.

    Sections grow by the longest joins first; growing along the rows first and along the columns first are tried too,
    and the one that leaves the shortest joins, then the fewest sections, is taken. `fits` is False where not even
    every single sheet passes.
    """

    def fits(group: _Group) -> bool:
        top, bottom, left, right = group.box
        return passes((right - left) * pitch_m, (bottom - top) * row_pitch_m)

    single = [_group(sheet) for sheet in plan.sheets]
    whole = single[0] if single else None
    for group in single[1:]:
        whole = whole.with_(group) if whole else group
    if whole is None or fits(whole):
        return _with_sections(plan, [whole] if whole else [], fits=True)
    ways = [_grown(plan, single, fits, first) for first in (None, "upright", "level")]
    best = min(ways, key=lambda groups: (_left_over(plan, groups), len(groups)))
    return _with_sections(plan, best, fits=all(fits(group) for group in single))


def _group(sheet: PlacedSheet) -> _Group:
    return _Group(frozenset([sheet.number]), (sheet.row_start, sheet.row_stop, sheet.column_start, sheet.column_stop))


def _grown(
    plan: SheetPlan, single: Sequence[_Group], fits: Callable[[_Group], bool], first: str | None
) -> list[_Group]:
    """Joins two neighbouring groups at a time, the longest join first, while the result still passes."""
    of = {number: group for group in single for number in group.members}
    ways = [("upright", "level")] if first is None else [(first,), ("upright", "level")]
    for way in ways:
        joins = [join for join in plan.joins if join.orientation in way]
        while True:
            length: Counter[tuple[_Group, _Group]] = Counter()
            for join in joins:
                one, other = of[join.first], of[join.second]
                if one is not other:
                    length[(one, other) if min(one.members) < min(other.members) else (other, one)] += join.length_cells
            merged: set[_Group] = set()
            for (one, other), _ in sorted(
                length.items(), key=lambda item: (-item[1], min(item[0][0].members), min(item[0][1].members))
            ):
                if one in merged or other in merged or not fits(both := one.with_(other)):
                    continue
                merged |= {one, other}
                of |= dict.fromkeys(both.members, both)
            if not merged:
                break
    return sorted(set(of.values()), key=lambda group: min(group.members))


def _left_over(plan: SheetPlan, groups: Sequence[_Group]) -> int:
    of = {number: at for at, group in enumerate(groups) for number in group.members}
    return sum(join.length_cells for join in plan.joins if of[join.first] != of[join.second])


def _with_sections(plan: SheetPlan, groups: Sequence[_Group], *, fits: bool) -> SheetPlan:
    of = {number: at for at, group in enumerate(groups, start=1) for number in group.members}
    return replace(
        plan,
        sheets=tuple(replace(sheet, section=of[sheet.number]) for sheet in plan.sheets),
        sections=tuple(
            Section(at, tuple(sorted(group.members)), *group.box) for at, group in enumerate(groups, start=1)
        ),
        fits=fits,
    )
