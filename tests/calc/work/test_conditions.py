import pytest

from decor.calc.work.conditions import Conditions


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"altitude_m": 90_000.0}, "altitude_m"),
        ({"temperature_k": 20.0}, "temperature_k"),
        ({"drive_minutes": -1.0}, "drive_minutes"),
        ({"distance_km": float("nan")}, "distance_km"),
        ({"doors_to_end_hours": -1.0}, "doors_to_end_hours"),
        ({"load_in_to_doors_min": -1.0}, "load_in_to_doors_min"),
        ({"hours_between_inflation_and_end": -1.0}, "hours_between_inflation_and_end"),
        ({"ceiling_m": 0.0}, "ceiling_m"),
    ],
)
def test_bad_conditions_are_refused_by_name(changes, named):
    with pytest.raises(ValueError, match=named):
        Conditions(**changes)
