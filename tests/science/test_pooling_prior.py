import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from fleet.science.pooling import Prior, fit
from tests.science.pooling_data import crossed, dyestuff

PRIOR = Prior(
    mean=[200.0, 3.0],
    sd=[15.0, 2.0],
    group_sd={"rider": 5.0, "product": 4.0, "track": 3.0},
    residual_sd=6.0,
    strength=3.0,
)
NOBODY = {"rider": [], "product": [], "track": []}


def test_without_any_row_the_fit_returns_the_prior():
    pooled = fit([], np.zeros((0, 2)), NOBODY, prior=PRIOR)

    assert pooled.fixed == pytest.approx([200.0, 3.0], rel=1e-12)
    assert pooled.fixed_cov == pytest.approx(np.diag([225.0, 4.0]), rel=1e-12)
    assert pooled.sd == pytest.approx(PRIOR.group_sd, rel=1e-9)
    assert pooled.residual_sd == pytest.approx(6.0, rel=1e-9)
    assert pooled.rows == 0
    assert pooled.reml_deviance == pytest.approx(0.0, abs=1e-9)


def test_without_any_row_a_prediction_is_as_wide_as_everything_believed():
    pooled = fit([], np.zeros((0, 2)), NOBODY, prior=PRIOR)
    asked = {"rider": -1, "product": -1, "track": -1}

    line = pooled.predict([[1.0, 2.0]], asked)
    single = pooled.predict([[1.0, 2.0]], asked, observation=True)
    upper = pooled.quantile(0.9, [[1.0, 2.0]], asked)

    spread = 225 + 4 * 4 + 25 + 16 + 9
    assert line.mean == pytest.approx([206.0])
    assert line.sd == pytest.approx([np.sqrt(spread)])
    assert single.sd == pytest.approx([np.sqrt(spread + 36)])
    assert upper == pytest.approx(line.mean + stats.t.ppf(0.9, 3) * line.sd)


def test_one_row_moves_the_belief_by_the_rule_for_a_normal_mean():
    # Gelman et al. (2013), Bayesian Data Analysis, section 2.5: normal mean, known variance, one observation.
    prior = Prior(mean=[200.0], sd=[15.0], group_sd={}, residual_sd=6.0)

    pooled = fit([230.0], [[1.0]], {}, prior=prior, sds={"residual": 6.0})

    assert pooled.fixed == pytest.approx([(200 / 225 + 230 / 36) / (1 / 225 + 1 / 36)], rel=1e-12)
    assert pooled.fixed_cov[0, 0] == pytest.approx(1 / (1 / 225 + 1 / 36), rel=1e-12)


def test_the_residual_is_pooled_with_its_prior_by_degrees_of_freedom():
    # Gelman et al. (2013), section 2.6: scale of the scaled inverse chi-squared posterior; n - 1 for a free mean.
    y, x, _ = dyestuff()
    prior = Prior(mean=[0.0], sd=[np.inf], group_sd={}, residual_sd=50.0, strength=4.0)

    pooled = fit(y, x, {}, prior=prior)

    expected = (np.sum((y - y.mean()) ** 2) + 4 * 50.0**2) / (29 + 4)
    assert pooled.residual_sd**2 == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("levels", [1, 2])
def test_one_row_of_one_or_two_levels_is_enough(levels):
    rows = {name: list(range(levels)) for name in NOBODY}

    pooled = fit([230.0] * levels, [[1.0, 0.0]] * levels, rows, prior=PRIOR)

    assert 200.0 < pooled.fixed[0] < 230.0
    assert all(effects[0] > 0.0 for effects in pooled.effects.values())
    assert all(sd > 0.0 for sd in pooled.sd.values())


@pytest.mark.parametrize("seed", [0, 1, 2, 3])
def test_the_prior_fades_as_rows_and_levels_grow(seed):
    apart = []
    for size in (1, 4, 16):
        rng = np.random.default_rng(seed)
        y, x, groups, _ = crossed(rng, rows=150 * size, riders=10 * size, products=6 * size, tracks=5 * size)
        free, believed = fit(y, x, groups), fit(y, x, groups, prior=PRIOR)
        apart.append(max(abs(np.log(believed.sd[name] / free.sd[name])) for name in groups))

    assert apart[0] > apart[1] > apart[2]
    assert apart[2] < 0.05


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), rows=st.integers(1, 40))
def test_the_prior_makes_any_number_of_rows_enough(seed, rows):
    y, x, groups, _ = crossed(np.random.default_rng(seed), rows=rows)

    pooled = fit(y, x, groups, prior=PRIOR)
    at_best = {**pooled.sd, "residual": pooled.residual_sd}

    line = pooled.predict(x, groups)
    assert np.isfinite(line.mean).all()
    assert (line.sd > 0.0).all()
    for name, sd in at_best.items():
        for factor in (0.98, 1.02):
            assert surprise(y, x, groups, {**at_best, name: factor * sd}) > surprise(y, x, groups, at_best)


def surprise(y, x, groups, sds):
    """Minus twice the log of likelihood times prior, from the definition of the scaled inverse chi-squared."""
    typical = {**PRIOR.group_sd, "residual": PRIOR.residual_sd}
    penalty = sum(2 * np.log(sd) + (typical[name] / sd) ** 2 for name, sd in sds.items())
    return fit(y, x, groups, prior=PRIOR, sds=sds).reml_deviance + PRIOR.strength * penalty


def test_the_deviance_with_a_prior_is_that_of_the_normal_distribution_of_the_rows():
    # Definition: y is normal with the prior's mean and the sum of all covariances.
    y, x, groups, _ = crossed(np.random.default_rng(2), rows=30)
    sds = {"rider": 4.0, "product": 3.0, "track": 2.0, "residual": 5.0}

    pooled = fit(y, x, groups, prior=PRIOR, sds=sds)

    total = 25.0 * np.eye(30) + x @ np.diag([225.0, 4.0]) @ x.T
    for name, codes in groups.items():
        total += sds[name] ** 2 * (codes[:, None] == codes)
    log_density = stats.multivariate_normal(x @ [200.0, 3.0], total).logpdf(y)
    assert pooled.reml_deviance == pytest.approx(-2 * log_density, abs=1e-8)


def test_held_standard_deviations_count_as_known_unless_their_degrees_of_freedom_are_given():
    y, x, groups, _ = crossed(np.random.default_rng(4))
    nightly = fit(y, x, groups)
    sds = {**nightly.sd, "residual": nightly.residual_sd}
    asked = {"rider": -1, "product": 0, "track": -1}

    known = fit(y, x, groups, sds=sds)
    careful = fit(y, x, groups, sds=sds, dofs=nightly.dof)

    assert known.sd == pytest.approx(nightly.sd)
    assert known.effects["rider"] == pytest.approx(nightly.effects["rider"], abs=1e-9)
    assert known.df(asked) == np.inf
    assert careful.df(asked) == nightly.df(asked) == nightly.dof["track"] == 3.0
