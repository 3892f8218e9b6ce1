"""How a chart's balloons are tied and loaded: the door to pairs and to strings."""

from decor.calc.picture.pairs import Pairs, plan_pairs, plan_pairs_left_to_right
from decor.calc.picture.strings import HANDY_LENGTH, Bag, Strings, plan_strings, serpentines
from decor.calc.picture.winding import winding

__all__ = [
    "HANDY_LENGTH",
    "Bag",
    "Pairs",
    "Strings",
    "plan_pairs",
    "plan_pairs_left_to_right",
    "plan_strings",
    "serpentines",
    "winding",
]
