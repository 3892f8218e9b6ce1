from decor.calc.pieces.column import ColumnMeasures
from decor.calc.pieces.panel import PanelMeasures
from decor.calc.work.cautions import CAUTIONS, cautions_for
from decor.calc.work.conditions import Conditions
from decor.calc.work.rates import Rates

PANEL = PanelMeasures(20, 20, 0.125, 20, 20, 0.119, ((1, 400),)).needs(Rates())
LOW_COLUMN = ColumnMeasures(1.2, 0.25, (1,)).needs(Rates())
ALWAYS = {"choking", "latex", "eyes", "exits", "scraps", "codes"}


def test_some_apply_to_every_job():
    assert set(cautions_for((LOW_COLUMN,), Conditions())) == ALWAYS


def test_helium_brings_its_own():
    got = set(cautions_for((LOW_COLUMN,), Conditions(), helium=True))
    assert got == ALWAYS | {"helium", "cylinders", "release"}


def test_a_panel_hangs_and_is_reached_by_ladder():
    assert set(cautions_for((LOW_COLUMN, PANEL), Conditions())) == ALWAYS | {"ladders", "hanging"}


def test_outdoors_there_is_wind_and_sun():
    assert set(cautions_for((LOW_COLUMN,), Conditions(indoors=False))) == ALWAYS | {"wind", "sun", "release"}


def test_they_come_in_the_tables_order_and_say_who_decides():
    got = cautions_for((PANEL,), Conditions(indoors=False), helium=True)
    assert list(got) == list(CAUTIONS)
    assert "Local codes and licensed practice decide" in CAUTIONS["codes"]
