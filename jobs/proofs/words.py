"""What a proof says to a client, and what the client says with each answer."""

from collections.abc import Mapping
from typing import Any

from decor.calc.units import m_to_feet
from decor.studio.templatetags.desk import money_words
from jobs.proofs.models import ProofAnswer

Action = ProofAnswer.Action

# The estimate's cautions that concern whoever lives with the piece; those for the crew's hands stay with the crew.
CLIENT_CAUTIONS = {
    "choking": "Burst and empty balloons can choke children: keep both away from them.",
    "latex": "Balloons are natural rubber latex. Tell us of any allergy.",
    "eyes": "Balloons can burst without warning.",
    "exits": "We block no exit, sprinkler, detector or light, and may have to move a piece for that.",
    "wind": "Outdoors, wind can make us weigh a piece down, take it down early or leave it out.",
    "sun": "In the sun, balloons turn dull and can burst within hours.",
    "release": "Balloons must not be let go outdoors.",
    "helium": "Never breathe helium.",
}

# Work for which the client pays, in the order of the day; each is named when the estimate counts it.
INCLUDED = (("drive", "delivery"), ("load in", "putting up"), ("strike", "taking down"))


def cautions_for_client(keys: list[str]) -> list[str]:
    return [words for key, words in CLIENT_CAUTIONS.items() if key in keys]


def included_words(task_kinds: set[str]) -> str:
    parts = ["All materials", *(words for kind, words in INCLUDED if kind in task_kinds)]
    return parts[0] + "." if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}."


def size_words(*, width_m: float, height_m: float, count: int, imperial: bool) -> str:
    """3.3 m wide, 2.6 m high.

    >>> size_words(width_m=3.28, height_m=2.6, count=2, imperial=False)
    'Each 3.3 m wide, 2.6 m high'
    >>> size_words(width_m=3.048, height_m=1.524, count=1, imperial=True)
    '10 ft wide, 5 ft high'
    """
    wide, high = (f"{_short(m_to_feet(v))} ft" if imperial else f"{_short(v)} m" for v in (width_m, height_m))
    return f"{'Each ' if count > 1 else ''}{wide} wide, {high} high"


def _short(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def intent(action: str, payload: Mapping[str, Any]) -> str:
    """The sentence above the button; kept word for word with the answer."""
    what = f"version {payload['version']} of the proof for “{payload['event']['title']}”"
    price = payload["price"]
    total = money_words(price["total"], price["currency"])
    return {
        Action.APPROVE: f"I approve {what}: the pictures, sizes and colours, the total of {total} with tax, "
        "and the terms.",
        Action.CHANGE: f"I ask for a change to {what}. I do not approve it as it is.",
        Action.DECLINE: f"I decline {what}.",
    }[Action(action)]
