"""The column: clusters of equal balloons nested on a pole, with a colour pattern."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from typing import Literal

from decor.calc.checks import check_above_zero, check_whole
from decor.calc.physics.balloons import size_checked
from decor.calc.pieces.clusters import layer_spacing_m, ring_width_m
from decor.calc.pieces.needs import (
    BUILT_AT,
    MOST_BALLOONS,
    BuiltAt,
    HardwareNeed,
    Joins,
    LatexNeed,
    PieceNeeds,
    Task,
    flat_room_m3,
    skills_for,
    slow_fill_min,
)
from decor.calc.work.rates import Rates

Pattern = Literal["rings", "spiral", "blocks"]
PATTERNS: tuple[Pattern, ...] = ("rings", "spiral", "blocks")


@dataclass(frozen=True)
class ColumnMeasures:
    """One column. Alike columns are counted on the event's line.

    It is at least `height_m` high: a last layer is added rather than left out. `colours` are stock numbers in the
    pattern's order, None where a colour is not chosen; one may stand twice.
    `rings`: each layer has one colour, in turn. `blocks`: each colour fills one stretch, from the floor up.
    `spiral`: every cluster has the same colours in the same order, and the nesting turns them into a spiral, so
    that there are no more colours than balloons in a cluster.
    """

    height_m: float
    sized_diameter_m: float
    colours: tuple[int | None, ...]
    balloons: int = 4
    pattern: Pattern = "rings"
    squeeze: float = 0.0
    nominal_in: float | None = None
    built_at: BuiltAt = "workshop"

    def __post_init__(self) -> None:
        check_above_zero("height_m", self.height_m)
        check_above_zero("sized_diameter_m", self.sized_diameter_m)
        check_whole("balloons", self.balloons, 3)
        if self.balloons > 5:
            raise ValueError("balloons must be 3, 4 or 5 in a cluster")
        if not 0 <= self.squeeze <= 0.5:
            raise ValueError("squeeze must be between 0 and 0.5")
        if self.pattern not in PATTERNS:
            raise ValueError("pattern must be rings, spiral or blocks")
        if self.built_at not in BUILT_AT:
            raise ValueError("built_at must be workshop or venue")
        if self.total > MOST_BALLOONS:
            raise ValueError(
                f"height_m must be lower: the column would take {self.total:,} balloons, above {MOST_BALLOONS:,}"
            )
        _check_colours(self)

    @property
    def spacing_m(self) -> float:
        """Distance between neighbouring layers' centres [m]."""
        return layer_spacing_m(self.balloons, self.sized_diameter_m, self.squeeze)

    @property
    def layers(self) -> int:
        """Layers that reach the height, the lowest standing on the floor."""
        above_first = (self.height_m - self.sized_diameter_m) / self.spacing_m
        # A hair under a whole layer is a whole layer: 1e-9 of one is rounding, not height.
        return 1 + max(0, math.ceil(above_first - 1e-9))

    @property
    def total(self) -> int:
        """Balloons in the column."""
        return self.layers * self.balloons

    @property
    def built_height_m(self) -> float:
        """Height as built [m]."""
        return (self.layers - 1) * self.spacing_m + self.sized_diameter_m

    @property
    def width_m(self) -> float:
        """Outer width [m]."""
        return ring_width_m(self.balloons, self.sized_diameter_m)

    def needs(self, rates: Rates) -> PieceNeeds:
        """See `needs`."""
        return needs(self, rates)


def _check_colours(given: ColumnMeasures) -> None:
    if not given.colours:
        raise ValueError("colours must name at least one colour")
    if given.pattern == "spiral" and len(given.colours) > given.balloons:
        raise ValueError(f"colours must be at most {given.balloons} for a spiral of clusters of {given.balloons}")
    if given.pattern != "spiral" and len(given.colours) > given.layers:
        raise ValueError(f"colours must be at most {given.layers}: the column has no more layers")


@dataclass(frozen=True)
class PlacedBalloon:
    """One balloon of a column, for drawing.

    `layer` from the floor and `position` round the pole, both from 0; `angle_rad` round the pole;
    `height_m` of its centre above the floor; `colour` is its number in the measures' `colours`.
    """

    layer: int
    position: int
    angle_rad: float
    height_m: float
    colour: int


def colour_at(measures: ColumnMeasures, layer: int, position: int) -> int:
    """The colour's number at a place, from 0."""
    colours = len(measures.colours)
    if measures.pattern == "rings":
        return layer % colours
    if measures.pattern == "blocks":
        return layer * colours // measures.layers
    return position % colours


def placed_balloons(measures: ColumnMeasures) -> tuple[PlacedBalloon, ...]:
    """Every balloon with its place and colour, layer by layer from the floor; each layer is turned by π/n."""
    step = math.pi / measures.balloons
    return tuple(
        PlacedBalloon(
            layer=layer,
            position=position,
            angle_rad=(layer * step + 2.0 * step * position) % (2.0 * math.pi),
            height_m=measures.sized_diameter_m / 2.0 + layer * measures.spacing_m,
            colour=colour_at(measures, layer, position),
        )
        for layer in range(measures.layers)
        for position in range(measures.balloons)
    )


def colour_counts(measures: ColumnMeasures) -> tuple[int, ...]:
    """Balloons of each of the measures' `colours`, in their order.

    >>> colour_counts(ColumnMeasures(1.8, 0.25, (1, 2, 3)))
    (12, 12, 12)
    """
    counts = Counter(
        colour_at(measures, layer, position)
        for layer in range(measures.layers)
        for position in range(measures.balloons)
    )
    return tuple(counts[colour] for colour in range(len(measures.colours)))


def needs(measures: ColumnMeasures, rates: Rates) -> PieceNeeds:
    """Materials and work of one column.

    Raises ValueError naming `sized_diameter_m` or `nominal_in` where no balloon of the studio's table serves.
    """
    size = size_checked(measures.nominal_in, measures.sized_diameter_m, "round", rates.sizes)
    at_venue = measures.built_at == "venue"
    built_room = measures.width_m**2 * measures.built_height_m * rates.packing_room_factor
    flat_room = flat_room_m3(measures.total, 0, rates)
    return PieceNeeds(
        latex=_latex(measures, size.nominal_in, rates),
        sheets=(),
        joins=Joins(),
        hardware=(HardwareNeed("pole", 1), HardwareNeed("base plate", 1)),
        tasks=_tasks(measures, rates),
        weight_kg=measures.total * size.mass_kg + rates.pole_kg + rates.base_kg,
        packed_volume_m3=(flat_room if at_venue else built_room) + rates.hardware_room_m3,
        width_m=measures.width_m,
        height_m=measures.built_height_m,
        depth_m=measures.width_m,
        skills=skills_for(height_m=measures.built_height_m, rigged=False),
        sections=1 if at_venue else math.ceil(measures.built_height_m / rates.van_length_m),
        fits_van=at_venue or measures.width_m <= rates.van_door_m,
        says=f"{measures.built_height_m:.2f} m, {measures.layers} clusters of {measures.balloons}, {measures.pattern}",
    )


def _latex(measures: ColumnMeasures, nominal_in: float, rates: Rates) -> tuple[LatexNeed, ...]:
    counts: Counter[int | None] = Counter()
    for key, count in zip(measures.colours, colour_counts(measures), strict=True):
        counts[key] += count
    return tuple(
        LatexNeed(
            key=key,
            nominal_in=nominal_in,
            shape="round",
            quantity=count,
            sized_diameter_m=measures.sized_diameter_m,
            elongation=rates.elongation_cluster,
            says=f"{count:,} in {measures.layers} clusters of {measures.balloons}",
        )
        for key, count in counts.items()
    )


def _tasks(measures: ColumnMeasures, rates: Rates) -> tuple[Task, ...]:
    waiting = slow_fill_min(measures.total, measures.sized_diameter_m, rates.elongation_cluster, rates)
    clusters = f"{measures.layers} clusters of {measures.balloons}"
    at = measures.built_at
    return (
        Task("make clusters", measures.total, at, says=clusters, extra_min=waiting),
        Task("place clusters", measures.layers, at, says=clusters),
        Task("stand", 1, "venue", says="1 column"),
        Task("dress", 1, "venue", says="1 piece"),
    )
