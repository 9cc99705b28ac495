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


def test_rates_merge_readings_until_the_wear_stands_clear_of_the_noise():
    x = [0.0, 100.0, 200.0, 500.0, 600.0]
    y = [5.2, 5.0, 4.8, 3.7, 3.4]

    found = rates(x, y, gauge_sd_mm=0.2)

    assert np.exp(found.log_rate) == pytest.approx([1000 * (5.2 - 3.4) / 600])
    assert found.noise_sd == pytest.approx([0.2 * np.sqrt(2) / 1.8])


def test_a_rate_after_a_merged_remainder_starts_where_the_span_before_ended():
    x = [0.0, 300.0, 400.0, 700.0]
    y = [5.2, 4.2, 3.9, 2.7]

    found = rates(x, y, gauge_sd_mm=0.2)

    assert np.exp(found.log_rate) == pytest.approx([1.0 / 0.3, 1.5 / 0.4])


def test_rates_of_many_tires_name_their_tire_and_skip_those_that_say_nothing_yet():
    x = np.array([[0.0, 500.0], [0.0, 100.0], [500.0, 0.0]])
    y = np.array([[5.2, 3.2], [5.2, 5.1], [3.2, 5.2]])

    found = rates(x, y)

    assert found.cell.tolist() == [0, 2]
    assert np.exp(found.log_rate) == pytest.approx([4.0, 4.0])


def test_no_readings_give_no_rates():
    assert rates(np.empty((3, 0)), np.empty((3, 0))).log_rate.size == 0


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
