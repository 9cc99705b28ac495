"""How a candidate for a profile is judged, held to general reference libraries."""

import numpy as np
import pytest
from scipy.optimize import curve_fit
from statsmodels.tools.eval_measures import aicc

from fleet.science.profile.trial import Points, one_arc_each

GAUGE_SD_MM = 0.01


@pytest.fixture(scope="module")
def points():
    angles = np.radians(np.linspace(-50, 50, 11))
    scatter = np.random.default_rng(3).normal(0, 0.3, (2, 11))
    return Points(*(np.array([95 * np.sin(angles), 95 * np.cos(angles) - 95]) + scatter))


@pytest.fixture(scope="module")
def trial(points):
    return one_arc_each(points, np.array([0.0, 0.0]), 95.0)


def test_the_criterion_is_that_of_statsmodels_for_normal_scatter(trial):
    scatter = trial.squares / 11
    # The terms of the log-likelihood that no candidate changes are left out; the scatter is a parameter too.
    log_likelihood = -11 / 2 * np.log(scatter)

    assert trial.score(GAUGE_SD_MM) == pytest.approx(aicc(log_likelihood, 11, len(trial.p) + 1))


def test_scatter_under_the_gauges_noise_counts_as_that_noise(trial):
    assert trial.score(2.0) == pytest.approx(aicc(-11 / 2 * np.log(2.0**2), 11, len(trial.p) + 1))


def test_the_covariance_is_that_of_scipys_curve_fit(points, trial):
    def distances(_places, *p):
        sides = [np.array(p[2:3]), np.array(p[3:4])]
        across, up = points.x - p[0], points.z - p[1]
        radius = np.exp(np.where(across < 0, sides[0], sides[1]))
        return np.hypot(across, up + radius) - radius

    _, covariance = curve_fit(distances, points.x, np.zeros(11), p0=trial.p)

    assert trial.covariance == pytest.approx(covariance, rel=1e-3, abs=1e-5)
