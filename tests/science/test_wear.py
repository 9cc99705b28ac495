"""How far a tread lasts, against published tread series, brute force and the laws it must obey."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special

from fleet.science import shifted
from fleet.science.practice import NEW_DEPTH_SD_MM, practice
from fleet.science.wear import (
    RatePrior,
    binding_zone,
    remaining_km,
)
from tests.science.tread_series import KM_PER_MILE, MM_PER_MIL, TREAD_KM, TREAD_MM

REAR = practice("track_day", "medium", "rear")


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

    assert forecast.km[2] + TREAD_KM[-1] < 60.15e3 * KM_PER_MILE
    # The straight line through the series, Fieller 95 % interval 36.4 to 47.6 thousand miles (recomputed by OLS).
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
    )

    last_km = TREAD_KM[readings - 1] / KM_PER_MILE
    assert (found.km + last_km) / 1000 == pytest.approx(published, rel=6e-3)


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

    found = left(x, y, probs=probs, now_km=0.0, allow_misfit=False)

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

    found = left(x, y, gauge_sd_mm=0.3, new_depth_sd_mm=0.9, rate_prior=belief(3.4, 0.4), allow_misfit=False)

    mean = (density * life_km).sum()
    sd = np.sqrt((density * (life_km - mean) ** 2).sum())
    assert found.life_mean_km == pytest.approx(mean, rel=1e-3)
    assert found.life_sd_km == pytest.approx(sd, rel=2e-3)
    assert found.life_skewness == pytest.approx((density * (life_km - mean) ** 3).sum() / sd**3, rel=1e-2)


def test_the_chance_within_a_distance_is_that_of_the_posterior():
    x, y = np.array([0.0, 300.0, 600.0]), np.array([5.1, 4.2, 3.0])

    found = left(x, y, within_km=700.0)

    usual = {"median": 3.4, "sigma": 0.5, "new": 5.2, "new_sd": 0.3, "noise": 0.2, "limit": 0.8}
    assert found.chance == pytest.approx(brute_chances(x, y, [1300.0], **usual)[0], abs=0.012)
    assert found.chance == pytest.approx(found.chance_within(700.0))


def test_without_a_reading_the_prior_and_the_distance_run_decide():
    probs = (0.1, 0.5, 0.9)

    found = left(np.empty(0), np.empty(0), new_depth_sd_mm=1e-4, now_km=200.0, probs=probs)

    exact = 1000 * (5.2 - 0.8) / 3.4 * np.exp(0.5 * special.ndtri(probs)) - 200.0
    assert found.km == pytest.approx(exact, rel=2e-3)


series = st.lists(
    st.tuples(st.floats(0, 1500), st.floats(0.0, 6.0)),
    min_size=1,
    max_size=7,
)


@given(series, st.randoms())
def test_readings_out_of_order_and_padding_change_nothing(readings, shuffle):
    mixed = [*readings, (np.nan, np.nan), (300.0, np.nan)]
    shuffle.shuffle(mixed)

    straight = left(*np.array(readings).T)
    found = left(*np.array(mixed).T)

    assert found.km == pytest.approx(straight.km, rel=1e-6, abs=1e-6)


@given(series)
def test_whatever_was_read_the_answer_is_finite_and_its_quantiles_rise(readings):
    found = left(*np.array(readings).T, within_km=100.0)

    assert np.isfinite(found.km).all()
    assert (found.km >= 0).all()
    assert (np.diff(found.km) >= 0).all()
    assert 0 <= found.chance <= 1
    assert found.chance_within(500.0) >= found.chance


@given(series, st.floats(0.1, 10), st.floats(0.1, 10))
def test_other_units_of_depth_and_distance_give_the_same_life(readings, depth_scale, distance_scale):
    x, y = np.array(readings).T

    usual = left(x, y)
    scaled = left(
        x * distance_scale,
        y * depth_scale,
        limit_mm=0.8 * depth_scale,
        new_depth_mm=5.2 * depth_scale,
        gauge_sd_mm=0.2 * depth_scale,
        new_depth_sd_mm=0.3 * depth_scale,
        rate_prior=belief(3.4 * depth_scale / distance_scale),
    )

    assert scaled.km / distance_scale == pytest.approx(usual.km, rel=1e-5, abs=1e-5)


@given(st.floats(100, 900), st.floats(1.5, 4.8), st.floats(0.1, 1.0))
def test_a_shallower_reading_never_means_more_life(x, y, less):
    deeper, shallower = left([x], [y]), left([x], [y - less])

    assert (shallower.km <= deeper.km).all()
    assert shallower.chance_within(200.0) >= deeper.chance_within(200.0)


def test_an_accurate_long_series_leaves_almost_no_doubt():
    x = np.linspace(0, 800, 30)

    found = left(x, 5.2 - 4.0 * x / 1000, gauge_sd_mm=0.02)

    assert found.km == pytest.approx(np.full(3, 300.0), abs=8)


def test_readings_that_contradict_each_other_widen_the_interval_and_honest_ones_do_not():
    x, honest = np.array([0.0, 200, 400, 600]), np.array([5.2, 4.5, 3.8, 3.1])
    mixed_up = np.array([5.2, 4.5, 4.9, 3.1])

    widths = {
        (name, allowed): np.ptp(left(x, y, gauge_sd_mm=0.1, allow_misfit=allowed).km)
        for name, y in (("honest", honest), ("mixed up", mixed_up))
        for allowed in (True, False)
    }

    assert widths["honest", True] == pytest.approx(widths["honest", False])
    assert widths["mixed up", True] > 1.5 * widths["mixed up", False]


def test_zones_and_tires_are_judged_in_one_call_and_the_worst_zone_binds():
    x = np.array([0.0, 400.0])
    tires = np.array([[[5.2, 4.0], [5.2, 2.5], [5.2, 3.9]], [[5.2, 4.4], [5.2, 4.2], [np.nan, np.nan]]])

    found = left(x, tires, within_km=np.array([[100.0], [400.0]]))

    single = left(x, tires[0, 1], within_km=100.0)
    worst = binding_zone(found)
    assert worst.tolist() == [1, 1]
    assert found.km[0, 1] == pytest.approx(single.km)
    assert found.at(worst).km[0] == pytest.approx(single.km)
    assert found.at(worst).chance[0] == pytest.approx(single.chance)


def test_a_large_batch_equals_its_parts():
    rng = np.random.default_rng(3)
    x = np.sort(rng.uniform(0, 900, size=(700, 1, 4)), axis=-1)
    y = 5.2 - 3.0 * x / 1000 + 0.2 * rng.standard_normal((700, 5, 4))

    whole = left(x, y)

    assert whole.km[650] == pytest.approx(left(x[650], y[650]).km, rel=1e-12)


def test_a_tire_with_nothing_known_about_it_has_no_answer_and_no_binding_zone():
    found = left(np.array([100.0]), np.array([4.0]), new_depth_mm=[np.nan, np.nan])

    assert np.isnan(found.km).all()
    assert binding_zone(found) == -1


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"limit_mm": 5.2}, "new_depth_mm less limit_mm must be above 0"),
        ({"gauge_sd_mm": 0.0}, "gauge_sd_mm must be above 0, not 0"),
        ({"new_depth_sd_mm": -0.1}, "new_depth_sd_mm must be above 0, not -0.1"),
        ({"rate_prior": belief(-1.0)}, "median_mm_per_1000km must be above 0, not -1"),
        ({"within_km": -5.0}, "within_km must be at least 0, not -5"),
    ],
)
def test_an_impossible_parameter_is_refused_by_name(changes, sentence):
    with pytest.raises(ValueError, match=sentence):
        left([100.0], [4.0], **changes)


def test_an_impossible_reading_is_refused_by_name():
    with pytest.raises(ValueError, match="depth_mm must be at least 0, not -1"):
        left([100.0], [-1.0])


def test_the_spread_of_a_new_depth_has_a_default_from_practice():
    assert REAR.new_depth_sd_mm == NEW_DEPTH_SD_MM
