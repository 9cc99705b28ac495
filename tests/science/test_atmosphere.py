import datetime as dt

import numpy as np
import pytest
from ambiance import Atmosphere
from astral import Observer, sun
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from fleet.science.atmosphere import (
    dew_point_c,
    humidity_fraction,
    midsummer_noon_elevation_deg,
    saturation_vapour_pressure_kpa,
    standard_pressure_kpa,
    station_pressure_kpa,
    sun_elevation_deg,
    track_surface_c,
)
from fleet.science.units import kpa_from_inhg, m_from_ft

ALTITUDES = st.floats(min_value=-500, max_value=4000)
ALTIMETERS = st.floats(min_value=95, max_value=106)
AIR = st.floats(min_value=-30, max_value=60)
LATITUDES = st.floats(min_value=-65, max_value=65)
LONGITUDES = st.floats(min_value=-180, max_value=180)
MOMENTS = st.datetimes(dt.datetime(1950, 1, 1), dt.datetime(2050, 1, 1), timezones=st.just(dt.UTC))  # noqa: DTZ001


def test_the_standard_atmosphere_is_that_of_its_tables():
    # ISO 2533:1975 / U.S. Standard Atmosphere 1976, Table I, pressure at geopotential altitude.
    altitudes_m = [0, 500, 1000, 1500, 2000, 2500, 3000]

    pressures = standard_pressure_kpa(altitudes_m)

    assert pressures == pytest.approx(
        [101.325, 95.4608, 89.8746, 84.5560, 79.4952, 74.6825, 70.1085], abs=2e-4
    )


def test_the_standard_atmosphere_agrees_with_an_independent_library():
    # ambiance, the ICAO standard atmosphere of 1993 (Doc 7488); it asks for geometric heights and tells geopotential.
    air = Atmosphere(np.linspace(-900.0, 10_900.0, 60))

    pressures = standard_pressure_kpa(air.H)

    assert pressures == pytest.approx(air.pressure / 1000, rel=1e-6)


def test_a_height_above_the_sea_may_stand_for_a_geopotential_altitude_at_any_track():
    # ambiance, ICAO standard atmosphere: a gauge that reads to 0.1 kPa cannot tell the two up to 3,000 m.
    heights_m = np.linspace(0.0, 3000.0, 31)

    pressures = standard_pressure_kpa(heights_m)

    assert pressures == pytest.approx(Atmosphere(heights_m).pressure / 1000, abs=0.02)


@pytest.mark.parametrize("altimeter_kpa", [97.0, 101.325, 104.5])
@pytest.mark.parametrize("altitude_m", [0.0, 250.0, 1500.0, 3000.0])
def test_an_altimeter_is_set_so_that_it_shows_the_altitude_of_the_field(altimeter_kpa, altitude_m):
    # ambiance, ICAO standard atmosphere: what an altimeter shows is the altitude of the pressure around it less that
    # of its setting.
    around_kpa = station_pressure_kpa(altimeter_kpa, altitude_m)

    shown_m = Atmosphere.from_pressure(1000 * around_kpa).H - Atmosphere.from_pressure(1000 * altimeter_kpa).H

    assert shown_m == pytest.approx(altitude_m, abs=0.01)


def test_an_altimeter_setting_becomes_the_pressure_around_the_station():
    # Printed worked examples of the altimeter setting formula; which printing is not known, taken from memory
    # (published variants of the formula differ by up to 0.05 kPa).
    settings_kpa = kpa_from_inhg([30.20, 30.37])

    pressures = station_pressure_kpa(settings_kpa, m_from_ft([5045, 7014]))

    assert pressures == pytest.approx([84.977, 79.375], abs=2e-3)


def test_the_altimeter_setting_at_1500_m_is_17_kpa_above_the_pressure_around_the_tire():
    mistake_kpa = 101.325 - station_pressure_kpa(101.325, 1500)

    assert mistake_kpa == pytest.approx(16.77, abs=0.01)


@given(ALTITUDES)
def test_a_standard_altimeter_setting_gives_the_standard_atmosphere(altitude_m):
    assert station_pressure_kpa(101.325, altitude_m) == pytest.approx(
        standard_pressure_kpa(altitude_m), abs=1e-3
    )


@given(ALTIMETERS, ALTITUDES, st.floats(min_value=1, max_value=500))
def test_pressure_falls_with_altitude(altimeter_kpa, altitude_m, climb_m):
    below, above = station_pressure_kpa(altimeter_kpa, [altitude_m, altitude_m + climb_m])

    assert above < below


@given(ALTIMETERS)
def test_at_sea_level_the_altimeter_setting_is_the_pressure(altimeter_kpa):
    assert station_pressure_kpa(altimeter_kpa, 0.0) == pytest.approx(altimeter_kpa, rel=1e-12)


@pytest.mark.parametrize(("given_kpa", "unit"), [(1013.25, "hPa"), (29.92, "inHg")])
def test_an_altimeter_setting_in_another_unit_is_refused(given_kpa, unit):
    with pytest.raises(ValueError, match=r"altimeter_kpa must be at (most 115|least 80), not"):
        station_pressure_kpa(given_kpa, 500)


def test_an_altitude_above_the_validity_range_is_refused_with_limit_and_value():
    with pytest.raises(ValueError, match="altitude_m must be at most 11000, not 12000"):
        standard_pressure_kpa([500, 12000])


def test_vapour_pressure_is_that_of_the_steam_tables():
    # IAPWS Industrial Formulation 1997, saturation pressure at 20, 40, 60, 80 degrees C.
    pressures = saturation_vapour_pressure_kpa([20, 40, 60, 80])

    assert pressures == pytest.approx([2.33921, 7.38443, 19.94580, 47.41472], rel=5e-4)


def test_vapour_pressure_agrees_with_an_independent_library():
    temperatures_c = np.arange(1.0, 91.0, 10.0)

    expected = PropsSI("P", "T", temperatures_c + 273.15, "Q", 0, "Water") / 1000

    assert saturation_vapour_pressure_kpa(temperatures_c) == pytest.approx(expected, rel=1e-3)


def test_a_report_of_18_over_16_is_87_percent_humid():
    # METAR of FAA AIM, T01820159: air 18.2, dew point 15.9; ratio of IAPWS-97 vapour pressures from CoolProp.
    dew_pa, air_pa = PropsSI("P", "T", np.array([15.9, 18.2]) + 273.15, "Q", 0, "Water")

    assert humidity_fraction(18.2, 15.9) == pytest.approx(dew_pa / air_pa, abs=1e-3)


@given(AIR, st.floats(min_value=0.02, max_value=1.0))
def test_dew_point_and_humidity_are_each_others_inverse(air_c, humidity):
    dew_c = dew_point_c(air_c, humidity)

    assert dew_c <= air_c + 1e-9
    assert humidity_fraction(air_c, min(dew_c, air_c)) == pytest.approx(humidity, abs=1e-9)


def test_a_dew_point_above_the_air_is_refused():
    with pytest.raises(ValueError, match="dew_point_c minus air_c must be at most 0, not 2"):
        humidity_fraction(18.0, 20.0)


def test_a_humidity_in_percent_is_refused():
    with pytest.raises(ValueError, match="humidity_fraction must be at most 1, not 60"):
        dew_point_c(20.0, 60.0)


@pytest.mark.parametrize(
    ("air_c", "latitude_deg", "surface_c"),
    [(36, 39.07, 59.910), (40, 39.07, 63.910), (30, 45, 52.186), (20, 52, 39.592)],
)
def test_midsummer_noon_asphalt_follows_the_pavement_formula(air_c, latitude_deg, surface_c):
    # SHRP Superpave, Solaimanian and Kennedy 1993; the formula's coefficients from memory.
    noon_deg = midsummer_noon_elevation_deg(latitude_deg)

    assert track_surface_c(air_c, latitude_deg, noon_deg, noon_deg, 0.0) == pytest.approx(surface_c, abs=5e-4)


@pytest.mark.parametrize("latitude_deg", [42, 48, 52])
def test_midsummer_noon_asphalt_is_near_the_austroads_rule(latitude_deg):
    # Austroads AGPT04K, Appendix D: hottest air + 20 degrees over 41 degrees of latitude (a rounded rule).
    noon_deg = midsummer_noon_elevation_deg(latitude_deg)

    assert track_surface_c(30, latitude_deg, noon_deg, noon_deg, 0.0) == pytest.approx(50, abs=3.5)


def test_an_overcast_sky_leaves_a_quarter_of_the_excess():
    # Kasten and Czeplak 1980: overcast transmits 1 - 0.75 of the clear-sky radiation (from memory).
    clear, overcast = track_surface_c(20, 45, 68, 68.44, [0.0, 1.0]) - 20

    assert overcast == pytest.approx(clear / 4)


def test_a_sky_half_covered_lets_nearly_all_through():
    # Kasten and Czeplak 1980 (from memory): 1 - 0.75 (4/8)^3.4 = 0.9290 of the clear-sky radiation.
    clear, half = track_surface_c(20, 45, 68, 68.44, [0.0, 0.5]) - 20

    assert half / clear == pytest.approx(0.9290, abs=5e-5)


@given(AIR, LATITUDES, st.floats(-90, 90), st.floats(0, 1))
def test_asphalt_lies_between_the_air_and_its_midsummer_noon(air_c, latitude_deg, sun_deg, cloud):
    noon_deg = midsummer_noon_elevation_deg(latitude_deg)

    surface_c = track_surface_c(air_c, latitude_deg, sun_deg, noon_deg, cloud)

    assert air_c <= surface_c <= track_surface_c(air_c, latitude_deg, noon_deg, noon_deg, 0.0) + 1e-9


def test_at_night_asphalt_is_estimated_at_air_temperature():
    assert track_surface_c(15, 52.9, -10, 60.5, 0.3) == 15


def test_a_cloud_cover_in_eighths_is_refused():
    with pytest.raises(ValueError, match="cloud_fraction must be at most 1, not 6"):
        track_surface_c(20, 52.9, 40, 60.5, 6)


def test_the_sun_stands_where_the_solar_position_report_puts_it():
    # Reda and Andreas, NREL/TP-560-34302 (2008), Table A5.1: elevation without refraction 39.872046 degrees.
    at_utc = dt.datetime(2003, 10, 17, 19, 30, 30, tzinfo=dt.UTC)

    assert sun_elevation_deg(39.742476, -105.1786, at_utc) == pytest.approx(39.872, abs=0.01)


@pytest.mark.parametrize(
    ("month", "day", "hour", "minute", "declination_deg"),
    [(3, 20, 3, 6, 0.0), (6, 20, 20, 51, 23.44), (9, 22, 12, 44, 0.0), (12, 21, 9, 21, -23.44)],
)
def test_over_the_pole_the_turning_points_of_the_year_show_the_tilt_of_the_earth(
    month, day, hour, minute, declination_deg
):
    # Equinoxes and solstices of 2024 as almanacs print them, and the tilt (all from memory).
    at_utc = dt.datetime(2024, month, day, hour, minute, tzinfo=dt.UTC)

    assert sun_elevation_deg(90, 0, at_utc) == pytest.approx(declination_deg, abs=0.01)


def test_declination_and_equation_of_time_are_those_of_the_textbook():
    # Meeus, Astronomical Algorithms, examples 25.a and 28.a (from memory): at 0 h on October 13, 1992, the sun stands
    # 7 degrees 47' 06" south and 13 min 42.6 s = 3.4275 degrees ahead of the clock. So it is over 180 - 3.4275 degrees
    # east, and sets at the equator a quarter turn further, at 266.5725 - 360 = -93.4275 degrees.
    at_utc = dt.datetime(1992, 10, 13, tzinfo=dt.UTC)

    assert sun_elevation_deg(90, 0, at_utc) == pytest.approx(-7.785, abs=0.01)
    assert sun_elevation_deg(0, -93.4275, at_utc) == pytest.approx(0, abs=0.01)


@pytest.mark.parametrize("year", [1950, 2024, 2049])
@pytest.mark.parametrize(("latitude_deg", "longitude_deg"), [(45.0, 8.0), (-33.0, 151.0), (68.0, -150.0)])
def test_all_year_the_sun_stands_where_an_independent_library_puts_it(year, latitude_deg, longitude_deg):
    # astral, after the formulas of Meeus, which are good to about 0.01 degrees as well.
    place = Observer(latitude_deg, longitude_deg)
    moments = [dt.datetime(year, 1, 1, tzinfo=dt.UTC) + n * dt.timedelta(days=7, hours=5) for n in range(50)]

    found = [sun_elevation_deg(latitude_deg, longitude_deg, at_utc) for at_utc in moments]

    expected = [sun.elevation(place, at_utc, with_refraction=False) for at_utc in moments]
    assert found == pytest.approx(expected, abs=0.02)


@given(st.floats(-90, 90), LONGITUDES, MOMENTS)
def test_the_sun_never_stands_higher_than_when_it_crosses_the_meridian(latitude_deg, longitude_deg, at_utc):
    elevation_deg = sun_elevation_deg(latitude_deg, longitude_deg, at_utc)

    # Over the pole the sun stands as high as its declination says.
    declination_deg = sun_elevation_deg(90, 0, at_utc)
    assert elevation_deg <= 90 - abs(latitude_deg - declination_deg) + 1e-6
    assert elevation_deg <= midsummer_noon_elevation_deg(latitude_deg) + 0.01


@given(st.floats(-90, 90), st.floats(0, 180), MOMENTS)
def test_at_the_antipodes_the_sun_stands_as_deep_as_it_stands_high_here(latitude_deg, longitude_deg, at_utc):
    here_deg = sun_elevation_deg(latitude_deg, longitude_deg, at_utc)

    assert sun_elevation_deg(-latitude_deg, longitude_deg - 180, at_utc) == pytest.approx(-here_deg, abs=1e-6)


def test_the_same_moment_told_in_two_time_zones_has_one_sun():
    utc = dt.datetime(2025, 7, 1, 13, 0, tzinfo=dt.UTC)
    local = utc.astimezone(dt.timezone(dt.timedelta(hours=-6)))

    assert sun_elevation_deg(44.1, -103.9, utc) == sun_elevation_deg(44.1, -103.9, local)


def test_a_moment_without_a_time_zone_is_refused():
    with pytest.raises(ValueError, match="at_utc must carry its time zone"):
        sun_elevation_deg(52.9, 0.4, dt.datetime(2025, 7, 1, 12, 0))  # noqa: DTZ001


def test_nan_stays_where_it_was():
    assert np.isnan(standard_pressure_kpa([0.0, np.nan])).tolist() == [False, True]
    assert np.isnan(station_pressure_kpa([101.0, np.nan], 200)).tolist() == [False, True]
    assert np.isnan(track_surface_c([20.0, 20.0], 50, 40, 60, [0.0, np.nan])).tolist() == [False, True]
