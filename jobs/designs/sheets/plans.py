"""The sheet plan of a panel: kept with it, checked against its chart, and made anew where it no longer serves."""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, cast

import numpy as np

from decor.calc.picture.sheets import SheetPlan, plan_grid
from decor.calc.picture.sheets_costs import CannotTile, Place, SheetSize
from decor.calc.picture.sheets_plan import covers, plan_of, sectioned
from decor.calc.picture.sheets_tiling import Tiling, tile
from decor.calc.pieces.panel_sheets import PanelSheets, SheetKind, Strips, plan_figures
from decor.calc.pieces.panel_ways import LOADINGS
from jobs.designs.catalogue import Catalogue, Making, SheetType
from jobs.designs.charting import cells_array
from jobs.designs.fits import NO_SHEETS
from jobs.designs.models import Panel, Piece

CUT_S = 2.0
"""Seconds to cut or fold back along one cell's edge (studio default, no source)."""


@dataclass(frozen=True)
class Doors:
    """What a section must pass: the van's door and length, the venue's door where it is known [m]; and how thick it
    is."""

    van_door_m: float
    van_length_m: float
    depth_m: float
    venue_m: tuple[float, float] | None = None

    def van(self, width_m: float, height_m: float) -> bool:
        return min(width_m, height_m) <= self.van_door_m and max(width_m, height_m) <= self.van_length_m

    def venue(self, width_m: float, height_m: float) -> bool:
        """Carried on edge, along its longer side: the shorter one stands in the door, its thickness across it."""
        if self.venue_m is None:
            return True
        small = min(width_m, height_m)
        return any(small <= one and self.depth_m <= other for one, other in (self.venue_m, self.venue_m[::-1]))

    def both(self, width_m: float, height_m: float) -> bool:
        return self.van(width_m, height_m) and self.venue(width_m, height_m)


@dataclass(frozen=True)
class Planned:
    """A panel's sheet plan with what it is made of. `types` in the order of the plan's size numbers. `bound` is what
    no plan undercuts, 0 where none was looked for; `stale`: the chart has changed its outline since; `kept`: it is
    stored with the panel; `problem` says in words why sheets can't be laid by the rules; `left_out` names the types
    that no door lets through."""

    plan: SheetPlan
    types: tuple[SheetType, ...]
    cost: float = 0.0
    bound: float = 0.0
    spare: int = 0
    cuts: int = 0
    stale: bool = False
    kept: bool = False
    problem: str = ""
    doors: Doors | None = None
    left_out: tuple[str, ...] = ()

    @property
    def gap(self) -> float | None:
        return max(0.0, self.cost / self.bound - 1.0) if self.bound else None

    def type_of(self, number: int) -> SheetType:
        """Of the sheet with this number."""
        return self.types[self.plan.sheets[number - 1].size]


def panel_plan(panel: Panel, catalogue: Catalogue) -> SheetPlan:
    """The panel's sheets, joins and sections. Raises ValueError in words where its sheet type is gone."""
    return planned(panel, catalogue).plan


def blocks_of(plan: SheetPlan, rows: int, columns: int) -> np.ndarray:
    """(rows · columns,) the section that each cell is loaded with; 0 under no sheet."""
    blocks = np.zeros((rows, columns), dtype=np.int64)
    for sheet in plan.sheets:
        here = blocks[sheet.row_start : sheet.row_stop, sheet.column_start : sheet.column_stop]
        # Of two boxes that overlap, the cells in common are empty ones.
        here[here == 0] = sheet.section
    return blocks.ravel()


def planned(panel: Panel, catalogue: Catalogue) -> Planned:
    """From the plan that is kept while it serves the chart, else made at once."""
    types = allowed_types(panel, catalogue)
    filled = cells_array(panel) >= 0
    return _planned(
        np.packbits(filled).tobytes(),
        filled.shape,
        types,
        json.dumps(panel.plan or {}, sort_keys=True),
        doors_of(panel.piece, types[0], panel.loading, catalogue),
        catalogue.making,
    )


def sheet_of(panel: Panel, catalogue: Catalogue) -> SheetType:
    sheet = catalogue.sheet(panel.sheet_id)
    if sheet is None:
        raise ValueError(NO_SHEETS)
    return sheet


def types_like(sheet: SheetType, catalogue: Catalogue) -> tuple[SheetType, ...]:
    """The sheet type and those that go together with it: the same net, the same balloons, the same tabs."""
    alike = [other for other in catalogue.sheets_on_offer if other.id != sheet.id and _net(other) == _net(sheet)]
    return (sheet, *alike)


def _net(sheet: SheetType) -> tuple[Any, ...]:
    lattice = sheet.lattice_of(1, 1)
    sizes = (lattice.pitch_m, lattice.row_pitch_m, sheet.sized_diameter_m)
    tabs = (sheet.tabs_side / sheet.rows, sheet.tabs_end / sheet.columns)
    return sheet.lattice, *(round(size, 5) for size in (*sizes, *tabs))


def allowed_types(panel: Panel, catalogue: Catalogue) -> tuple[SheetType, ...]:
    """The panel's own sheet type first; those that were struck out for this panel are left out."""
    sheet = sheet_of(panel, catalogue)
    alike = types_like(sheet, catalogue)
    chosen = (panel.plan or {}).get("allowed")
    return tuple(kind for kind in alike if chosen is None or kind.id in chosen) or (sheet,)


def doors_of(piece: Piece, sheet: SheetType, way: str, catalogue: Catalogue) -> Doors | None:
    """None for a panel that is built at the venue."""
    if piece.built_at == Piece.BuiltAt.VENUE:
        return None
    venue = piece.event.venue
    known = [size for size in (venue.door_width_m, venue.door_height_m) if size]
    door = (known[0], known[-1]) if known else None
    depth_m = sheet.sized_diameter_m * LOADINGS[way].depth  # type: ignore[index]
    return Doors(catalogue.making.van_door_m, catalogue.making.van_length_m, depth_m, door)


def carried(types: tuple[SheetType, ...], doors: Doors | None) -> tuple[SheetType, ...]:
    """The types of which at least one loaded sheet passes the doors; all of them where none does."""
    if doors is None:
        return types
    passing = []
    for kind in types:
        lattice = kind.lattice_of(kind.rows, kind.columns)
        if doors.both(lattice.columns * lattice.pitch_m, lattice.height_m):
            passing.append(kind)
    return tuple(passing) or types


def laid_on(sheet: SheetType, piece: Piece, way: str, catalogue: Catalogue) -> SheetType:
    """This type, or the first of those that go together with it that passes the doors."""
    return carried(types_like(sheet, catalogue), doors_of(piece, sheet, way, catalogue))[0]


def sizes_of(types: Sequence[SheetType], opening_cost: float = 0.0) -> list[SheetSize]:
    """With what each sheet costs to unpack and open, where costs count: a panel of many small sheets is dear by it."""
    return [
        SheetSize(
            kind.rows,
            kind.columns,
            float(kind.cost_per_use) + opening_cost,
            even_rows=kind.lattice != "square" and kind.odd_rows_shift,
            sides=kind.sides_join,
            ends=kind.ends_join,
            parts=kind.edges_meet_in_part,
        )
        for kind in types
    ]


def tiled(filled: np.ndarray, types: Sequence[SheetType], making: Making, *, prove: bool) -> Tiling:
    """Raises CannotTile in words."""
    a_second = making.wage_per_hour / 3600.0
    tabs_a_cell = max((kind.tabs_side / kind.rows for kind in types), default=0.0)
    return tile(
        filled,
        sizes_of(types, 60.0 * making.open_sheet_min * a_second),
        join_cost=tabs_a_cell * making.join_tab_s * a_second,
        trim_cost=CUT_S * a_second,
        prove=prove,
    )


def to_plain(
    found: Tiling, types: Sequence[SheetType], filled: np.ndarray, allowed: list[int] | None
) -> dict[str, Any]:
    """The form in which a panel keeps its plan."""
    return {
        "allowed": allowed,
        "sheets": [[place.row, place.column, types[place.size].id] for place in found.places],
        "cost": round(found.cost, 4),
        "bound": round(found.bound, 4),
        "outline": outline_key(filled),
    }


def outline_key(filled: np.ndarray, more: str = "") -> str:
    """Names an outline, so that a plan made for another one is known."""
    return hashlib.sha256(f"{filled.shape}{more}".encode() + np.packbits(filled).tobytes()).hexdigest()[:32]


def covers_chart(filled: np.ndarray, types: tuple[SheetType, ...], stored: dict[str, Any] | None) -> bool:
    """Whether a kept plan still carries every cell of the chart, with sheet types that may be used."""
    return _from_kept(filled, types, stored or {}) is not None


@lru_cache(maxsize=64)
def _planned(
    bits: bytes,
    shape: tuple[int, int],
    types: tuple[SheetType, ...],
    kept: str,
    doors: Doors | None,
    making: Making,
) -> Planned:
    filled = np.unpackbits(np.frombuffer(bits, np.uint8), count=shape[0] * shape[1]).reshape(shape).astype(bool)
    own = types[0]
    if not filled.any():
        return Planned(plan_grid(shape[0], shape[1], own.rows, own.columns), (own,), doors=doors)
    stored = json.loads(kept)
    usable = carried(types, doors)
    found = _from_kept(filled, types, stored) or _quick(filled, own, usable, making)
    lattice = own.lattice_of(*shape)
    plan = found.plan
    passes = doors.both if doors else _anything
    # The half pitch by which odd rows stand out, and the balloons' own width beyond the net, pass with the rest.
    plan = sectioned(plan, passes, pitch_m=lattice.pitch_m, row_pitch_m=lattice.row_pitch_m)
    used = {found.types[sheet.size].id for sheet in plan.sheets}
    left_out = tuple(kind.name for kind in types if kind not in usable and kind.id not in used)
    return replace(found, plan=plan, doors=doors, left_out=left_out)


def _anything(width_m: float, height_m: float) -> bool:
    return True


def _from_kept(filled: np.ndarray, types: tuple[SheetType, ...], stored: dict[str, Any]) -> Planned | None:
    number = {kind.id: at for at, kind in enumerate(types)}
    given = stored.get("sheets") or []
    if not given or any(kind not in number for _, _, kind in given):
        return None
    places, sizes = [Place(row, column, number[kind]) for row, column, kind in given], sizes_of(types)
    if not covers(filled, places, sizes):
        return None
    plan = plan_of(filled, places, sizes)
    stale = stored.get("outline") != outline_key(filled)
    spare = sum(sizes[sheet.size].rows * sizes[sheet.size].columns for sheet in plan.sheets) - int(filled.sum())
    cost, bound = float(stored.get("cost", 0.0)), float(stored.get("bound", 0.0))
    return Planned(plan, types, cost, 0.0 if stale else bound, spare, stale=stale, kept=True)


def _quick(filled: np.ndarray, own: SheetType, types: tuple[SheetType, ...], making: Making) -> Planned:
    try:
        found = tiled(filled, types, making, prove=False)
    except CannotTile as refusal:
        return Planned(plan_grid(filled.shape[0], filled.shape[1], own.rows, own.columns), (own,), problem=str(refusal))
    plan = plan_of(filled, found.places, sizes_of(types))
    return Planned(plan, types, found.cost, 0.0, found.spare, found.cuts)


def kinds_of(types: Sequence[SheetType]) -> list[SheetKind]:
    return [
        SheetKind(
            kind.id,
            kind.rows,
            kind.columns,
            kind.tabs_side,
            kind.tabs_end,
            kind.weight_kg,
            cast(Strips, kind.strips),
        )
        for kind in types
    ]


def over_words(found: Planned) -> str:
    """Which side of the panel its sheets reach over: on the right and at the bottom."""
    over = set()
    for sheet in found.plan.sheets:
        kind = found.types[sheet.size]
        if sheet.skip_columns:
            over.add("on the left")
        if sheet.column_start - sheet.skip_columns + kind.columns > sheet.column_stop:
            over.add("on the right")
        if sheet.skip_rows:
            over.add("at the top")
        if sheet.row_start - sheet.skip_rows + kind.rows > sheet.row_stop:
            over.add("at the bottom")
    named = [words for words in ("on the left", "on the right", "at the top", "at the bottom") if words in over]
    return " and ".join(named) if len(named) < 3 else "round the outline"


def figures_of(found: Planned, making: Making) -> PanelSheets:
    """What the estimate takes from a plan."""
    return plan_figures(found.plan, kinds_of(found.types), opening_strips=making.opening_strips)
