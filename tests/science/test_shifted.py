"""The three-parameter lognormal distribution against a general library and its own laws."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from fleet.science import shifted

skews = st.floats(-6, 6)
probs = st.floats(0.001, 0.999)


@pytest.mark.parametrize("sigma", [0.05, 0.3, 0.5, 1.0])
def test_an_ordinary_lognormal_is_found_again_from_its_moments(sigma):
    # Independent: scipy.stats.lognorm.
    truth = stats.lognorm(sigma, scale=np.exp(0.7))
    mean, variance, skewness = (float(moment) for moment in truth.stats("mvs"))
    prob = np.array([0.01, 0.1, 0.5, 0.9, 0.99])

    found = shifted.quantile(prob, mean, np.sqrt(variance), skewness)

    assert found == pytest.approx(truth.ppf(prob), rel=1e-9)
    assert shifted.chance_below(found, mean, np.sqrt(variance), skewness) == pytest.approx(prob, rel=1e-9)


def test_without_skewness_it_is_the_normal_distribution():
    prob = np.array([0.01, 0.3, 0.9])

    assert shifted.quantile(prob, 5.0, 2.0, 0.0) == pytest.approx(stats.norm(5.0, 2.0).ppf(prob), abs=2e-3)


@given(probs, skews)
def test_chance_and_quantile_undo_each_other(prob, skewness):
    value = shifted.quantile(prob, 100.0, 20.0, skewness)

    assert shifted.chance_below(value, 100.0, 20.0, skewness) == pytest.approx(prob, rel=1e-6)


@given(probs, skews)
def test_a_negative_skewness_mirrors(prob, skewness):
    above = shifted.quantile(prob, 0.0, 1.0, skewness)
    below = shifted.quantile(1 - prob, 0.0, 1.0, -skewness)

    assert above == pytest.approx(-below, abs=2e-3)


def test_beyond_the_end_of_its_range_the_chance_is_none_or_all():
    assert shifted.chance_below([-1000.0, 1000.0], 0.0, 1.0, [2.0, -2.0]).tolist() == [0.0, 1.0]


@pytest.mark.parametrize("place", range(4))
def test_nan_passes_through(place):
    arguments = [0.5, 100.0, 20.0, 1.0]
    arguments[place] = np.nan

    assert np.isnan(shifted.quantile(*arguments))
    assert np.isnan(shifted.chance_below(*arguments))
