"""Pooling rows that were each measured with a noise of their own."""

import numpy as np
import pytest
from scipy import optimize

from fleet.science.measured import fit_measured
from fleet.science.pooling import Prior, fit

VAGUE = Prior(mean=[0.0], sd=[np.inf], group_sd={}, residual_sd=2.0, strength=1e-6)


def rows(seed, residual_sd, noise_sd, n=4000, levels=20):
    rng = np.random.default_rng(seed)
    group = rng.integers(0, levels, n)
    noise = noise_sd * rng.uniform(0.5, 1.5, n)
    y = 5.0 + rng.normal(0.0, 3.0, levels)[group] + rng.normal(0.0, residual_sd, n) + rng.normal(0.0, noise)
    return y, np.ones((n, 1)), {"product": group}, noise


def prior(residual_sd=2.0):
    return Prior(mean=[0.0], sd=[10.0], group_sd={"product": 2.0}, residual_sd=residual_sd)


# Independent: the published treatment of effects with known variances, on its published data.


def test_eight_schools_without_a_level_give_the_published_between_school_spread():
    # Gelman et al., Bayesian Data Analysis, section 5.5, table 5.2: effects and standard errors of eight schools.
    # Here the "residual" is the spread between schools. The data do not tell it from 0, so weak belief keeps it small;
    # the pooled mean is the book's 7.7 with standard error 4.1 (complete pooling, section 5.5).
    effects = [28.0, 8.0, -3.0, 7.0, -1.0, 1.0, 18.0, 12.0]
    errors = [15.0, 10.0, 16.0, 11.0, 9.0, 11.0, 10.0, 18.0]

    found = fit_measured(effects, np.ones((8, 1)), {}, noise_sd=errors, prior=VAGUE)

    assert found.fixed[0] == pytest.approx(7.7, abs=0.05)
    assert np.sqrt(found.fixed_cov[0, 0]) == pytest.approx(4.1, abs=0.05)


def test_the_residual_is_where_the_likelihood_of_added_variances_has_its_top():
    rng = np.random.default_rng(3)
    noise = rng.uniform(1.0, 4.0, 3000)
    y = rng.normal(0.0, np.hypot(2.5, noise))

    known_mean = Prior([0.0], [1e-6], {}, residual_sd=2.0, strength=1e-6)
    found = fit_measured(y, np.ones((3000, 1)), {}, noise_sd=noise, prior=known_mean, outlier_sds=50.0)

    def surprise(residual_sd):
        variance = residual_sd**2 + noise**2
        return float(np.sum(np.log(variance) + y**2 / variance))

    best = optimize.minimize_scalar(surprise, bounds=(0.1, 10.0), method="bounded").x
    assert found.residual_sd == pytest.approx(best, rel=0.05)


# Law.


@pytest.mark.parametrize("residual_sd", [1.5, 3.0, 6.0])
@pytest.mark.parametrize("noise_sd", [0.0, 2.0])
def test_the_noise_of_the_measurement_is_not_taken_for_the_residual(residual_sd, noise_sd):
    y, x, groups, noise = rows(1, residual_sd, noise_sd)

    found = fit_measured(y, x, groups, noise_sd=noise, prior=prior())

    assert found.residual_sd == pytest.approx(residual_sd, rel=0.06)
    assert found.sd["product"] == pytest.approx(3.0, rel=0.35)


def test_rows_measured_without_noise_are_an_ordinary_fit():
    y, x, groups, _ = rows(2, 3.0, 0.0)

    found = fit_measured(y, x, groups, noise_sd=0.0, prior=prior(), outlier_sds=100.0)

    plain = fit(y, x, groups, prior=prior())
    assert found.residual_sd == pytest.approx(plain.residual_sd)
    assert found.effects["product"] == pytest.approx(plain.effects["product"])


def test_a_hundred_slips_of_the_gauge_hardly_pull_the_answer():
    y, x, groups, noise = rows(4, 2.0, 1.0)
    slipped = y.copy()
    slipped[::40] += 60.0

    held = fit_measured(slipped, x, groups, noise_sd=noise, prior=prior())
    honest = fit_measured(y, x, groups, noise_sd=noise, prior=prior())
    pulled = fit_measured(slipped, x, groups, noise_sd=noise, prior=prior(), outlier_sds=1e6)

    assert abs(held.fixed[0] - honest.fixed[0]) < 0.1 * abs(pulled.fixed[0] - honest.fixed[0])
    assert held.residual_sd == pytest.approx(2.0, rel=0.2)


def test_without_rows_the_belief_stands():
    nothing = np.zeros(0)

    found = fit_measured(
        nothing, np.zeros((0, 1)), {"product": np.zeros(0, dtype=int)}, noise_sd=nothing, prior=prior()
    )

    assert found.rows == 0
    assert found.residual_sd == pytest.approx(2.0)


# Refusals.


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"noise_sd": -1.0}, "noise_sd must be at least 0, not -1"),
        ({"noise_sd": np.nan}, "noise_sd must be a number for every row, not nan"),
        ({"noise_sd": 1.0, "outlier_sds": 0.0}, "outlier_sds must be above 0, not 0"),
    ],
)
def test_an_impossible_noise_is_refused_by_name(changes, sentence):
    with pytest.raises(ValueError, match=sentence):
        fit_measured([1.0, 2.0], np.ones((2, 1)), {"product": [0, 1]}, prior=prior(), **changes)
