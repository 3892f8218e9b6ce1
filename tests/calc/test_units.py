"""NIST SP 811 (2008), appendix B.8: 1 in = 2.54E-02 m, 1 ft = 3.048E-01 m, 1 bar = 1.0E+05 Pa."""

import pytest

from decor.calc import units


def test_factors_are_those_of_nist_sp_811():
    assert units.inches_to_m(1) == 0.0254
    assert units.feet_to_m(1) == pytest.approx(0.3048, rel=1e-15)
    assert units.bar_to_pa(200) == 2e7
    assert units.celsius_to_k(-273.15) == 0.0


@pytest.mark.parametrize(
    ("there", "back"),
    [
        (units.inches_to_m, units.m_to_inches),
        (units.feet_to_m, units.m_to_feet),
    ],
)
def test_there_and_back(there, back):
    assert back(there(7.3)) == pytest.approx(7.3, rel=1e-14)
