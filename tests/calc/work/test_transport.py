import pytest
from hypothesis import given
from hypothesis import strategies as st

from decor.calc.work.rates import Rates
from decor.calc.work.transport import van_trips

RATES = Rates(van_room_m3=10.0)


@given(st.floats(0, 500))
def test_the_trips_hold_the_room_and_one_fewer_would_not(room_m3):
    got = van_trips(room_m3, RATES)
    assert got.trips * 10.0 >= room_m3 - 1e-6
    assert got.trips == 1 or (got.trips - 1) * 10.0 < room_m3
    assert got.fraction == pytest.approx(room_m3 / (got.trips * 10.0))


def test_drives():
    assert (van_trips(4.0, RATES).legs_before_doors, van_trips(4.0, RATES).legs) == (1, 4)
    assert (van_trips(25.0, RATES).legs_before_doors, van_trips(25.0, RATES).legs) == (5, 8)


def test_a_full_van_is_one_trip():
    assert van_trips(10.0, RATES).trips == 1


def test_negative_room_is_refused():
    with pytest.raises(ValueError, match="room_m3"):
        van_trips(-1.0, RATES)
