"""Units, limits, and the air around the tire."""

import datetime as dt

import numpy as np

from fleet.science import atmosphere, bounds, units
from tests.science.promises.row import Row

NOON_UTC = dt.datetime(2026, 6, 21, 12, 0, tzinfo=dt.UTC)


def conversion(function, argument):
    return Row(function, {argument: (31.0, 250.5)}, free=(argument,), endless=(argument,))


ALTITUDE = (
    ("altitude_m", -1001.0, "at least -1000, not -1001"),
    ("altitude_m", 12000.0, "at most 11000, not 12000"),
)
LATITUDE = (
    ("latitude_deg", -90.5, "at least -90, not -90.5"),
    ("latitude_deg", 91.0, "at most 90, not 91"),
)


def vapour(name):
    return ((name, -81.0, "at least -80, not -81"), (name, 101.0, "at most 100, not 101"))


ROWS = [
    conversion(units.kpa_from_psi, "pressure_psi"),
    conversion(units.psi_from_kpa, "pressure_kpa"),
    conversion(units.kpa_from_bar, "pressure_bar"),
    conversion(units.bar_from_kpa, "pressure_kpa"),
    conversion(units.kpa_from_inhg, "pressure_inhg"),
    conversion(units.c_from_fahrenheit, "temperature_f"),
    conversion(units.fahrenheit_from_c, "temperature_c"),
    conversion(units.mm_from_inch32, "depth_inch32"),
    conversion(units.inch32_from_mm, "depth_mm"),
    conversion(units.m_from_ft, "altitude_ft"),
    Row(
        bounds.within,
        {"values": (1.0, 4.0)},
        {"name": "values", "above": 0.5, "at_least": 1.0, "at_most": 4.0},
        (
            ("values", 0.5, "above 0.5, not 0.5"),
            ("values", 0.9, "at least 1, not 0.9"),
            ("values", 4.1, "at most 4, not 4.1"),
            ("values", -np.inf, "finite, not -inf"),
        ),
        free=("above", "at_least", "at_most"),
    ),
    Row(
        bounds.kelvin,
        {"temperature_c": (20.0, -40.0)},
        {"name": "temperature_c"},
        (("temperature_c", -273.15, "above -273.15, not -273.15"),),
    ),
    Row(
        bounds.barometer,
        {"barometer_kpa": (101.3, 84.6)},
        {"name": "barometer_kpa"},
        (
            ("barometer_kpa", 29.92, "at least 30, not 29.92"),
            ("barometer_kpa", 1013.0, "at most 110, not 1013"),
        ),
    ),
    Row(
        bounds.absolute,
        {"gauge_kpa": (230.0, -20.0)},
        {"name": "gauge_kpa", "around_kpa": np.array(101.3)},
        (("gauge_kpa", -101.4, "plus barometer must be above 0, not -0.1"),),
        free=("around_kpa",),
    ),
    Row(atmosphere.standard_pressure_kpa, {"altitude_m": (0.0, 1500.0)}, refused=ALTITUDE),
    Row(
        atmosphere.station_pressure_kpa,
        {"altimeter_kpa": (101.325, 99.0), "altitude_m": (0.0, 1500.0)},
        refused=(
            *ALTITUDE,
            ("altimeter_kpa", 29.92, "at least 80, not 29.92"),
            ("altimeter_kpa", 1013.25, "at most 115, not 1013.25"),
        ),
    ),
    Row(
        atmosphere.saturation_vapour_pressure_kpa,
        {"temperature_c": (20.0, 80.0)},
        refused=vapour("temperature_c"),
    ),
    Row(
        atmosphere.humidity_fraction,
        {"air_c": (20.0, 31.0), "dew_point_c": (12.0, -5.0)},
        refused=(
            ("dew_point_c", 22.0, "at most 0, not 2"),
            ("dew_point_c", -81.0, "at least -80, not -81"),
            ("air_c", 101.0, "at most 100, not 101"),
        ),
    ),
    Row(
        atmosphere.dew_point_c,
        {"air_c": (20.0, 31.0), "humidity_fraction": (0.4, 1.0)},
        refused=(
            *vapour("air_c"),
            ("humidity_fraction", 0.0, "above 0, not 0"),
            ("humidity_fraction", 60.0, "at most 1, not 60"),
        ),
    ),
    Row(
        atmosphere.track_surface_c,
        {
            "air_c": (20.0, 31.0),
            "latitude_deg": (44.0, -33.0),
            "sun_elevation_deg": (50.0, -3.0),
            "noon_elevation_deg": (69.0, 80.0),
            "cloud_fraction": (0.0, 0.75),
        },
        refused=(
            *vapour("air_c"),
            *LATITUDE,
            ("sun_elevation_deg", -91.0, "at least -90, not -91"),
            ("sun_elevation_deg", 91.0, "at most 90, not 91"),
            ("noon_elevation_deg", 0.0, "above 0, not 0"),
            ("noon_elevation_deg", 90.5, "at most 90, not 90.5"),
            ("cloud_fraction", -0.1, "at least 0, not -0.1"),
            ("cloud_fraction", 6.0, "at most 1, not 6"),
        ),
    ),
    Row(
        atmosphere.sun_elevation_deg,
        {"latitude_deg": (44.0, -33.0), "longitude_deg": (-104.0, 5.0)},
        {"at_utc": NOON_UTC},
        (
            *LATITUDE,
            ("longitude_deg", -181.0, "at least -180, not -181"),
            ("longitude_deg", 190.0, "at most 180, not 190"),
            ("at_utc", NOON_UTC.replace(tzinfo=None), "its time zone, not 2026-06-21T12:00:00 without one"),
        ),
    ),
    Row(atmosphere.midsummer_noon_elevation_deg, {"latitude_deg": (44.0, -33.0)}, refused=LATITUDE),
]

EXEMPT: dict[str, str] = {}
