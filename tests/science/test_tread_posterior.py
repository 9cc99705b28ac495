"""The posterior of a wear line, against brute force and dense linear algebra that know no grid and no filter."""

import numpy as np
import pytest

from fleet.science import shifted
from fleet.science.tread_posterior import Wearing, life_moments
from tests.science.tread_series import STRAIGHT, belief, left

# Independent: brute force over start depth and rate, straight from Bayes' theorem.


def brute_chances(x_km, y_mm, whole_km, *, median, sigma, new, new_sd, noise, limit):
    u = np.log(median) + sigma * np.linspace(-7, 7, 1401)[:, None]
    start = new + new_sd * np.linspace(-7, 7, 1201)[None, :]
    log_density = -0.5 * ((u - np.log(median)) / sigma) ** 2 - 0.5 * ((start - new) / new_sd) ** 2
    for x, y in zip(x_km, y_mm, strict=True):
        log_density = log_density - 0.5 * ((y - start + np.exp(u) * x / 1000) / noise) ** 2
    density = np.exp(log_density - log_density.max())
    life_km = 1000 * (start - limit) / np.exp(u)
    return [density[life_km <= at].sum() / density.sum() for at in whole_km]


@pytest.mark.parametrize("seed", range(8))
def test_the_quantiles_match_a_brute_force_posterior_on_a_fine_grid(seed):
    rng = np.random.default_rng(seed)
    x = rng.uniform(0, 900, size=seed % 5)
    y = 5.2 - rng.uniform(2, 6) * x / 1000 + 0.2 * rng.standard_normal(x.size)
    probs = (0.05, 0.1, 0.5, 0.9, 0.95)

    found = left(x, y, probs=probs, now_km=0.0, allow_misfit=False, **STRAIGHT)

    whole_km = shifted.quantile(probs, found.life_mean_km, found.life_sd_km, found.life_skewness)
    truth = brute_chances(x, y, whole_km, median=3.4, sigma=0.5, new=5.2, new_sd=0.3, noise=0.2, limit=0.8)
    assert truth == pytest.approx(probs, abs=0.012)


@pytest.mark.parametrize("readings", [0, 1, 3])
def test_mean_spread_and_skewness_of_the_life_are_those_of_the_posterior(readings):
    x, y = np.array([0.0, 300.0, 600.0])[:readings], np.array([5.6, 4.3, 3.0])[:readings]
    u = np.log(3.4) + 0.4 * np.linspace(-7, 7, 1401)[:, None]
    start = 5.2 + 0.9 * np.linspace(-4, 4, 1201)[None, :]
    log_density = -0.5 * ((u - np.log(3.4)) / 0.4) ** 2 - 0.5 * ((start - 5.2) / 0.9) ** 2
    for one_x, one_y in zip(x, y, strict=True):
        log_density = log_density - 0.5 * ((one_y - start + np.exp(u) * one_x / 1000) / 0.3) ** 2
    density = np.exp(log_density - log_density.max())
    density /= density.sum()
    life_km = 1000 * (start - 0.8) / np.exp(u)

    found = left(
        x,
        y,
        gauge_sd_mm=0.3,
        new_depth_sd_mm=0.9,
        rate_prior=belief(3.4, 0.4),
        allow_misfit=False,
        **STRAIGHT,
    )

    mean = (density * life_km).sum()
    sd = np.sqrt((density * (life_km - mean) ** 2).sum())
    assert found.life_mean_km == pytest.approx(mean, rel=1e-3)
    assert found.life_sd_km == pytest.approx(sd, rel=2e-3)
    assert found.life_skewness == pytest.approx((density * (life_km - mean) ** 3).sum() / sd**3, rel=1e-2)


def test_the_chance_within_a_distance_is_that_of_the_posterior():
    x, y = np.array([0.0, 300.0, 600.0]), np.array([5.1, 4.2, 3.0])

    found = left(x, y, within_km=700.0, **STRAIGHT)

    usual = {"median": 3.4, "sigma": 0.5, "new": 5.2, "new_sd": 0.3, "noise": 0.2, "limit": 0.8}
    assert found.chance == pytest.approx(brute_chances(x, y, [1300.0], **usual)[0], abs=0.012)
    assert found.chance == pytest.approx(found.chance_within(700.0))


# Bend and drift, against dense linear algebra that knows no filter.


@pytest.mark.parametrize("seed", range(6))
def test_bend_and_drift_are_weighed_as_by_the_whole_covariance_matrix(seed):
    rng = np.random.default_rng(seed)
    readings = 2 + seed % 4
    x = np.sort(rng.uniform(0.05, 0.9, readings))
    y = 5.2 - 3.6 * x + 0.2 * rng.standard_normal(readings)
    wearing = Wearing(*(np.array([value]) for value in (5.2, 0.3, np.log(3.4), 0.4, 0.25, 0.007, 0.8)))

    found = life_moments(x[None], y[None], np.array([0.2]), wearing, widen=False)

    first = dense_life(x, y, (5.2 - 0.8) / 3.4)
    assert np.ravel(found) == pytest.approx(dense_life(x, y, first[0]), rel=3e-3, abs=3e-3)


def dense_life(x, y, life):
    """Mean, standard deviation and skewness of the life, each rate's normal answer by one dense solve."""
    scale = 4.4 / life
    bow = x * (1.0 - x / life)
    cov = 0.2**2 * np.eye(len(x)) + 0.3**2 + np.outer(bow, bow) * (0.25 * scale) ** 2
    cov += 0.007 * scale**2 * np.minimum.outer(x, x)
    # The depth at the last reading, straightened out: start less rate times distance, less the drift so far.
    with_y = 0.3**2 + 0.007 * scale**2 * x
    last_var = 0.3**2 + 0.007 * scale**2 * x[-1]
    gain = np.linalg.solve(cov, with_y)
    left_var = last_var - gain @ with_y
    u = np.log(3.4) + 0.4 * np.linspace(-7, 7, 2001)
    rates = np.exp(u)
    off = y[:, None] - (5.2 - np.outer(x, rates))
    log_density = -0.5 * (off * np.linalg.solve(cov, off)).sum(axis=0) - 0.5 * ((u - np.log(3.4)) / 0.4) ** 2
    mass = np.exp(log_density - log_density.max())
    mass /= mass.sum()
    depth = 5.2 - rates * x[-1] + gain @ off
    life_at = x[-1] + (depth - 0.8) / rates
    mean = mass @ life_at
    to_come = 0.007 * (mean - x[-1])
    var = mass @ ((life_at - mean) ** 2 + left_var / rates**2) + to_come
    third = mass @ ((life_at - mean) ** 3 + 3 * (life_at - mean) * left_var / rates**2)
    return mean, np.sqrt(var), third / var**1.5


def test_at_its_worst_the_chance_of_an_early_end_is_told_five_points_too_small():
    # One steep reading against a broad belief: the life's early tail is longer than three moments can say.
    usual = {"median": 3.4, "sigma": 0.65, "new": 5.2, "new_sd": 0.3, "noise": 0.2, "limit": 0.8}

    found = left([170.0], [3.6], rate_prior=belief(3.4, 0.65), within_km=409.0 - 170.0, **STRAIGHT)

    exact = brute_chances([170.0], [3.6], [409.0], **usual)[0]
    assert exact - 0.055 < found.chance < exact
