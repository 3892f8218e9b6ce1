"""What one piece needs: the language that every kind of piece speaks to the estimate.

A kind is one module beside this one. It holds a frozen dataclass of measures that satisfies `Measures`, and a
function `needs(measures, rates)`. Nothing else has to know that the kind exists.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, Protocol, runtime_checkable

from decor.calc.physics.balloons import volume_m3
from decor.calc.work.rates import Rates

Shape = Literal["round", "double-ended", "long"]
BuiltAt = Literal["workshop", "venue"]
Place = Literal["workshop", "road", "venue"]
Fill = Literal["air", "helium"]

BUILT_AT: tuple[BuiltAt, ...] = ("workshop", "venue")
FILLS: tuple[Fill, ...] = ("air", "helium")
SKILLS = ("lead", "rig", "ladder", "drive")
"""Skills that a piece or a job may ask of a crew member."""

LADDER_FROM_M = 2.2
"""A piece taller than this is dressed from a ladder: about what a person reaches (studio default, no source)."""

MOST_BALLOONS = 100_000
"""The most cells of a panel, or balloons of a column, that are worked out."""


@dataclass(frozen=True)
class LatexNeed:
    """Balloons of one stock item, without spares.

    `key` is the caller's stock number, None where the colour is not chosen yet. `nominal_in` names the size
    sold, in inches; `sized_diameter_m` is what they are inflated to [m]; `elongation` is length over diameter;
    `says` tells in words what was counted.
    """

    key: int | None
    nominal_in: float
    shape: Shape
    quantity: int
    sized_diameter_m: float
    elongation: float = 1.0
    says: str = ""


@dataclass(frozen=True)
class SheetNeed:
    """Whole sheets of one type; `key` is the caller's stock number, None where no type is chosen."""

    key: int | None
    quantity: int


@dataclass(frozen=True)
class HardwareNeed:
    """Returnable things by plain name: `pole`, `base plate`."""

    name: str
    quantity: int


@dataclass(frozen=True)
class Joins:
    """Edges along which two sheets meet, and the tabs that are wrapped along them."""

    edges: int = 0
    tabs: int = 0


@dataclass(frozen=True)
class Task:
    """Work of one kind at one place.

    `units` are counted in the kind's own unit (see `work.labour.TASK_KINDS`). `people` is how many must be at
    it together: the kind's time for a unit is spent by each of them. `extra_min` are person-minutes beside
    the rate, such as the waiting while large balloons fill, and `extra_says` why. `says` tells in words what was
    counted.
    """

    kind: str
    units: float
    place: Place
    people: int = 1
    says: str = ""
    extra_min: float = 0.0
    extra_says: str = "as large balloons fill slowly"


@dataclass(frozen=True)
class PieceNeeds:
    """Everything that one piece needs, before spares and before anything is shared with other pieces.

    `packed_volume_m3` is its room in the van: as built when it is built in the workshop, otherwise flat.
    `weight_kg` is the finished piece with its hardware; the air inside is not counted, as it floats in air.
    `hanging` tells whether it hangs over people's heads. `fits_van` is False when a part built in the workshop
    is too large for the van's door. `sections` are the parts that it is carried in; `hang_points` the points that
    share its weight, 0 where it stands.
    """

    latex: tuple[LatexNeed, ...]
    sheets: tuple[SheetNeed, ...]
    joins: Joins
    hardware: tuple[HardwareNeed, ...]
    tasks: tuple[Task, ...]
    weight_kg: float
    packed_volume_m3: float
    width_m: float
    height_m: float
    depth_m: float
    skills: tuple[str, ...] = ()
    hanging: bool = False
    sections: int = 1
    hang_points: int = 0
    fits_van: bool = True
    says: str = ""

    @property
    def balloons(self) -> int:
        """Balloons of every size and colour, without spares."""
        return sum(need.quantity for need in self.latex)

    def times(self, count: int) -> PieceNeeds:
        """The needs of `count` alike pieces; a piece's own width, height and depth stay."""
        if count < 1:
            raise ValueError("count must be 1 or more")
        return replace(
            self,
            latex=tuple(replace(need, quantity=need.quantity * count) for need in self.latex),
            sheets=tuple(replace(need, quantity=need.quantity * count) for need in self.sheets),
            joins=Joins(self.joins.edges * count, self.joins.tabs * count),
            hardware=tuple(replace(need, quantity=need.quantity * count) for need in self.hardware),
            tasks=tuple(
                replace(task, units=task.units * count, extra_min=task.extra_min * count) for task in self.tasks
            ),
            weight_kg=self.weight_kg * count,
            packed_volume_m3=self.packed_volume_m3 * count,
            sections=self.sections * count,
        )


@runtime_checkable
class Measures(Protocol):
    """What the measures of every kind of piece offer to the estimate."""

    @property
    def built_at(self) -> BuiltAt: ...

    def needs(self, rates: Rates) -> PieceNeeds: ...


def slow_fill_min(quantity: int, diameter_m: float, elongation: float, rates: Rates) -> float:
    """Person-minutes that large balloons take to fill beyond what the inflating speeds allow for."""
    fill_s = 60.0 * volume_m3(diameter_m, elongation) / rates.nozzle_flow_m3_per_min
    return quantity * max(0.0, fill_s - rates.inflate_covered_fill_s) / 60.0


def flat_room_m3(balloons: int, sheets: int, rates: Rates) -> float:
    """Room in the van for what is inflated and loaded at the venue [m³]."""
    return balloons / 1000.0 * rates.flat_room_m3_per_1000 + sheets * rates.flat_sheet_room_m3


def skills_for(*, height_m: float, rigged: bool) -> tuple[str, ...]:
    """Skills that a piece asks for by its height and by whether it is rigged."""
    rig = ("rig",) if rigged else ()
    return (*rig, "ladder") if height_m > LADDER_FROM_M else rig
