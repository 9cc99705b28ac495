"""Air and sun around the tire: barometer at altitude, humidity, and a track surface nobody measured.

The pressure in a weather report is reduced to sea level; at 1,500 m it stands some 17 kPa above the
pressure that really surrounds the tire, so it goes through ``station_pressure_kpa`` first.
"""

import datetime as dt
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.science.bounds import within

SEA_LEVEL_KPA: Final = 101.325
SEA_LEVEL_K: Final = 288.15
LAPSE_K_PER_M: Final = 0.0065
STANDARD_EXPONENT: Final = 5.25588
ALTIMETER_EXPONENT: Final = 0.190263
LOWEST_ALTITUDE_M: Final = -1000.0
HIGHEST_ALTITUDE_M: Final = 11000.0
LOWEST_ALTIMETER_KPA: Final = 80.0
HIGHEST_ALTIMETER_KPA: Final = 115.0

BUCK_KPA: Final = 0.61121
BUCK_SLOPE: Final = 18.678
BUCK_CURVE_C: Final = 234.5
BUCK_POLE_C: Final = 257.14
COLDEST_VAPOUR_C: Final = -80.0
HOTTEST_VAPOUR_C: Final = 100.0

CLOUD_LOSS: Final = 0.75
CLOUD_EXPONENT: Final = 3.4

EARTH_TILT_DEG: Final = 23.44
NOON_OF_2000: Final = dt.datetime(2000, 1, 1, 12, tzinfo=dt.UTC)
"""From here the formulas of the sun count their days."""


def standard_pressure_kpa(altitude_m: ArrayLike) -> NDArray[np.float64]:
    """Compute the pressure of the standard atmosphere in kPa absolute at a geopotential altitude in m.

    ``p0 (1 - L H / T0)^5.25588``, valid from -1,000 to 11,000 m, the lowest layer of the model [ISO2533]
    [USSA1976] equation 33a.

    Raises
    ------
    ValueError
        If an altitude is outside that range.
    """
    altitude = within("altitude_m", altitude_m, at_least=LOWEST_ALTITUDE_M, at_most=HIGHEST_ALTITUDE_M)
    return SEA_LEVEL_KPA * (1.0 - LAPSE_K_PER_M * altitude / SEA_LEVEL_K) ** STANDARD_EXPONENT


def station_pressure_kpa(altimeter_kpa: ArrayLike, altitude_m: ArrayLike) -> NDArray[np.float64]:
    """Compute the pressure around a place in kPa absolute from the altimeter setting of its weather report.

    The altimeter setting is the pressure a standard atmosphere would have at sea level; the station stands
    ``altitude_m`` above it: ``(A^n - p0^n L H / T0)^(1/n)`` with n = 0.190263 [FMH1].

    Raises
    ------
    ValueError
        If a setting is outside 80 to 115 kPa (it was given in hPa or inHg) or an altitude outside -1,000 to
        11,000 m.
    """
    altimeter = within(
        "altimeter_kpa", altimeter_kpa, at_least=LOWEST_ALTIMETER_KPA, at_most=HIGHEST_ALTIMETER_KPA
    )
    altitude = within("altitude_m", altitude_m, at_least=LOWEST_ALTITUDE_M, at_most=HIGHEST_ALTITUDE_M)
    drop = SEA_LEVEL_KPA**ALTIMETER_EXPONENT * LAPSE_K_PER_M * altitude / SEA_LEVEL_K
    around: NDArray[np.float64] = (altimeter**ALTIMETER_EXPONENT - drop) ** (1.0 / ALTIMETER_EXPONENT)
    return around


def saturation_vapour_pressure_kpa(temperature_c: ArrayLike) -> NDArray[np.float64]:
    """Compute the saturation vapour pressure over liquid water in kPa [Buck1996].

    Within 0.04 % of [IAPWS97] from 20 to 80 degrees C, within 0.11 % up to 100.

    Raises
    ------
    ValueError
        If a temperature is outside -80 to 100 degrees C.
    """
    return _saturation_kpa("temperature_c", temperature_c)


def humidity_fraction(air_c: ArrayLike, dew_point_c: ArrayLike) -> NDArray[np.float64]:
    """Compute the relative humidity, 0 to 1, from air temperature and dew point over water in degrees C.

    Raises
    ------
    ValueError
        If a dew point is above the air temperature, or either is outside -80 to 100 degrees C.
    """
    excess = np.asarray(dew_point_c, dtype=np.float64) - np.asarray(air_c, dtype=np.float64)
    within("dew_point_c minus air_c", excess, at_most=0.0)
    return _saturation_kpa("dew_point_c", dew_point_c) / _saturation_kpa("air_c", air_c)


def dew_point_c(air_c: ArrayLike, humidity_fraction: ArrayLike) -> NDArray[np.float64]:
    """Compute the dew point over water in degrees C from air temperature and relative humidity, 0 to 1.

    The exact inverse of the vapour pressure formula, whose logarithm leads to a quadratic in the
    temperature [Buck1996].

    Raises
    ------
    ValueError
        If a humidity is not above 0 and at most 1 (it was given in percent), or the air is outside -80 to
        100 degrees C.
    """
    humidity = within("humidity_fraction", humidity_fraction, above=0.0, at_most=1.0)
    logarithm = np.log(humidity * _saturation_kpa("air_c", air_c) / BUCK_KPA)
    slope = BUCK_SLOPE - logarithm
    root = np.sqrt(slope**2 - 4.0 * BUCK_POLE_C * logarithm / BUCK_CURVE_C)
    return (slope - root) * BUCK_CURVE_C / 2.0


def track_surface_c(
    air_c: ArrayLike,
    latitude_deg: ArrayLike,
    sun_elevation_deg: ArrayLike,
    noon_elevation_deg: ArrayLike,
    cloud_fraction: ArrayLike,
) -> NDArray[np.float64]:
    """Estimate the asphalt surface in degrees C for when nobody measured it.

    To be shown as an estimate always. The clear-sky excess over the hottest air of summer [Solaimanian1993] is scaled
    by the sine of the sun's elevation over that of a midsummer noon, and by the share of sunlight that clouds let
    through, ``1 - 0.75 c^3.4`` [Kasten1980]. With the sun down the estimate is the air temperature.

    Parameters
    ----------
    air_c
        Air temperature, -80 to 100.
    latitude_deg
        -90 to 90, either hemisphere.
    sun_elevation_deg
        Height of the sun now, -90 to 90, negative below the horizon.
    noon_elevation_deg
        Height of the sun at a midsummer noon there, above 0 to 90, as from ``midsummer_noon_elevation_deg``: a day's
        own noon would give winter the heat of summer.
    cloud_fraction
        From 0, clear, to 1, overcast.

    Raises
    ------
    ValueError
        If a latitude or elevation is outside its quarter circle, the noon sun does not rise, or a cloud
        fraction is outside 0 to 1 (it was given in eighths or percent).
    """
    air = within("air_c", air_c, at_least=COLDEST_VAPOUR_C, at_most=HOTTEST_VAPOUR_C)
    latitude = within("latitude_deg", latitude_deg, at_least=-90.0, at_most=90.0)
    sun = within("sun_elevation_deg", sun_elevation_deg, at_least=-90.0, at_most=90.0)
    noon = within("noon_elevation_deg", noon_elevation_deg, above=0.0, at_most=90.0)
    cloud = within("cloud_fraction", cloud_fraction, at_least=0.0, at_most=1.0)
    clear_excess = np.maximum(-0.00618 * latitude**2 + 0.2289 * np.abs(latitude) + 24.4, 0.0)
    height = np.clip(np.sin(np.radians(sun)) / np.sin(np.radians(noon)), 0.0, 1.0)
    return np.asarray(air + clear_excess * height * (1.0 - CLOUD_LOSS * cloud**CLOUD_EXPONENT))[()]


def sun_elevation_deg(
    latitude_deg: ArrayLike, longitude_deg: ArrayLike, at_utc: dt.datetime
) -> NDArray[np.float64]:
    """Compute how high the center of the sun stands in degrees, negative below the horizon.

    Without refraction. Declination and equation of time by the low-precision formulas of [Almanac2024], good to about
    0.01 degrees from 1950 to 2050.

    Parameters
    ----------
    latitude_deg, longitude_deg
        -90 to 90, north positive, and -180 to 180, east positive.
    at_utc
        One moment with its time zone, whichever it is.

    Raises
    ------
    ValueError
        If the moment carries no time zone, or a coordinate is outside its range.
    """
    if at_utc.utcoffset() is None:
        raise ValueError(f"at_utc must carry its time zone, not {at_utc.isoformat()} without one")
    latitude = np.radians(within("latitude_deg", latitude_deg, at_least=-90.0, at_most=90.0))
    longitude = np.radians(within("longitude_deg", longitude_deg, at_least=-180.0, at_most=180.0))
    days = (at_utc - NOON_OF_2000) / dt.timedelta(days=1)
    declination, ahead = _sun_rad(days)
    # Days count from a noon, so what exceeds whole ones is how far the Earth has turned since the clock's noon.
    hour_angle = 2.0 * np.pi * days + longitude + ahead
    overhead = np.sin(latitude) * np.sin(declination)
    turning = np.cos(latitude) * np.cos(declination) * np.cos(hour_angle)
    elevation: NDArray[np.float64] = np.degrees(np.arcsin(np.clip(overhead + turning, -1.0, 1.0)))
    return elevation


def midsummer_noon_elevation_deg(latitude_deg: ArrayLike) -> NDArray[np.float64]:
    """Compute the highest noon sun of the year in degrees; 90 between the tropics.

    Raises
    ------
    ValueError
        If a latitude is outside -90 to 90.
    """
    latitude = within("latitude_deg", latitude_deg, at_least=-90.0, at_most=90.0)
    return 90.0 - np.maximum(np.abs(latitude) - EARTH_TILT_DEG, 0.0)


def _saturation_kpa(name: str, temperature_c: ArrayLike) -> NDArray[np.float64]:
    celsius = within(name, temperature_c, at_least=COLDEST_VAPOUR_C, at_most=HOTTEST_VAPOUR_C)
    return BUCK_KPA * np.exp((BUCK_SLOPE - celsius / BUCK_CURVE_C) * celsius / (BUCK_POLE_C + celsius))


def _sun_rad(days: float) -> tuple[float, float]:
    """Return declination and equation of time: by what angle, but for whole turns, the sun is ahead of the clock."""
    anomaly = np.radians(357.528 + 0.9856003 * days)
    mean_longitude = np.radians(280.460 + 0.9856474 * days)
    longitude = mean_longitude + np.radians(1.915 * np.sin(anomaly) + 0.020 * np.sin(2.0 * anomaly))
    tilt = np.radians(23.439 - 0.0000004 * days)
    ascension = np.arctan2(np.cos(tilt) * np.sin(longitude), np.cos(longitude))
    declination = np.arcsin(np.sin(tilt) * np.sin(longitude))
    return float(declination), float(mean_longitude - ascension)
