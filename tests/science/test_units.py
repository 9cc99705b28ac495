import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.science import units

FINITE = st.floats(min_value=-1e4, max_value=1e4)


def test_one_psi_is_the_kpa_of_the_si_guide():
    # NIST Special Publication 811 (2008), Appendix B.8: pound-force per square inch, 6.894757 E+03 Pa.
    assert units.kpa_from_psi(1.0) == pytest.approx(6.894757, abs=5e-7)


def test_one_inch_of_mercury_is_the_kpa_of_the_si_guide():
    # NIST Special Publication 811 (2008), Appendix B.8: inch of mercury, conventional, 3.386389 E+03 Pa.
    assert units.kpa_from_inhg(1.0) == pytest.approx(3.386389, abs=5e-7)


def test_standard_pressure_is_29_92_inches_of_mercury():
    # Federal Meteorological Handbook No. 1: 29.92 inHg is 1013.25 hPa.
    assert units.kpa_from_inhg(29.92) == pytest.approx(101.325, abs=0.01)


def test_water_boils_at_212_fahrenheit():
    assert units.fahrenheit_from_c(100.0) == pytest.approx(212.0)
    assert units.c_from_fahrenheit([32.0, 212.0]) == pytest.approx([0.0, 100.0])


def test_one_thirty_second_of_an_inch_is_the_us_tread_limit():
    # 49 CFR 571.119 S6.4 gives 1/16 inch as 1.6 mm; half of it is 1/32 inch, 0.8 mm.
    assert units.mm_from_inch32(1.0) == pytest.approx(0.8, abs=0.05)
    assert units.mm_from_inch32(32.0) == pytest.approx(25.4)


def test_a_field_elevation_in_feet_becomes_meters():
    assert units.m_from_ft(1000.0) == pytest.approx(304.8)


@given(FINITE)
def test_every_conversion_can_be_taken_back(value):
    pairs = [
        (units.kpa_from_psi, units.psi_from_kpa),
        (units.kpa_from_bar, units.bar_from_kpa),
        (units.c_from_fahrenheit, units.fahrenheit_from_c),
        (units.mm_from_inch32, units.inch32_from_mm),
    ]

    for there, back in pairs:
        assert back(there(value)) == pytest.approx(value, abs=1e-9)


def test_nan_stays_where_it_was():
    assert np.isnan(units.kpa_from_psi([30.0, np.nan])).tolist() == [False, True]
