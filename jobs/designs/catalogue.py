"""The studio's sheets and balloons as plain data, read once and handed to whatever draws or computes."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from decor.calc.physics.balloons import USABLE_SHARE_OF_NOMINAL, NominalSize
from decor.calc.picture.lattice import Lattice
from decor.calc.units import inches_to_m
from decor.calc.work.rates import Rates, rates_from_plain
from decor.studio.models import Studio
from inventory.models import Item, Latex, Sheet


@dataclass(frozen=True, kw_only=True)
class StockItem:
    """What every stock item has: its number, and how it is bought."""

    id: int
    name: str
    pack_size: int
    pack_price: Decimal
    lead_days: int
    active: bool

    @property
    def unit_cost(self) -> Decimal:
        return self.pack_price / self.pack_size


@dataclass(frozen=True, kw_only=True)
class SheetType(StockItem):
    rows: int
    columns: int
    lattice: str
    pitch_m: float
    row_pitch_m: float | None
    sized_diameter_m: float
    tabs_side: int
    tabs_end: int
    weight_kg: float
    uses: int
    sides_join: bool = True
    ends_join: bool = True
    edges_meet_in_part: bool = True
    odd_rows_shift: bool = True
    strips: str = "all"
    can_be_cut: bool = True

    @property
    def cost_per_use(self) -> Decimal:
        return self.unit_cost / self.uses

    def lattice_of(self, rows: int, columns: int) -> Lattice:
        """The panel of so many cells; ValueError where it has none, or more than are planned."""
        return Lattice(self.lattice, rows, columns, self.pitch_m, self.row_pitch_m)

    def sheets_for(self, rows: int, columns: int) -> int:
        return -(-rows // self.rows) * -(-columns // self.columns)


@dataclass(frozen=True, kw_only=True)
class LatexItem(StockItem):
    nominal_in: float
    shape: str
    colour: str
    finish: str
    rgb: str
    mass_g: float | None

    @property
    def words(self) -> str:
        """The colour as it is said: sky, pearl white."""
        return self.colour if self.finish == "plain" else f"{self.finish} {self.colour}"

    @property
    def srgb(self) -> tuple[float, float, float]:
        red, green, blue = (int(self.rgb[at : at + 2], 16) / 255.0 for at in (1, 3, 5))
        return red, green, blue

    @property
    def largest_diameter_m(self) -> float:
        return inches_to_m(self.nominal_in) * USABLE_SHARE_OF_NOMINAL


@dataclass(frozen=True)
class Making:
    """What it costs to put sheets together, what must be passed on the way, and how many spares are usual."""

    wage_per_hour: float = 20.0
    join_tab_s: float = Rates.join_tab_s
    open_sheet_min: float = Rates.open_sheet_min
    opening_strips: float = Rates.opening_strips_per_sheet
    van_door_m: float = Rates.van_door_m
    van_length_m: float = Rates.van_length_m
    spares_share: float = Rates.spares_share

    @classmethod
    def of(cls, studio: Studio | None) -> "Making":
        if studio is None:
            return cls()
        rates = rates_from_plain(studio.rates)
        return cls(
            float(studio.wage_per_hour),
            rates.join_tab_s,
            rates.open_sheet_min,
            rates.opening_strips_per_sheet,
            rates.van_door_m,
            rates.van_length_m,
            rates.spares_share,
        )


@dataclass(frozen=True)
class Catalogue:
    """Items that are no longer active stay in it, as earlier pieces still name them."""

    sheets: tuple[SheetType, ...]
    latex: tuple[LatexItem, ...]
    units: str = "metric"
    making: Making = Making()

    def sheet(self, number: object) -> SheetType | None:
        return next((sheet for sheet in self.sheets if sheet.id == number), None)

    def balloon(self, number: object) -> LatexItem | None:
        return next((item for item in self.latex if item.id == number), None)

    @property
    def sheets_on_offer(self) -> tuple[SheetType, ...]:
        return tuple(sheet for sheet in self.sheets if sheet.active)

    def colours(self) -> dict[str, str]:
        """Every colour that the studio buys, by its words, with its on-screen colour."""
        return {item.words: item.rgb for item in self.latex if item.active}

    def fitting_nominal_in(self, sized_diameter_m: float, shape: str) -> float | None:
        """The smallest size the studio buys that can be blown up to the diameter, None where it has none."""
        sizes = (
            item.nominal_in
            for item in self.latex
            if item.active and item.shape == shape and item.largest_diameter_m >= sized_diameter_m
        )
        return min(sizes, default=None)

    def fitting(self, sized_diameter_m: float, shape: str) -> tuple[LatexItem, ...]:
        """The balloons of that one size, all colours."""
        size = self.fitting_nominal_in(sized_diameter_m, shape)
        return tuple(item for item in self.latex if item.active and item.shape == shape and item.nominal_in == size)

    def in_colour(self, words: str, sized_diameter_m: float, shape: str) -> LatexItem | None:
        return next((item for item in self.fitting(sized_diameter_m, shape) if item.words == words), None)

    def sizes(self, known: Iterable[NominalSize]) -> tuple[NominalSize, ...]:
        """The table of sizes with the studio's own masses in it, and the sizes that only the studio has.

        A size that is new to the table floats as long as the next smaller one, and where nobody weighed it,
        its mass grows with its surface (from memory, no source)."""
        table = {(size.nominal_in, size.shape): size for size in known}
        for key in {(item.nominal_in, item.shape) for item in self.latex}:
            weighed = [i.mass_g for i in self.latex if (i.nominal_in, i.shape) == key and i.mass_g is not None]
            like = _like(table.values(), *key)
            mass_kg = (
                sum(weighed) / len(weighed) / 1000.0 if weighed else like.mass_kg * (key[0] / like.nominal_in) ** 2
            )
            table[key] = NominalSize(key[0], key[1], mass_kg, like.float_hours)
        return tuple(sorted(table.values(), key=lambda size: (size.shape, size.nominal_in)))


def _like(table: Iterable[NominalSize], nominal_in: float, shape: str) -> NominalSize:
    """The same size, else the next smaller of that shape, else the smallest, else any shape's."""
    sizes = list(table)
    alike = sorted((s for s in sizes if s.shape == shape), key=lambda s: s.nominal_in) or sizes
    smaller = [size for size in alike if size.nominal_in <= nominal_in]
    return smaller[-1] if smaller else alike[0]


def _bought(item: Item) -> dict[str, Any]:
    return {"id": item.pk} | {
        name: getattr(item, name) for name in ("name", "pack_size", "pack_price", "lead_days", "active")
    }


def _sheet_type(sheet: Sheet) -> SheetType:
    return SheetType(
        **_bought(sheet),
        rows=sheet.rows,
        columns=sheet.columns,
        lattice=sheet.lattice,
        pitch_m=sheet.pitch_m,
        row_pitch_m=sheet.row_pitch_m,
        sized_diameter_m=sheet.sized_diameter_m,
        tabs_side=sheet.tabs_per_side,
        tabs_end=sheet.tabs_per_end,
        weight_kg=sheet.weight_kg,
        uses=sheet.uses,
        sides_join=sheet.sides_join,
        ends_join=sheet.ends_join,
        edges_meet_in_part=sheet.edges_meet_in_part,
        odd_rows_shift=sheet.odd_rows_shift,
        strips=sheet.strips,
        can_be_cut=sheet.can_be_cut,
    )


def _latex_item(item: Latex) -> LatexItem:
    return LatexItem(
        **_bought(item),
        nominal_in=float(item.nominal_in),
        shape=item.shape,
        colour=item.colour,
        finish=item.finish,
        rgb=item.rgb,
        mass_g=item.mass_g,
    )


def catalogue_now(studio: Studio | None = None) -> Catalogue:
    """Three queries, however much the studio has, and two where the studio has been read already."""
    studio = studio or Studio.objects.order_by("pk").first()
    return Catalogue(
        sheets=tuple(_sheet_type(sheet) for sheet in Sheet.objects.order_by("name")),
        latex=tuple(_latex_item(item) for item in Latex.objects.order_by("nominal_in", "shape", "colour", "finish")),
        units=studio.units if studio else "metric",
        making=Making.of(studio),
    )
