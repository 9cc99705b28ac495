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
DAYS_PER_YEAR: Final = 365.0
LAST_DAY_OF_YEAR: Final = 366.0
MINUTES_PER_DAY: Final = 1440.0
MINUTES_PER_DEG: Final = 4.0


def standard_pressure_kpa(altitude_m: ArrayLike) -> NDArray[np.float64]:
    """Compute the pressure of the standard atmosphere in kPa absolute at a geopotential altitude in m.

    Valid from -1,000 to 11,000 m, the lowest layer of the model [ISO2533] [USSA1976].

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
    ``altitude_m`` above it [FMH1].

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
    celsius = within("temperature_c", temperature_c, at_least=COLDEST_VAPOUR_C, at_most=HOTTEST_VAPOUR_C)
    return BUCK_KPA * np.exp((BUCK_SLOPE - celsius / BUCK_CURVE_C) * celsius / (BUCK_POLE_C + celsius))


def humidity_fraction(air_c: ArrayLike, dew_point_c: ArrayLike) -> NDArray[np.float64]:
    """Compute the relative humidity, 0 to 1, from air temperature and dew point over water in degrees C.

    Raises
    ------
    ValueError
        If a dew point is above the air temperature, or either is outside -80 to 100 degrees C.
    """
    excess = np.asarray(dew_point_c, dtype=np.float64) - np.asarray(air_c, dtype=np.float64)
    within("dew_point_c minus air_c", excess, at_most=0.0)
    return saturation_vapour_pressure_kpa(dew_point_c) / saturation_vapour_pressure_kpa(air_c)


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
    logarithm = np.log(humidity * saturation_vapour_pressure_kpa(air_c) / BUCK_KPA)
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

    To be shown as an estimate always. The clear-sky excess over the hottest air of summer [Solaimanian1993]
    belongs to ``noon_elevation_deg``, the height of the sun at a midsummer noon there
    (``midsummer_noon_elevation_deg``): a day's own noon would give winter the heat of summer. It is scaled by
    the sine of the sun's elevation and by the share of sunlight that ``cloud_fraction`` (0 clear to 1
    overcast) lets through [Kasten1980]. With the sun down the estimate is the air temperature.

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

    Without refraction. Declination and equation of time as short series of the day of the
    year [Spencer1971], good to about half a degree. North and east positive.

    Raises
    ------
    ValueError
        If the moment carries no time zone, or a coordinate is outside its range.
    """
    if at_utc.utcoffset() is None:
        raise ValueError(f"at_utc must carry its time zone, not {at_utc.isoformat()} without one")
    latitude = np.radians(within("latitude_deg", latitude_deg, at_least=-90.0, at_most=90.0))
    longitude = within("longitude_deg", longitude_deg, at_least=-180.0, at_most=180.0)
    moment = at_utc.astimezone(dt.UTC)
    minutes = moment.hour * 60.0 + moment.minute + moment.second / 60.0
    day = moment.timetuple().tm_yday + minutes / MINUTES_PER_DAY - 0.5
    solar_minutes = minutes + MINUTES_PER_DEG * longitude + _equation_of_time_min(day)
    hour_angle = np.radians(solar_minutes / MINUTES_PER_DEG - 180.0)
    declination = _declination_rad(day)
    overhead = np.sin(latitude) * np.sin(declination)
    turning = np.cos(latitude) * np.cos(declination) * np.cos(hour_angle)
    elevation: NDArray[np.float64] = np.degrees(np.arcsin(np.clip(overhead + turning, -1.0, 1.0)))
    return elevation


def noon_elevation_deg(latitude_deg: ArrayLike, day_of_year: ArrayLike) -> NDArray[np.float64]:
    """Compute how high the sun stands at its highest on a day, 1 for January 1, in degrees [Spencer1971].

    Raises
    ------
    ValueError
        If a latitude is outside -90 to 90 or a day outside 1 to 366.
    """
    latitude = within("latitude_deg", latitude_deg, at_least=-90.0, at_most=90.0)
    day = within("day_of_year", day_of_year, at_least=1.0, at_most=LAST_DAY_OF_YEAR)
    return 90.0 - np.abs(latitude - np.degrees(_declination_rad(day)))


def midsummer_noon_elevation_deg(latitude_deg: ArrayLike) -> NDArray[np.float64]:
    """Compute the highest noon sun of the year in degrees; 90 between the tropics.

    Raises
    ------
    ValueError
        If a latitude is outside -90 to 90.
    """
    latitude = within("latitude_deg", latitude_deg, at_least=-90.0, at_most=90.0)
    return 90.0 - np.maximum(np.abs(latitude) - EARTH_TILT_DEG, 0.0)


def _year_angle_rad(day_of_year: ArrayLike) -> NDArray[np.float64]:
    return 2.0 * np.pi * (np.asarray(day_of_year, dtype=np.float64) - 1.0) / DAYS_PER_YEAR


def _declination_rad(day_of_year: ArrayLike) -> NDArray[np.float64]:
    angle = _year_angle_rad(day_of_year)
    first = 0.006918 - 0.399912 * np.cos(angle) + 0.070257 * np.sin(angle)
    second = -0.006758 * np.cos(2 * angle) + 0.000907 * np.sin(2 * angle)
    return first + second - 0.002697 * np.cos(3 * angle) + 0.00148 * np.sin(3 * angle)


def _equation_of_time_min(day_of_year: ArrayLike) -> NDArray[np.float64]:
    angle = _year_angle_rad(day_of_year)
    first = 0.000075 + 0.001868 * np.cos(angle) - 0.032077 * np.sin(angle)
    second = -0.014615 * np.cos(2 * angle) - 0.040849 * np.sin(2 * angle)
    return 229.18 * (first + second)
