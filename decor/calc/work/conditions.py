"""Where and when the work is done, as far as it changes the figures."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

from decor.calc.physics.atmosphere import HIGHEST_M, LOWEST_M


@dataclass(frozen=True)
class Conditions:
    """The venue and the day.

    `drive_minutes` and `distance_km` are one way. `load_in_to_doors_min` is the time between the crew's being
    let in and the guests' coming, None where it is not known. `doors_to_end_hours` is how long the décor must
    stand. `hours_between_inflation_and_end` overrides what the day backwards says, None to work it out.
    `treated` tells that helium balloons are treated to float longer. `ceiling_m` is None where it is not known.
    """

    altitude_m: float = 0.0
    temperature_k: float = 293.15
    indoors: bool = True
    drive_minutes: float = 0.0
    distance_km: float = 0.0
    load_in_to_doors_min: float | None = None
    doors_to_end_hours: float = 6.0
    hours_between_inflation_and_end: float | None = None
    treated: bool = False
    ceiling_m: float | None = None

    def __post_init__(self) -> None:
        for item in fields(self):
            value = getattr(self, item.name)
            if value is not None and not math.isfinite(value):
                raise ValueError(f"{item.name} must be a finite number")
        if not LOWEST_M <= self.altitude_m <= HIGHEST_M:
            raise ValueError(f"altitude_m must be between {LOWEST_M:g} and {HIGHEST_M:g}")
        if not 200.0 <= self.temperature_k <= 350.0:
            raise ValueError("temperature_k must be between 200 and 350 K")
        for name in ("drive_minutes", "distance_km", "doors_to_end_hours"):
            if getattr(self, name) < 0:
                raise ValueError(f"{name} must be 0 or more")
        for name in ("load_in_to_doors_min", "hours_between_inflation_and_end"):
            if getattr(self, name) is not None and getattr(self, name) < 0:
                raise ValueError(f"{name} must be 0 or more")
        if self.ceiling_m is not None and self.ceiling_m <= 0:
            raise ValueError("ceiling_m must be above 0")
