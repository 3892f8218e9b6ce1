"""The usual cautions, in plain words. They inform; local codes and licensed practice decide."""

from __future__ import annotations

from collections.abc import Sequence

from decor.calc.pieces.needs import LADDER_FROM_M, PieceNeeds
from decor.calc.work.conditions import Conditions

CAUTIONS: dict[str, str] = {
    "helium": "Helium pushes out the air you breathe. Open doors and windows, never breathe it in, and let no one "
    "sleep or wait in a small room with a leaking cylinder.",
    "cylinders": "Cylinders are heavy and under high pressure. Keep them upright, strapped, capped in the van and "
    "away from heat.",
    "choking": "Uninflated and burst balloons can choke children. Keep both away from them and pick up every piece.",
    "latex": "Some people are allergic to latex. Ask the venue, and keep balloons away from anyone who is.",
    "eyes": "Balloons burst without warning. Keep your face away and wear glasses while inflating.",
    "exits": "Block no exit, sprinkler, smoke or heat detector, exit sign or light.",
    "ladders": "Work from a ladder that stands firm, with someone at its foot. Never lean out, never stand on the "
    "top step.",
    "hanging": "Nothing hangs over people unless points, lines and knots bear it with plenty to spare. Someone "
    "qualified decides which points may be used.",
    "wind": "Wind pushes hard on balloons. Weigh the piece down, watch the forecast, and take it down before it goes.",
    "sun": "Sun dulls and bursts balloons within hours. Put them up late, and in the shade where you can.",
    "release": "Never let balloons go outdoors. Keep metallic ones away from power lines.",
    "scraps": "Take every scrap, string and burst balloon away with you.",
    "codes": "Local codes and licensed practice decide; these notes do not replace them.",
}
"""Key -> words, in the order in which they are shown."""


def cautions_for(needs: Sequence[PieceNeeds], conditions: Conditions, *, helium: bool = False) -> tuple[str, ...]:
    """Keys of the cautions that apply to these pieces there, in the table's order.

    >>> "wind" in cautions_for((), Conditions(indoors=False))
    True
    """
    applies = {
        "helium": helium,
        "cylinders": helium,
        "ladders": any(piece.height_m > LADDER_FROM_M for piece in needs),
        "hanging": any(piece.hanging for piece in needs),
        "wind": not conditions.indoors,
        "sun": not conditions.indoors,
        "release": helium or not conditions.indoors,
    }
    return tuple(key for key in CAUTIONS if applies.get(key, True))
