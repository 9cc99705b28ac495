import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from fleet.science.inflation import (
    as_read_kpa,
    corrected_kpa,
    gas_temperature_c,
    gauge_after_kpa,
    slope_kpa_per_c,
    start_gauge_kpa,
)
from fleet.science.units import KPA_PER_PSI, kpa_from_psi, psi_from_kpa

SEA_LEVEL_KPA = 101.325
GAUGES = st.floats(min_value=50, max_value=400)
TEMPERATURES = st.floats(min_value=-30, max_value=120)
BAROMETERS = st.floats(min_value=65, max_value=106)


def test_a_car_tire_taken_into_the_arctic_is_that_of_the_textbook():
    # OpenStax College Physics (2012), chapter 13, problem 22: 2.50E5 Pa at 35.0 C, read at -40.0 C: 1.64E5 Pa.
    assert gauge_after_kpa(250, 35.0, -40.0, SEA_LEVEL_KPA) == pytest.approx(164, abs=0.5)


def test_absolute_pressure_is_scaled_not_the_gauge_value():
    # Amontons's law by hand: (30 + 14.696) x 327.15 / 284.15 - 14.696; scaling the gauge value gives 34.54.
    hot_psi = psi_from_kpa(gauge_after_kpa(kpa_from_psi(30), 11, 54, SEA_LEVEL_KPA))

    assert hot_psi == pytest.approx(36.764, abs=1e-3)


@pytest.mark.parametrize(
    ("gauge_kpa", "to_c", "expected_kpa"),
    [(180, 60, 218.646), (200, 60, 241.413), (200, 80, 262.115), (250, 90, 334.589)],
)
@pytest.mark.parametrize("fluid", ["Air", "Nitrogen"])
def test_real_air_and_nitrogen_at_constant_density_read_alike_and_within_one_kpa(
    fluid, gauge_kpa, to_c, expected_kpa
):
    # CoolProp, equations of state of Lemmon et al. 2000 (air) and Span et al. 2000; sealed at 20 degrees C.
    density = PropsSI("D", "P", (gauge_kpa + SEA_LEVEL_KPA) * 1000, "T", 293.15, fluid)
    real_kpa = PropsSI("P", "D", density, "T", to_c + 273.15, fluid) / 1000 - SEA_LEVEL_KPA

    ideal_kpa = gauge_after_kpa(gauge_kpa, 20, to_c, SEA_LEVEL_KPA)

    assert real_kpa == pytest.approx(expected_kpa, abs=0.02)
    assert 0.2 < real_kpa - ideal_kpa < 0.75


def test_vapour_without_liquid_water_swells_like_dry_gas():
    # CoolProp, IAPWS: the vapour of gas saturated at 20 degrees C, heated to 80 at its own density.
    cold_kpa = PropsSI("P", "T", 293.15, "Q", 1, "Water") / 1000
    density = PropsSI("D", "T", 293.15, "Q", 1, "Water")
    hot_kpa = PropsSI("P", "D", density, "T", 353.15, "Water") / 1000

    humid_kpa = gauge_after_kpa(200 - cold_kpa, 20, 80, SEA_LEVEL_KPA) + hot_kpa

    assert humid_kpa == pytest.approx(gauge_after_kpa(200, 20, 80, SEA_LEVEL_KPA), abs=0.01)


def test_a_little_free_water_adds_the_pressure_of_its_vapour():
    # CoolProp: the pressure of 0.01 and 0.1 g of steam in one liter at 80 degrees C.
    steam_kpa = PropsSI("P", "D", np.array([0.01, 0.1]), "T", 353.15, "Water") / 1000

    gained_kpa = gauge_after_kpa(
        200, 20, 80, SEA_LEVEL_KPA, free_water_g_per_l=[0.01, 0.1]
    ) - gauge_after_kpa(200, 20, 80, SEA_LEVEL_KPA)

    assert gained_kpa == pytest.approx(steam_kpa, rel=5e-3)


def test_free_water_beyond_saturation_adds_no_more():
    # CoolProp, IAPWS: saturation at 80 degrees C less the vapour that was there at 20.
    hot_pa, cold_pa = PropsSI("P", "T", np.array([353.15, 293.15]), "Q", 0, "Water")
    ceiling_kpa = (hot_pa - cold_pa * 353.15 / 293.15) / 1000

    gained_kpa = gauge_after_kpa(200, 20, 80, SEA_LEVEL_KPA, free_water_g_per_l=[0.3, 5.0]) - gauge_after_kpa(
        200, 20, 80, SEA_LEVEL_KPA
    )

    assert gained_kpa == pytest.approx([ceiling_kpa, ceiling_kpa], abs=0.02)


def test_a_sealed_tire_carried_uphill_reads_the_pressure_the_air_lost():
    # U.S. Standard Atmosphere 1976, Table I: 95.461, 84.556 and 70.109 kPa at 500, 1500 and 3000 m.
    gained_kpa = gauge_after_kpa(200, 20, 20, SEA_LEVEL_KPA, [95.461, 84.556, 70.109]) - 200

    assert gained_kpa == pytest.approx([5.86, 16.77, 31.22], abs=0.01)


def test_one_psi_per_ten_fahrenheit_is_exact_only_at_38_psi():
    # The rule itself: common practice, no published source; the slope is the gas law's p / T by hand.
    slopes = slope_kpa_per_c(kpa_from_psi([25, 30, 38.07]), 20, SEA_LEVEL_KPA) / KPA_PER_PSI * 10 / 1.8

    assert slopes == pytest.approx([0.752, 0.847, 1.0], abs=1e-3)


@given(GAUGES, TEMPERATURES, TEMPERATURES, BAROMETERS, BAROMETERS)
def test_a_second_reading_tells_the_temperature_back(gauge_kpa, from_c, to_c, before_kpa, after_kpa):
    reading_kpa = gauge_after_kpa(gauge_kpa, from_c, to_c, before_kpa, after_kpa)

    assert gas_temperature_c(gauge_kpa, from_c, reading_kpa, before_kpa, after_kpa) == pytest.approx(
        to_c, abs=1e-9
    )


@given(GAUGES, TEMPERATURES, TEMPERATURES, BAROMETERS, BAROMETERS)
def test_the_start_pressure_reaches_the_hot_pressure(hot_kpa, hot_c, start_c, before_kpa, after_kpa):
    start_kpa = start_gauge_kpa(hot_kpa, hot_c, start_c, before_kpa, after_kpa)

    assert gauge_after_kpa(start_kpa, start_c, hot_c, before_kpa, after_kpa) == pytest.approx(
        hot_kpa, abs=1e-9
    )


@given(GAUGES, TEMPERATURES, st.floats(min_value=1, max_value=60), BAROMETERS)
def test_a_warmer_tire_reads_more_and_water_never_makes_it_less(gauge_kpa, from_c, rise_c, barometer_kpa):
    to_c = min(from_c + rise_c, 100.0)
    from_c = min(from_c, to_c)

    dry_kpa = gauge_after_kpa(gauge_kpa, from_c, to_c, barometer_kpa)
    wet_kpa = gauge_after_kpa(gauge_kpa, from_c, to_c, barometer_kpa, free_water_g_per_l=0.05)

    assert gauge_kpa - 1e-9 <= dry_kpa <= wet_kpa + 1e-9


def test_a_reading_is_corrected_by_its_gauge_and_shown_back_on_it():
    assert corrected_kpa([200.0, 210.0], 3.0) == pytest.approx([197.0, 207.0])
    assert as_read_kpa(corrected_kpa(200.0, -4.0), -4.0) == pytest.approx(200.0)


def test_scalars_and_arrays_give_the_same_numbers():
    singly = [gauge_after_kpa(gauge, 20, 70, 95.0) for gauge in (150.0, 200.0)]

    together = gauge_after_kpa(np.array([150.0, 200.0]), 20, 70, 95.0)

    assert together.tolist() == singly


def test_nan_stays_where_it_was():
    hot_kpa = gauge_after_kpa([200, np.nan, 200], 20, 80, SEA_LEVEL_KPA, free_water_g_per_l=[0, 0, np.nan])

    assert np.isnan(hot_kpa).tolist() == [False, True, True]


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        ((-101.4, 20, 80, 101.325), r"gauge_kpa plus barometer must be above 0, not -0\.075"),
        ((200, -280, 80, 101.325), r"from_c must be above -273\.15, not -280"),
        ((200, 20, 80, 1013.25), r"barometer_kpa must be at most 110, not 1013\.25"),
        ((200, 20, 80, 101.325, 29.92), r"barometer_after_kpa must be at least 30, not 29\.92"),
        ((200, 20, 80, 101.325, None, -0.1), r"free_water_g_per_l must be at least 0, not -0\.1"),
        ((float("inf"), 20, 80, 101.325), r"gauge_kpa must be finite, not inf"),
    ],
)
def test_an_impossible_value_is_refused_with_name_limit_and_value(arguments, sentence):
    with pytest.raises(ValueError, match=sentence):
        gauge_after_kpa(*arguments)
