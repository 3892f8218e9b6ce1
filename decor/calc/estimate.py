"""An event's estimate: its pieces, the studio's rates and prices, and the conditions, composed into figures."""

from __future__ import annotations

from decor.calc.figures import Estimate, to_json
from decor.calc.inputs import EstimateInput, PieceInput, input_key
from decor.calc.pieces.needs import HardwareNeed, LatexNeed, PieceNeeds, SheetNeed, Task
from decor.calc.work.conditions import Conditions
from decor.calc.work.price import Cylinder, Prices, SheetCost, ToBuy
from decor.calc.work.rates import Rates

__all__ = [
    "Conditions",
    "Cylinder",
    "Estimate",
    "EstimateInput",
    "HardwareNeed",
    "LatexNeed",
    "PieceInput",
    "PieceNeeds",
    "Prices",
    "Rates",
    "SheetCost",
    "SheetNeed",
    "Task",
    "ToBuy",
    "input_key",
    "to_json",
]
