"""How far a tread lasts, against published tread series and the curves others fitted to them."""

import numpy as np
import pytest

from fleet.science.wear import remaining_km
from tests.science.tread_series import KM_PER_MILE, MM_PER_MIL, STRAIGHT, TREAD_KM, TREAD_MM, belief

# Published: the tread series flattens with distance, which is where a straight line could be dangerous.


@pytest.mark.parametrize("readings", [2, 3, 4, 5])
@pytest.mark.parametrize("sigma", [0.3, 0.5, 1.0])
def test_the_first_half_of_the_published_tread_series_never_promises_more_than_the_tire_gave(readings, sigma):
    average = (TREAD_MM[0] - TREAD_MM[-1]) / TREAD_KM[-1] * 1000

    forecast = remaining_km(
        TREAD_KM[:readings],
        TREAD_MM[:readings],
        limit_mm=TREAD_MM[-1],
        new_depth_mm=TREAD_MM[0],
        gauge_sd_mm=0.1,
        new_depth_sd_mm=0.1,
        rate_prior=belief(average, sigma),
        probs=(0.1, 0.5, 0.9),
    )

    truly_left = TREAD_KM[-1] - TREAD_KM[readings - 1]
    assert (forecast.km < truly_left).all()
    assert forecast.km[0] > 0.1 * truly_left


def test_the_whole_published_series_still_errs_toward_less_life_at_the_wear_indicator():
    # Reference: the log model of the same series reaches 62.5 mils (2/32 in) at 60.15 thousand miles.
    forecast = remaining_km(
        TREAD_KM,
        TREAD_MM,
        limit_mm=62.5 * MM_PER_MIL,
        new_depth_mm=TREAD_MM[0],
        gauge_sd_mm=0.1,
        new_depth_sd_mm=0.3,
        rate_prior=belief(0.15, 0.5),
    )

    low, median, high = forecast.km + TREAD_KM[-1]
    assert median < 60.15e3 * KM_PER_MILE
    # That model's own Fieller 95 % interval is 56.95 to 63.86 thousand miles.
    assert low < 56.95e3 * KM_PER_MILE < median
    assert median < high < 63.86e3 * KM_PER_MILE


def test_a_straight_line_through_the_whole_published_series_ends_far_too_early():
    # Ordinary least squares reaches 62.5 mils at 40.95 thousand miles, Fieller 95 % from 36.4 to 47.6 (recomputed).
    forecast = remaining_km(
        TREAD_KM,
        TREAD_MM,
        limit_mm=62.5 * MM_PER_MIL,
        new_depth_mm=TREAD_MM[0],
        gauge_sd_mm=0.1,
        new_depth_sd_mm=0.3,
        rate_prior=belief(0.15, 0.5),
        **STRAIGHT,
    )

    assert 36.4e3 * KM_PER_MILE < forecast.km[1] + TREAD_KM[-1] < 47.6e3 * KM_PER_MILE


@pytest.mark.parametrize(
    ("readings", "published"),
    [(5, (49.8604, 54.2435, 59.6160)), (9, (57.5479, 59.7234, 62.1212))],
)
def test_the_posterior_agrees_with_the_conjugate_one_where_the_data_decide(readings, published):
    # Conjugate posterior of the same series in logarithms, sigma 0.03, a ~ N(ln 400, 0.05), b ~ N(-0.030, 0.006),
    # limit ln 62.5: exact 5, 50 and 95 % points in thousand miles. Only the prior's shape differs here: lognormal.
    found = remaining_km(
        TREAD_KM[:readings] / KM_PER_MILE,
        np.log(TREAD_MM[:readings] / MM_PER_MIL),
        limit_mm=np.log(62.5),
        new_depth_mm=np.log(400),
        gauge_sd_mm=0.03,
        new_depth_sd_mm=0.05,
        rate_prior=belief(0.030 / np.sqrt(1.04), np.sqrt(np.log(1.04))),
        now_km=0.0,
        probs=(0.05, 0.5, 0.95),
        allow_misfit=False,
        **STRAIGHT,
    )

    last_km = TREAD_KM[readings - 1] / KM_PER_MILE
    assert (found.km + last_km) / 1000 == pytest.approx(published, rel=6e-3)
