"""Severity of a distance, and wear rates observed, learned and expected."""

import numpy as np
import pytest
from scipy import special

from fleet.science.practice import WEAR_SIGMA, practice
from fleet.science.wear import learn_rates, rate_prior, rates, severity_km, track_multipliers

REAR = practice("track_day", "medium", "rear")


def test_severity_follows_track_effort_and_road():
    # Effort: published exponent of 2 to 4 (Rubber Chemistry and Technology 46, 821); a road kilometer as a tenth of
    # a track kilometer is common practice, no published source.
    km = severity_km(
        100.0, [1.0, 1.3, 1.0, 1.0, 1.3], [0.85, 0.85, 0.425, np.nan, 1.0], on_road=[0, 0, 0, 0, 1]
    )

    assert km == pytest.approx([100.0, 130.0, 12.5, 100.0, 10.0])


def test_half_as_much_force_again_costs_two_to_five_times_the_wear_as_published():
    # Same source: 0.9 g against 0.6 g costs 2.25 to 5.06 times.
    low, high = (
        float(severity_km(1.0, 1.0, 0.9, effort_exponent=k) / severity_km(1.0, 1.0, 0.6, effort_exponent=k))
        for k in (2, 4)
    )

    assert (low, high) == (pytest.approx(2.25), pytest.approx(5.0625))


def test_a_stretch_long_enough_gives_its_rate_with_the_noise_its_distance_promises():
    found = rates(500.0, 2.0, noise_sd_mm=0.3, usual_mm_per_1000km=3.4)

    # Half the relative variance is added back: the mean logarithm of a noisy figure is that much too small.
    assert found.log_rate == pytest.approx([np.log(4.0) + 0.5 * 0.15**2])
    assert found.noise_sd == pytest.approx([0.3 / 1.7])


def test_whether_a_stretch_tells_is_asked_of_its_distance_not_of_what_was_read():
    found = rates([300.0, 200.0, 300.0], [0.2, 3.0, 1.0], noise_sd_mm=0.3, usual_mm_per_1000km=3.4)

    assert found.place.tolist() == [0, 2]
    assert found.log_rate[0] == pytest.approx(
        np.log(0.3 / 0.3) + 0.5
    )  # not clear of its noise: taken as just clear


def test_rates_of_noisy_stretches_are_not_too_high_on_average():
    # Trusting each rate by the wear it was read from would learn this fleet's wear a tenth too high.
    rng = np.random.default_rng(11)
    stretches = 20_000
    true_rate = 3.4 * np.exp(rng.normal(0.0, 0.3, stretches))
    km = rng.uniform(250.0, 1000.0, stretches)
    worn = true_rate * km / 1000 + rng.normal(0.0, 0.3, stretches)

    found = rates(km, worn, noise_sd_mm=0.3, usual_mm_per_1000km=3.4)

    weight = 1.0 / (0.3**2 + found.noise_sd**2)
    mean = (weight * found.log_rate).sum() / weight.sum()
    by_what_was_read = 1.0 / (0.3**2 + (0.3 / np.maximum(worn[found.place], 0.3)) ** 2)
    naive = (by_what_was_read * found.log_rate).sum() / by_what_was_read.sum()
    assert mean == pytest.approx(np.log(3.4), abs=0.02)
    assert naive > np.log(3.4) + 0.05


def test_no_stretches_give_no_rates():
    assert rates([], [], noise_sd_mm=[], usual_mm_per_1000km=[]).log_rate.size == 0


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"distance_km": -1.0}, "distance_km must be at least 0, not -1"),
        ({"noise_sd_mm": 0.0}, "noise_sd_mm must be above 0, not 0"),
        ({"usual_mm_per_1000km": 0.0}, "usual_mm_per_1000km must be above 0, not 0"),
        ({"times_noise": 0.0}, "times_noise must be above 0, not 0"),
    ],
)
def test_an_impossible_stretch_is_refused_by_name(changes, sentence):
    valid = {"distance_km": [500.0], "worn_mm": [2.0], "noise_sd_mm": 0.3, "usual_mm_per_1000km": 3.4}

    with pytest.raises(ValueError, match=sentence):
        rates(**{**valid, **changes})


def learned(rows=400, seed=5):
    rng = np.random.default_rng(seed)
    product, track, rider = rng.integers(0, 8, rows), rng.integers(0, 4, rows), rng.integers(0, 60, rows)
    product_effect = rng.normal(0, 0.3, 8)
    track_effect = rng.normal(0, 0.2, 4)
    log_rate = (
        np.log(REAR.wear_median_mm_per_1000km)
        + product_effect[product]
        + track_effect[track]
        + rng.normal(0, 0.2, 60)[rider]
        + rng.normal(0, 0.2, rows)
    )
    pooled = learn_rates(log_rate, noise_sd=0.1, practice=REAR, product=product, track=track, rider=rider)
    return pooled, product_effect, track_effect


def test_learned_rates_follow_the_products_and_tracks_they_came_from():
    pooled, product_effect, track_effect = learned()

    found = rate_prior(pooled, REAR, np.arange(8), np.zeros(8, int), -1)

    truth = REAR.wear_median_mm_per_1000km * np.exp(product_effect + track_effect[0])
    assert found.median_mm_per_1000km == pytest.approx(truth, rel=0.25)
    assert np.corrcoef(np.log(track_multipliers(pooled)), track_effect)[0, 1] > 0.95
    assert (found.sigma < WEAR_SIGMA).all()
    assert found.readings.sum() == 400


def test_a_new_product_is_less_sure_than_a_known_one_and_a_code_newer_than_the_fit_counts_as_new():
    pooled = learned()[0]

    known, new, newer = rate_prior(pooled, REAR, [0, -1, 99], [0, 0, 0], 0).sigma

    assert known < new
    assert new == pytest.approx(newer)


def test_leaving_the_track_out_takes_its_doubt_out():
    pooled = learned()[0]
    unknown_track = {"product": [0], "track": [-1], "rider": [3]}

    weighted = rate_prior(pooled, REAR, 0, None, 3)

    with_track = pooled.predict([[1.0]], unknown_track, observation=True)
    assert weighted.sigma == pytest.approx(np.sqrt(with_track.sd[0] ** 2 - pooled.sd["track"] ** 2))
    assert weighted.median_mm_per_1000km == pytest.approx(3.4 * np.exp(with_track.mean[0]))


def test_the_80_percent_interval_of_a_new_product_is_that_of_the_fit():
    pooled = learned()[0]
    new = {"product": [-1], "track": [1], "rider": [3]}

    found = rate_prior(pooled, REAR, -1, 1, 3)

    upper = 3.4 * np.exp(pooled.quantile(0.9, [[1.0]], new, observation=True)[0])
    assert found.median_mm_per_1000km * np.exp(special.ndtri(0.9) * found.sigma) == pytest.approx(upper)


def test_without_history_practice_speaks_with_its_whole_spread():
    empty = np.empty(0, int)
    nothing = learn_rates([], noise_sd=[], practice=[], product=empty, track=empty, rider=empty)

    for pooled in (None, nothing):
        found = rate_prior(pooled, [REAR, practice("slick", "stiff", "rear")], [-1, 3])
        assert found.median_mm_per_1000km.tolist() == [3.4, 7.0]
        assert found.sigma.tolist() == [WEAR_SIGMA, WEAR_SIGMA]
        assert found.readings.tolist() == [0, 0]


def test_an_impossible_effort_or_code_is_refused_by_name():
    with pytest.raises(ValueError, match=r"effort must be at most 1.2, not 85"):
        severity_km(100.0, 1.0, 85)
    with pytest.raises(ValueError, match="product must be a code from 0"):
        rate_prior(learned()[0], REAR, -2)
