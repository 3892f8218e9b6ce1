"""NIST SP 811 (2008), appendix B.8: 1 ft³ = 2.831685E-02 m³, 1 in = 2.54E-02 m, 1 psi = 6.894757E+03 Pa."""

import pytest

from decor.calc import units


def test_factors_are_those_of_nist_sp_811():
    assert units.inches_to_m(1) == 0.0254
    assert units.feet_to_m(1) == pytest.approx(0.3048, rel=1e-15)
    assert units.cubic_feet_to_m3(1) == pytest.approx(2.831685e-2, rel=1e-6)
    assert units.psi_to_pa(1) == pytest.approx(6.894757e3, rel=1e-6)
    assert units.pounds_to_kg(1) == 0.45359237
    assert units.bar_to_pa(200) == 2e7
    assert units.celsius_to_k(-273.15) == 0.0


@pytest.mark.parametrize(
    ("there", "back"),
    [
        (units.inches_to_m, units.m_to_inches),
        (units.feet_to_m, units.m_to_feet),
        (units.cubic_feet_to_m3, units.m3_to_cubic_feet),
    ],
)
def test_there_and_back(there, back):
    assert back(there(7.3)) == pytest.approx(7.3, rel=1e-14)
