"""The Weibull distribution of one product's lives: published, and honest with few sets."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lifelines import WeibullFitter
from scipy import optimize, stats

from fleet.science.product_life import LifePrior, weibull_life
from fleet.science.product_life.likelihood import Posterior
from fleet.science.product_life.lives import observed
from tests.science.lives_data import ABSORBERS, PLACEBO, SETS, ends, invented, sample

BELIEF = LifePrior(median=6.0)

# Published.


def test_the_shock_absorbers_have_the_published_weibull_distribution():
    # Data of Meeker and Escobar (1998), page 630; answers of the R package weibulltools, test snapshot of
    # ml_estimation: mu = log eta, sigma = 1 / beta. Its search stops early: 1e-6 on mu and sigma, 1e-7 on covariances.
    found = weibull_life(*sample(ABSORBERS), prior=None, level=0.90)

    sigma = 1 / found.shape.value
    to_sigma = np.diag([1, -sigma])
    covariance = to_sigma @ found.log_cov @ to_sigma
    assert np.log(found.scale.value) == pytest.approx(10.2298631, abs=1e-6)
    assert sigma == pytest.approx(0.3164092, abs=1e-6)
    assert found.log_likelihood == pytest.approx(-123.9954, abs=5e-5)
    assert covariance[[0, 0, 1], [0, 1, 1]] == pytest.approx(
        [0.012075836, 0.003990396, 0.005353183], abs=1e-7
    )
    assert np.log(ends(found.scale)) == pytest.approx([10.0491099, 10.4106162], abs=1e-6)
    assert [1 / each for each in ends(found.shape)][::-1] == pytest.approx([0.2163041, 0.4628426], abs=2e-6)


# Independent.


@pytest.mark.parametrize("seed", [6, 7, 8])
@pytest.mark.parametrize("delayed", [False, True])
def test_the_weibull_distribution_agrees_with_a_general_library(seed, delayed):
    durations, worn, since = invented(seed)
    since = since * delayed
    # Its search stops some 1e-5 early, at a lower likelihood.
    theirs = WeibullFitter().fit(durations, worn, entry=since)

    found = weibull_life(durations, worn, seen_from=since, prior=None)

    sizes = np.array([theirs.lambda_, theirs.rho_])
    assert [found.scale.value, found.shape.value] == pytest.approx(sizes, rel=3e-5)
    assert found.log_likelihood == pytest.approx(theirs.log_likelihood_, abs=1e-6)
    assert found.log_cov == pytest.approx(
        theirs.variance_matrix_ / np.outer(sizes, sizes), rel=2e-3, abs=1e-6
    )


def test_maximum_likelihood_agrees_with_the_censored_fit_of_another():
    durations, worn, _ = invented(9)
    shape, _, scale = stats.weibull_min.fit(
        stats.CensoredData.right_censored(durations, ~worn), floc=0, method="mle"
    )

    found = weibull_life(durations, worn, prior=None)

    assert [found.scale.value, found.shape.value] == pytest.approx([scale, shape], rel=1e-3)


def moved_by_parameters(found, log_figure):
    """A figure's logarithm and the interval its numerical slopes in log scale and log shape give it."""
    point = np.log([found.scale.value, found.shape.value])
    steps = 1e-5 * np.eye(2)
    slopes = [(log_figure(point + step) - log_figure(point - step)) / 2e-5 for step in steps]
    half = 1.2815515655446004 * np.sqrt(slopes @ found.log_cov @ slopes)
    return log_figure(point), [log_figure(point) - half, log_figure(point) + half]


@pytest.mark.parametrize("age", [0.0, 3.0, 8.0])
def test_intervals_of_remaining_life_follow_from_slopes_taken_numerically(age):
    def log_remaining(point):
        weibull = stats.weibull_min(np.exp(point[1]), scale=np.exp(point[0]))
        return np.log(weibull.isf(0.7 * weibull.sf(age)) - age)

    durations, worn, _ = invented(10)
    found = weibull_life(durations, worn, level=0.8)
    expected, interval = moved_by_parameters(found, log_remaining)

    remaining = found.remaining(0.3, age=age)

    assert np.log(remaining.value) == pytest.approx(expected, abs=1e-9)
    assert np.log(ends(remaining)) == pytest.approx(interval, abs=1e-6)


def test_the_mean_life_and_its_interval_are_those_of_the_distribution():
    def log_mean(point):
        return np.log(stats.weibull_min(np.exp(point[1]), scale=np.exp(point[0])).mean())

    durations, worn, _ = invented(11)
    found = weibull_life(durations, worn, level=0.8)
    expected, interval = moved_by_parameters(found, log_mean)

    mean = found.mean()

    assert np.log(mean.value) == pytest.approx(expected, abs=1e-9)
    assert np.log(ends(mean)) == pytest.approx(interval, abs=1e-6)


@pytest.mark.parametrize("prior", [None, LifePrior()])
def test_four_of_five_intervals_hold_the_truth_that_drew_the_sets(prior):
    # 300 draws: the standard error of the coverage is 0.023; asymptotic intervals of few sets fall a little short.
    fits = [
        weibull_life(durations, worn, seen_from=since, prior=prior, level=0.8)
        for durations, worn, since in (invented(seed, sets=40) for seed in range(300))
    ]
    truth = 6 * np.log(2) ** (1 / 3)

    medians = [fit.remaining(0.5) for fit in fits]
    held = np.mean([each.low < truth < each.high for each in medians])
    held_shape = np.mean([fit.shape.low < 3 < fit.shape.high for fit in fits])

    assert 0.73 < held < 0.87
    assert 0.73 < held_shape < 0.87


def test_part_worn_sets_bias_nothing_when_it_is_said_how_far_they_had_run():
    durations, worn, since = invented(12, sets=6000)

    told = weibull_life(durations, worn, seen_from=since)
    untold = weibull_life(durations, worn)

    truth = np.exp(-((4.0 / 6) ** 3))
    assert told.chance_beyond(4.0) == pytest.approx(truth, abs=0.02)
    assert untold.chance_beyond(4.0) > truth + 0.03


# Laws.


@given(SETS, st.randoms())
def test_the_order_of_sets_does_not_matter(sets, random):
    durations, worn = sets
    order = random.sample(range(durations.size), durations.size)

    mixed = weibull_life(durations[order], worn[order])

    assert mixed.scale.value == pytest.approx(
        weibull_life(durations, worn).scale.value, rel=1e-9, nan_ok=True
    )


@given(SETS, st.floats(min_value=1e-3, max_value=1e3))
def test_another_unit_scales_lives_and_leaves_the_shape(sets, factor):
    durations, worn = sets

    life, scaled = weibull_life(durations, worn), weibull_life(factor * durations, worn)

    assert scaled.shape.value == pytest.approx(life.shape.value, rel=1e-6, nan_ok=True)
    assert scaled.remaining([0.1, 0.5]).high == pytest.approx(
        factor * life.remaining([0.1, 0.5]).high, rel=1e-5, nan_ok=True
    )


@given(st.floats(min_value=0.01, max_value=0.99), st.floats(min_value=0, max_value=15))
def test_remaining_life_is_what_the_chance_to_last_says(prob, age):
    found = weibull_life(*sample(PLACEBO))

    left = found.remaining(prob, age=age).value

    assert found.chance_beyond(left, age=age) == pytest.approx(1 - prob, abs=1e-9)


# Few sets.


def test_one_worn_set_gives_a_life_with_the_believed_shape():
    # By hand: the scale is the one duration; in the logarithm of the shape the set pulls with 1, the belief with 4 per unit.
    found = weibull_life([5.0], [True])

    assert found.is_too_few
    assert found.scale.value == pytest.approx(5.0)
    assert np.log(found.shape.value) == pytest.approx(np.log(3.0) + 1 / 4)


def test_without_sets_belief_is_the_answer():
    found = weibull_life([], [], prior=LifePrior(median=5.0))

    assert found.is_too_few
    assert found.remaining(0.5).value == pytest.approx(5.0)
    assert found.shape.value == pytest.approx(3.0)
    assert np.sqrt(found.log_cov[0, 0]) == pytest.approx(0.5)


def test_sets_that_only_ran_raise_the_believed_life():
    prior = LifePrior(median=5.0)
    medians = [
        weibull_life([ran] * 3, [False] * 3, prior=prior).remaining(0.5).value for ran in (1, 4, 8, 12)
    ]

    assert (np.diff([5.0, *medians]) > 0).all()
    assert medians[0] == pytest.approx(5.0, rel=0.02)


@pytest.mark.parametrize(
    ("durations", "worn", "seen_from", "prior"),
    [
        ([3, 5, 8], [0, 0, 0], 0, LifePrior()),
        ([], [], 0, None),
        ([4, 4, 2], [1, 1, 0], 0, None),
        ([4] * 6, [1] * 6, 0, None),
        ([3, 5, 8], [0, 0, 0], 0, None),
        ([37, 8, 9, 5, 2307], [1] * 5, [2, 1.5, 7.1, 2.8, 8.6], None),
    ],
)
def test_too_little_to_tell_is_said_and_nothing_diverges(durations, worn, seen_from, prior):
    found = weibull_life(durations, worn, seen_from=seen_from, prior=prior)

    assert found.is_too_few
    assert np.isnan([found.scale.value, found.shape.low]).all()
    assert np.isnan(found.remaining([0.1, 0.5], age=2.0).value).all()


@pytest.mark.parametrize(
    ("durations", "worn", "seen_from", "prior"),
    [
        ([11.0, 11.0, 9.0, 10.0, 10.0], 1, [0.0, 0.0, 0.0, 0.0, 7.7], None),
        ([10.0, 10.0, 4.0, 6.0, 7.0], 0, [4.0, 0.0, 0.0, 0.0, 0.0], BELIEF),
    ],
)
def test_sets_that_are_hard_to_fit_still_meet_the_greatest_posterior(durations, worn, seen_from, prior):
    # Lives all alike, none worn: plain Newton steps run away from these. Independent: scipy's simplex search.
    flags = np.full(len(durations), worn)
    beliefs = (np.zeros(2), np.zeros(2)) if prior is None else prior.beliefs()
    posterior = Posterior(observed(durations, flags, np.array(seen_from)), *beliefs)
    theirs = optimize.minimize(
        lambda point: -posterior.value(point),
        np.log([1.2 * np.median(durations), 3.0]),
        method="Nelder-Mead",
        options={"xatol": 1e-9, "fatol": 1e-12},
    )

    found = weibull_life(durations, flags, seen_from=seen_from, prior=prior)

    assert [found.scale.value, found.shape.value] == pytest.approx(np.exp(theirs.x), rel=1e-5)


def test_sets_that_tell_next_to_nothing_get_an_interval_without_end():
    # Three part-worn sets, one worn: the likelihood has a greatest value, and next to no curvature there.
    found = weibull_life([4, 11, 11.6], [1, 0, 0], seen_from=[1.3, 2.9, 10.5], prior=None)

    assert found.is_too_few
    assert ends(found.scale) == [0, np.inf]


def test_at_an_age_that_no_set_reaches_nothing_is_known():
    found = weibull_life([9.97, 9.98, 9.99], [1, 1, 0], prior=None)

    assert found.chance_beyond([1.0, 1000.0]).tolist() == [1.0, 0.0]
    assert np.isnan([found.chance_beyond(1.0, age=500.0), found.remaining(0.5, age=500.0).value]).all()


def test_enough_sets_outweigh_the_belief():
    rng = np.random.default_rng(14)
    durations = 6 * rng.weibull(1.2, 2000)

    assert weibull_life(durations, np.ones(2000)).shape.value == pytest.approx(1.2, abs=0.06)
    assert not weibull_life(durations, np.ones(2000)).is_too_few


def test_nan_stays_where_it_was():
    found = weibull_life(*sample(PLACEBO))

    assert np.isnan(found.remaining([0.5, np.nan]).low).tolist() == [False, True]


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: weibull_life([3], [1], level=95), "level must be between 0 and 1, not 95"),
        (lambda: weibull_life([3], [1], prior=LifePrior(shape=0)), "shape must be above 0, not 0"),
        (lambda: weibull_life([3], [1], prior=LifePrior(median=-2)), "median must be above 0, not -2"),
        (lambda: weibull_life([3], [1]).remaining(1.0), "prob must be between 0 and 1, not 1"),
        (lambda: weibull_life([3], [1]).remaining(0.5, age=-1), "age must be at least 0, not -1"),
        (lambda: weibull_life([3], [1]).chance_beyond(-2), "durations must be at least 0, not -2"),
    ],
)  # fmt: skip
def test_an_impossible_value_is_refused_with_name_limit_and_value(call, sentence):
    with pytest.raises(ValueError, match=sentence):
        call()
