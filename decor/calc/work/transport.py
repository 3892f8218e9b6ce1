"""The van: how many trips, and how much driving."""

from __future__ import annotations

import math
from dataclasses import dataclass

from decor.calc.checks import check_not_negative
from decor.calc.work.rates import Rates


@dataclass(frozen=True)
class Trips:
    """Loaded trips to the venue, how full they are taken together, and the one-way drives of the whole job.

    One van shuttles. `legs_before_doors` are driven until the last load is there; the strike needs one trip, since
    what was inflated goes into a sack.
    """

    trips: int
    fraction: float
    room_m3: float

    @property
    def legs_before_doors(self) -> int:
        return 2 * self.trips - 1

    @property
    def legs(self) -> int:
        """Out and back for every load, and out and back for the strike."""
        return 2 * self.trips + 2


def van_trips(room_m3: float, rates: Rates) -> Trips:
    """Trips for a room needed [m³]. Raises ValueError naming `room_m3` when it is negative.

    >>> van_trips(12.0, Rates())
    Trips(trips=2, fraction=0.6, room_m3=12.0)
    """
    check_not_negative("room_m3", room_m3)
    trips = max(1, math.ceil(room_m3 / rates.van_room_m3 - 1e-9))
    return Trips(trips, room_m3 / (trips * rates.van_room_m3), room_m3)
