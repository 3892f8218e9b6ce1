"""The studio's rates: how fast, how much and how sure, each with its unit, its range and where it comes from.

Every scalar field is a setting of the studio. `dataclasses.fields(Rates)` gives for each its metadata: `label`
(plain words), `unit`, `source`, `low` and `high` (the range that is accepted). `sizes` is a table and is edited
row by row.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Any

from decor.calc.physics.balloons import DEFAULT_SIZES, NominalSize

MEMORY = "from memory, no source"
PRACTICE = "common practice, no source"
STUDIO = "studio default, no source"

PER_PERSON_HOUR = "per person-hour"


def _rate(default: float, label: str, unit: str, source: str = MEMORY, *, low: float = 0.0, high: float = 1e6) -> Any:
    return field(
        default=default,
        metadata={"label": label, "unit": unit, "source": source, "low": low, "high": high},
    )


def _speed(default: float, label: str, source: str = MEMORY) -> Any:
    return _rate(default, label, PER_PERSON_HOUR, source, low=1.0, high=100_000.0)


@dataclass(frozen=True)
class Rates:
    """All that an estimate assumes about this studio; every figure may be changed."""

    inflate_balloons_per_hour: float = _speed(250.0, "Inflate, size and tie in pairs, balloons")
    inflate_strings_balloons_per_hour: float = _speed(300.0, "Inflate, size and tie in strings, balloons")
    inflate_covered_fill_s: float = _rate(
        2.0, "Filling time that these speeds allow for, a balloon", "s", STUDIO, high=120.0
    )
    load_paired_cells_per_hour: float = _speed(700.0, "Load a panel, paired, cells")
    load_two_sided_cells_per_hour: float = _speed(400.0, "Load a panel, two-sided, cells")
    load_sandwich_cells_per_hour: float = _speed(350.0, "Load a panel, sandwich, both sheets, cells")
    load_strung_cells_per_hour: float = _speed(1200.0, "Load a panel, strung, cells")
    mixed_pair_s: float = _rate(4.0, "A pair of two colours takes longer to sort and tie by", "s", STUDIO, high=300.0)
    between_rows_factor: float = _rate(
        1.2, "Loading a pair between two rows, against one along a row", "× the time", PRACTICE, low=1.0, high=5.0
    )
    first_row_factor: float = _rate(
        1.5, "Loading the first row, with nothing to push against", "× the time", STUDIO, low=1.0, high=10.0
    )
    first_rows: int = _rate(3, "Rows until the loading is at its usual speed", "rows", STUDIO, low=1, high=50)
    string_balloons: int = _rate(50, "Balloons on a string that one bag holds", "balloons", STUDIO, low=2, high=1000)
    string_bag_min: float = _rate(1.0, "Bag a string and put its slip to it", "min", STUDIO, high=60.0)
    string_change_s: float = _rate(1.5, "Reach for another colour while tying a string", "s", STUDIO, high=60.0)
    stiffness_two_sided: float = _rate(
        4.0, "Stiffness of a two-sided panel, a single layer being 1", "times", STUDIO, low=0.1, high=1000.0
    )
    stiffness_sandwich: float = _rate(
        20.0, "Stiffness of a sandwich, a single layer being 1", "times", PRACTICE, low=0.1, high=1000.0
    )
    new_hands_factor: float = _rate(
        1.6, "Hands that are new to it take, against practised ones", "× the time", STUDIO, low=1.0, high=10.0
    )
    fastest_hands_factor: float = _rate(
        0.6, "The fastest hands take, against practised ones", "× the time", STUDIO, low=0.05, high=1.0
    )
    open_sheet_min: float = _rate(6.0, "Unpack and open a sheet", "min", high=240.0)
    join_tab_s: float = _rate(5.0, "Wrap a join tab", "s", high=600.0)
    strip_min: float = _rate(1.0, "Pull off an edge strip", "min", high=60.0)
    opening_strips_per_sheet: float = _rate(
        1.0, "Edge strips that opening a sheet needs off", "strips", STUDIO, high=4.0
    )
    clusters_made_per_hour: float = _speed(50.0, "Make clusters of four, inflating included, clusters")
    clusters_placed_per_hour: float = _speed(50.0, "Place clusters on a pole, clusters")
    stand_column_min: float = _rate(10.0, "Stand a column, with pole and base", "min", STUDIO, high=240.0)
    rig_up_to_10_m2_min: float = _rate(40.0, "Rig a panel up to 10 m²", "min", high=960.0)
    rig_people: int = _rate(2, "People to rig a panel", "people", low=1, high=20)
    dress_piece_min: float = _rate(5.0, "Dress a piece, at the venue", "min", STUDIO, high=240.0)
    pack_min_per_m3: float = _rate(4.0, "Pack and load the van", "min per m³", STUDIO, high=240.0)
    load_in_min_per_m3: float = _rate(6.0, "Unload and carry in", "min per m³", STUDIO, high=240.0)
    strike_share_of_install: float = _rate(1 / 3, "Strike, as a share of the install", "share", high=3.0)
    dispose_balloons_per_hour: float = _speed(1500.0, "Burst and bag balloons after the event", STUDIO)
    setup_min: float = _rate(5.0, "Get ready for a kind of work, at each place", "min", STUDIO, high=120.0)
    spread_workshop: float = _rate(
        1.25, "Four jobs in five stay under, in the workshop", "× the middle", low=1.0, high=1.9
    )
    spread_venue: float = _rate(
        1.4, "Four jobs in five stay under, on site and on the road", "× the middle", low=1.0, high=1.9
    )
    spread_together: float = _rate(
        0.5, "How far a slow job is slow in everything (0 not at all, 1 wholly)", "share", STUDIO, high=1.0
    )
    spares_share: float = _rate(0.04, "Spare balloons", "share", high=1.0)
    helium_loss_share: float = _rate(0.05, "Helium lost at the nozzle and in burst ones", "share", PRACTICE, high=0.9)
    balloon_overpressure_pa: float = _rate(
        2000.0, "Pressure inside a balloon above the air's (1 to 4 kPa)", "Pa", MEMORY, high=20_000.0
    )
    treated_float_factor: float = _rate(10.0, "Treated balloons float longer by", "times", MEMORY, low=1.0, high=100.0)
    nozzle_flow_m3_per_min: float = _rate(0.4, "Air from one nozzle", "m³ per min", STUDIO, low=0.001, high=100.0)
    elongation_panel: float = _rate(
        1.0, "Length over width of a balloon in a panel", "ratio", PRACTICE, low=0.5, high=3.0
    )
    elongation_cluster: float = _rate(
        1.1, "Length over width of a balloon in a cluster", "ratio", STUDIO, low=0.5, high=3.0
    )
    packing_room_factor: float = _rate(
        1.15, "Room in the van, as a multiple of a built piece's box", "times", STUDIO, low=1.0, high=5.0
    )
    flat_room_m3_per_1000: float = _rate(
        0.02, "Room for 1,000 balloons before they are inflated", "m³", STUDIO, high=10.0
    )
    flat_sheet_room_m3: float = _rate(0.003, "Room for a packed sheet", "m³", STUDIO, high=10.0)
    hardware_room_m3: float = _rate(0.03, "Room for a column's pole and base", "m³", STUDIO, high=10.0)
    tools_room_m3: float = _rate(0.3, "Room for tools and inflators, a job", "m³", STUDIO, high=100.0)
    cylinder_room_m3: float = _rate(0.15, "Room for a helium cylinder", "m³", STUDIO, high=10.0)
    hang_point_every_m: float = _rate(0.8, "A panel hangs from a point every", "m", STUDIO, low=0.05, high=20.0)
    pole_kg: float = _rate(1.0, "A column's pole", "kg", STUDIO, high=100.0)
    base_kg: float = _rate(6.0, "A column's base plate", "kg", STUDIO, high=500.0)
    van_room_m3: float = _rate(10.0, "Room in the van", "m³", STUDIO, low=0.1, high=200.0)
    van_door_m: float = _rate(1.7, "The van's door, its smaller side", "m", STUDIO, low=0.1, high=10.0)
    van_length_m: float = _rate(3.2, "The van's length inside", "m", STUDIO, low=0.1, high=20.0)
    people_in_van: int = _rate(2, "People who ride in the van", "people", STUDIO, low=1, high=20)
    most_people: int = _rate(8, "Most people put on one job", "people", STUDIO, low=1, high=100)
    workday_min: float = _rate(480.0, "A working day", "min", STUDIO, low=30.0, high=1440.0)
    ready_before_doors_min: float = _rate(
        30.0, "All stands before doors, where no load-in time is known", "min", STUDIO, high=1440.0
    )
    sizes: tuple[NominalSize, ...] = DEFAULT_SIZES

    def __post_init__(self) -> None:
        for item in scalar_fields():
            value = getattr(self, item.name)
            low, high = item.metadata["low"], item.metadata["high"]
            if isinstance(value, bool) or not math.isfinite(value) or not low <= value <= high:
                raise ValueError(f"{item.name} must be between {low:g} and {high:g} {item.metadata['unit']}")
        if not self.sizes:
            raise ValueError("sizes must hold at least one balloon size")


def scalar_fields() -> list[Any]:
    """The settings of `Rates` that are single figures, in the order in which a form shows them."""
    return [item for item in fields(Rates) if "label" in item.metadata]


PARTS = (
    ("Inflating", "inflate_balloons_per_hour"),
    ("Loading a panel", "load_paired_cells_per_hour"),
    ("Strings", "string_balloons"),
    ("How stiff a panel is", "stiffness_two_sided"),
    ("Hands", "new_hands_factor"),
    ("Sheets", "open_sheet_min"),
    ("Columns and arches", "clusters_made_per_hour"),
    ("At the venue", "rig_up_to_10_m2_min"),
    ("How sure an estimate is", "spread_workshop"),
    ("Balloons and gas", "spares_share"),
    ("Room and weight", "packing_room_factor"),
    ("Van and crew", "van_room_m3"),
)
"""The parts of the form of all rates: a part's title and its first rate."""


def rate_parts() -> list[tuple[str, list[Any]]]:
    """The settings of `Rates` that are single figures, under their titles, each rate once."""
    titles = {first: title for title, first in PARTS}
    parts: list[tuple[str, list[Any]]] = []
    for item in scalar_fields():
        if item.name in titles:
            parts.append((titles[item.name], []))
        parts[-1][1].append(item)
    return parts


def rates_from_plain(plain: Mapping[str, Any]) -> Rates:
    """Rates from stored figures; what is missing keeps its default.

    Raises ValueError naming a figure that is unknown or out of range.

    >>> rates_from_plain({"spares_share": 0.06}).spares_share
    0.06
    """
    known = {item.name for item in fields(Rates)}
    for name in plain:
        if name not in known:
            raise ValueError(f"{name} is not one of the rates")
    values = dict(plain)
    if "sizes" in values:
        values["sizes"] = tuple(NominalSize(**size) for size in values["sizes"])
    return Rates(**values)
