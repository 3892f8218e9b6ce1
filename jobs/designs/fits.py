"""A panel's size in the cells of a sheet type."""

from dataclasses import dataclass
from typing import Any

from jobs.designs.catalogue import Catalogue, SheetType
from jobs.designs.lengths import to_m

NO_SHEETS = "The studio has no framework sheets yet. Add a sheet type under Stock."


@dataclass(frozen=True)
class Fit:
    """A panel of one sheet type, in cells."""

    sheet: SheetType
    rows: int
    columns: int

    @property
    def sheets(self) -> int:
        return self.sheet.sheets_for(self.rows, self.columns)


def cells_for(sheet: SheetType, width_m: float, height_m: float) -> Fit:
    """The panel whose size comes nearest. A staggered one is half a pitch wider than its columns."""
    one_row = sheet.lattice_of(1, 1)
    rows = max(1, round(height_m / one_row.row_pitch_m))
    stagger = 0.5 if one_row.staggered and rows > 1 else 0.0
    return Fit(sheet, rows, max(1, round(width_m / sheet.pitch_m - stagger)))


def rough_fit(measures: dict[str, Any], catalogue: Catalogue) -> Fit:
    """The panel on the sheet type that was chosen for it (`sheet`), else on the one that covers it at the least cost,
    of equal ones that with the fewest sheets."""
    fits = [_fit(sheet, measures) for sheet in catalogue.sheets_on_offer]
    if not fits:
        raise ValueError(NO_SHEETS)
    fits = [fit for fit in fits if fit.sheet.id == measures.get("sheet")] or fits
    return min(fits, key=lambda fit: (fit.sheet.cost_per_use * fit.sheets, fit.sheets, fit.sheet.id))


def _fit(sheet: SheetType, measures: dict[str, Any]) -> Fit:
    if measures["unit"] == "cells":
        return Fit(sheet, int(measures["height"]), int(measures["width"]))
    return cells_for(sheet, to_m(measures["width"], measures["unit"]), to_m(measures["height"], measures["unit"]))
