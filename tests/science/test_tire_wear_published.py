"""The pooling core on published data of tire wear: straight lines, a bent one, and two methods on the same tires."""

import numpy as np
import pytest

from fleet.science.pooling import fit
from fleet.science.practice import DEPTH_GAUGE_SD_MM, practice
from fleet.science.ranks import theil_sen
from fleet.science.wear import learn_rates, rate_prior, rates
from tests.science.tread_series import (
    BY_GROOVE,
    BY_WEIGHT,
    ELEVEN,
    KM_PER_MILE,
    MM_PER_MIL,
    TREAD_KM,
    TREAD_MM,
)

MILES = TREAD_KM / KM_PER_MILE / 1000
MILS = TREAD_MM / MM_PER_MIL


def line(x, y):
    """Fit a straight line and return it with its coefficients and their standard errors."""
    pooled = fit(y, np.column_stack([np.ones(len(x)), x]), {})
    return pooled, pooled.fixed, np.sqrt(np.diag(pooled.fixed_cov))


# Tread depth in mils over thousands of miles: Tamhane and Dunlop (2000), Statistics and Data Analysis, example 10.2.
# The coefficients are the textbook's from memory, recomputed by least squares to the digits here.


def test_without_factors_the_fit_is_the_textbook_s_least_squares_line():
    pooled, fixed, errors = line(MILES, MILS)

    assert fixed == pytest.approx([360.636667, -7.280625], abs=1e-6)
    assert errors == pytest.approx([11.688551, 0.613772], abs=1e-6)
    assert pooled.residual_sd == pytest.approx(19.017020, abs=1e-6)
    explained = 1 - 7 * pooled.residual_sd**2 / np.sum((MILS - MILS.mean()) ** 2)
    assert explained == pytest.approx(0.952610, abs=1e-6)


def test_the_line_through_the_logarithms_is_the_textbook_s_bent_curve():
    pooled, fixed, errors = line(MILES, np.log(MILS))

    assert np.exp(fixed[0]) == pytest.approx(374.6354, abs=5e-4)
    assert fixed[1] == pytest.approx(-0.029772, abs=5e-7)
    assert errors == pytest.approx([0.018146, 0.000953], abs=5e-7)
    assert pooled.residual_sd == pytest.approx(0.0295226, abs=1e-7)


def test_a_tread_at_25_thousand_miles_is_predicted_with_the_textbook_s_interval():
    pooled, _, _ = line(MILES, MILS)

    mean, error = pooled.predict([[1.0, 25.0]], {})
    single = pooled.predict([[1.0, 25.0]], {}, observation=True).sd

    assert mean == pytest.approx(178.621042, abs=1e-6)
    assert error == pytest.approx(8.408149, abs=1e-6)
    # Prediction interval 129.453683 to 227.788400, by Student's t with 7 degrees of freedom at 97.5 %, 2.364624.
    assert mean + 2.364624 * single * np.array([-1, 1]) == pytest.approx([129.453683, 227.788400], abs=2e-5)


def test_a_straight_line_through_the_first_eight_readings_promises_too_little_at_the_ninth():
    # A public exercise on the same data: 113.8907 against 150.33 read; a straight line errs toward less life.
    pooled, fixed, _ = line(MILES[:8], MILS[:8])

    at_32 = pooled.predict([[1.0, 32.0]], {}).mean

    assert fixed == pytest.approx([366.305, -7.887946], abs=5e-4)
    assert at_32 == pytest.approx(113.8907, abs=5e-5)
    assert at_32 < MILS[8] == pytest.approx(150.33)


def test_the_median_slope_of_the_series_is_flatter_than_that_of_least_squares():
    # Theil and Sen, recomputed with scipy.stats.theilslopes: a bend at one end pulls the median of the slopes less.
    found = theil_sen(MILES, MILS)

    assert found.value == pytest.approx(-6.681458, abs=1e-6)
    assert (found.low, found.high) == pytest.approx((-8.957500, -5.708750), abs=1e-6)


# Life of 16 tires by weight lost (x) and by groove depth (y), hundreds of miles: Handbook 91, pages 5-33 to 5-46. Its
# own coefficients are not at hand: recomputed by least squares from the published pairs, and by hand from their sums.


@pytest.mark.parametrize(
    ("tires", "coefficients", "errors", "scatter"),
    [
        (slice(None), [13.505861, 0.790212], [21.047606, 0.071039], 26.207798),
        (ELEVEN, [48.964612, 0.661873], [46.875546, 0.159439], 26.417938),
    ],
)
def test_life_by_groove_follows_life_by_weight_on_the_line_of_the_published_pairs(
    tires, coefficients, errors, scatter
):
    pooled, fixed, found = line(BY_WEIGHT[tires], BY_GROOVE[tires])

    assert fixed == pytest.approx(coefficients, abs=1e-6)
    assert found == pytest.approx(errors, abs=1e-6)
    assert pooled.residual_sd == pytest.approx(scatter, abs=1e-6)


def test_the_line_of_all_sixteen_follows_by_hand_from_the_sums():
    # Sxx 136103.9375, Sxy 107551, Syy 94604 about the means 281.5625 and 236: slope Sxy / Sxx, and the sum of squares
    # left Syy - Sxy^2 / Sxx over 14 degrees of freedom.
    pooled, fixed, _ = line(BY_WEIGHT, BY_GROOVE)

    assert fixed[1] == pytest.approx(107551 / 136103.9375, rel=1e-9)
    assert fixed[0] == pytest.approx(236 - fixed[1] * 281.5625, rel=1e-9)
    assert 14 * pooled.residual_sd**2 == pytest.approx(94604 - 107551**2 / 136103.9375, rel=1e-9)


def test_the_median_slope_of_the_published_pairs_is_close_to_that_of_least_squares():
    # Theil and Sen, recomputed with scipy.stats.theilslopes: 0.760856 beside 0.790212.
    assert theil_sen(BY_WEIGHT, BY_GROOVE).value == pytest.approx(0.760856, abs=1e-6)


def both(weight, groove):
    """Lay the two methods' figures under each other: rows, whether by groove, and the tire of each."""
    count = len(weight)
    tires = np.tile(np.arange(count), 2)
    return np.concatenate([weight, groove]), np.repeat([0.0, 1.0], count), tires


def test_the_two_methods_differ_by_the_published_pairs_mean_with_the_error_of_the_paired_t_test():
    # Recomputed: mean difference 45.5625, standard deviation 32.255168, t 5.650257 with 15 degrees of freedom. With a
    # level per tire in a paired layout restricted likelihood is the analysis of variance (Searle et al. 1992).
    y, by_groove, tires = both(BY_WEIGHT, BY_GROOVE)

    alone = fit(BY_WEIGHT - BY_GROOVE, np.ones((16, 1)), {})
    pooled = fit(y, np.column_stack([np.ones(32), by_groove]), {"tire": tires})

    assert alone.fixed == pytest.approx([45.5625], abs=1e-9)
    assert alone.residual_sd == pytest.approx(32.255168, abs=1e-6)
    assert alone.fixed[0] / np.sqrt(alone.fixed_cov[0, 0]) == pytest.approx(5.650257, abs=1e-6)
    assert pooled.fixed[1] == pytest.approx(-45.5625, abs=1e-6)
    assert np.sqrt(pooled.fixed_cov[1, 1]) == pytest.approx(32.255168 / 4, abs=1e-5)
    assert pooled.residual_sd == pytest.approx(32.255168 / np.sqrt(2), abs=1e-5)


def test_a_life_told_by_the_groove_is_as_noisy_as_the_service_takes_it_to_be():
    # By hand from the pairs: ln(weight / groove) has mean 0.172286 and standard deviation 0.118236. All of it is more
    # noise than the groove alone has, its share if both methods are alike is 0.118236 / sqrt(2). The tires' depth is
    # not printed, so nothing follows in mm: only that a whole tread's rate is known to about a tenth.
    y, by_groove, tires = both(np.log(BY_WEIGHT), np.log(BY_GROOVE))
    known = practice("track_day", "medium", "rear")

    pooled = fit(y, np.column_stack([np.ones(32), by_groove]), {"tire": tires})
    worn_mm = known.new_depth_mm - known.wear_limit_mm
    whole_tread = rates(
        known.life_km,
        worn_mm,
        noise_sd_mm=np.sqrt(2) * DEPTH_GAUGE_SD_MM,
        usual_mm_per_1000km=known.wear_median_mm_per_1000km,
    )

    assert pooled.fixed[1] == pytest.approx(-0.172286, abs=1e-6)
    assert pooled.residual_sd == pytest.approx(0.118236 / np.sqrt(2), abs=1e-6)
    assert 0.5 * pooled.residual_sd < whole_tread.noise_sd < 0.118236


def test_the_methods_learned_like_two_products_keep_their_order_and_some_of_their_difference():
    # The published pairs as wear rates; partial pooling draws two levels together, never past each other.
    life, by_groove, tires = both(BY_WEIGHT, BY_GROOVE)
    known = practice("track_day", "medium", "rear")
    usual = known.wear_median_mm_per_1000km

    pooled = learn_rates(
        np.log(usual * life.mean() / life),
        noise_sd=0.0,
        practice=known,
        product=by_groove.astype(int),
        track=np.zeros(32, int),
        rider=tires,
    )

    weight, groove = rate_prior(pooled, known, [0, 1], 0, -1).median_mm_per_1000km
    assert 1.1 < groove / weight < np.exp(0.172286)
    assert np.corrcoef(pooled.effects["rider"], np.log(BY_WEIGHT * BY_GROOVE))[0, 1] < -0.999
