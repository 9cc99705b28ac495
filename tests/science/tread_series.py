"""Published series of tread depths, and one tire to ask about, shared by the tests of wear."""

import numpy as np

from fleet.science.wear import RatePrior, remaining_km

MM_PER_MIL = 0.0254
KM_PER_MILE = 1.609344

# Tread depth against distance: Tamhane and Dunlop (2000), Statistics and Data Analysis, example 10.2 (9 points).
TREAD_KM = np.array([0, 4, 8, 12, 16, 20, 24, 28, 32]) * 1000 * KM_PER_MILE
TREAD_MM = np.array([394.33, 329.50, 291.00, 255.17, 229.33, 204.83, 179.00, 163.83, 150.33]) * MM_PER_MIL

# Tire life by two methods, hundreds of miles, a tire each: National Bureau of Standards Handbook 91 (Natrella, 1963),
# pages 5-33 to 5-46; files NATR533.DAT (all 16) and NATR540.DAT (the 11 from 375/311 to 209/199) of NIST Dataplot.
BY_WEIGHT = np.array(
    [459, 419, 375, 334, 310, 305, 309, 319, 304, 273, 204, 245, 209, 189, 137, 114], dtype=np.float64
)
BY_GROOVE = np.array(
    [357, 392, 311, 281, 240, 287, 259, 233, 231, 237, 209, 161, 199, 152, 115, 112], dtype=np.float64
)
ELEVEN = slice(2, 13)


def belief(median=3.4, sigma=0.5):
    return RatePrior(np.asarray(median, float), np.asarray(sigma, float), np.zeros((), np.int64))


def left(distance_km, depth_mm, **changes):
    usual = {
        "limit_mm": 0.8,
        "new_depth_mm": 5.2,
        "gauge_sd_mm": 0.2,
        "new_depth_sd_mm": 0.3,
        "rate_prior": belief(),
    }
    return remaining_km(distance_km, depth_mm, **{**usual, **changes})


STRAIGHT = {"bend_sd": 0.0, "day_spread": 0.0}
