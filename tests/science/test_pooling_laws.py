import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from fleet.science.pooling import encode, fit
from tests.science.pooling_data import crossed, dyestuff

SEEDS = st.integers(min_value=0, max_value=2**32 - 1)
few = settings(max_examples=15, deadline=None)


def small(seed):
    return crossed(np.random.default_rng(seed), rows=80, riders=12, products=5, tracks=3, weighted=True)


@few
@given(seed=SEEDS)
def test_the_order_of_the_rows_changes_nothing(seed):
    y, x, groups, weights = small(seed)
    order = np.random.default_rng(seed + 1).permutation(len(y))

    usual = fit(y, x, groups, weights=weights)
    other = fit(
        y[order], x[order], {name: codes[order] for name, codes in groups.items()}, weights=weights[order]
    )

    assert other.reml_deviance == pytest.approx(usual.reml_deviance, abs=1e-9)
    assert other.sd == pytest.approx(usual.sd, abs=1e-6)
    assert other.effects["rider"] == pytest.approx(usual.effects["rider"], abs=1e-5)


@few
@given(seed=SEEDS, shift=st.floats(-1e4, 1e4), scale=st.floats(1e-3, 1e3))
def test_another_unit_and_origin_of_y_shift_and_scale_the_results(seed, shift, scale):
    y, x, groups, weights = small(seed)

    usual = fit(y, x, groups, weights=weights)
    other = fit(shift + scale * y, x, groups, weights=weights)

    freedom = len(y) - x.shape[1]
    assert other.reml_deviance == pytest.approx(usual.reml_deviance + 2 * freedom * np.log(scale), abs=1e-6)
    assert other.residual_sd == pytest.approx(scale * usual.residual_sd, rel=1e-6)
    assert other.fixed == pytest.approx([shift, 0.0] + scale * usual.fixed, rel=1e-6)
    for name, sd in usual.sd.items():
        assert other.sd[name] == pytest.approx(scale * sd, rel=1e-5, abs=1e-5 * scale)


@few
@given(seed=SEEDS, eliminate=st.sampled_from(["product", "track"]))
def test_it_does_not_matter_which_factor_is_eliminated(seed, eliminate):
    y, x, groups, weights = small(seed)

    usual = fit(y, x, groups, weights=weights)
    other = fit(y, x, groups, weights=weights, eliminate=eliminate)

    assert other.reml_deviance == pytest.approx(usual.reml_deviance, abs=1e-9)
    assert other.sd == pytest.approx(usual.sd, abs=1e-6)
    for name, errors in usual.effect_sds.items():
        assert other.effect_sds[name] == pytest.approx(errors, abs=1e-6)


@few
@given(seed=SEEDS)
def test_a_variance_is_exactly_zero_or_clearly_above(seed):
    # The truth has no product effect, so that about half of the fits end on the boundary.
    rng = np.random.default_rng(seed)
    products = rng.integers(0, 5, 60)
    y = rng.normal(200, 5, 60)

    pooled = fit(y, np.ones((60, 1)), {"product": products})

    at_zero = fit(y, np.ones((60, 1)), {"product": products}, sds={"product": 0.0, "residual": y.std(ddof=1)})
    assert pooled.sd["product"] == 0.0 or pooled.sd["product"] > 1e-3
    assert pooled.reml_deviance <= at_zero.reml_deviance + 1e-9


@few
@given(seed=SEEDS)
def test_predicting_a_known_combination_is_never_less_sure_than_an_unknown_one(seed):
    y, x, groups, weights = small(seed)
    pooled = fit(y, x, groups, weights=weights)

    known = pooled.predict(x, groups)
    unknown = pooled.predict(x, {**groups, "product": -1})

    assert (known.sd <= unknown.sd * (1 + 1e-9)).all()


def test_a_difference_of_a_line_with_itself_is_nothing():
    y, x, groups, weights = small(5)
    pooled = fit(y, x, groups, weights=weights)
    unseen = {"rider": -1, "product": 2, "track": -1}

    gap = pooled.difference(x[:1], unseen, x[:1], unseen)

    assert gap.mean == pytest.approx([0.0], abs=1e-12)
    assert gap.sd == pytest.approx([0.0], abs=1e-9)


def test_quantiles_of_a_level_never_seen_use_the_levels_less_one_and_known_ones_are_normal():
    # Fisher and Yates, Statistical Tables, table III: t at 97.5 % with 5 degrees of freedom 2.571; normal 1.960.
    pooled = fit(*dyestuff())
    x, groups = np.ones((2, 1)), {"batch": [0, -1]}

    mean, sd = pooled.predict(x, groups)
    upper = pooled.quantile(0.975, x, groups)

    assert pooled.df(groups).tolist() == [np.inf, 5.0]
    assert (upper - mean) / sd == pytest.approx([1.960, 2.571], abs=5e-4)


def test_a_row_of_unknown_level_counts_as_a_level_of_its_own():
    y, x, groups, _ = small(9)
    unknown, own = groups["rider"].copy(), groups["rider"].copy()
    unknown[:5], own[:5] = -1, 100 + np.arange(5)

    told = fit(y, x, {**groups, "rider": own})
    hidden = fit(y, x, {**groups, "rider": unknown})

    assert hidden.reml_deviance == pytest.approx(told.reml_deviance, abs=1e-9)
    assert hidden.sd == pytest.approx(told.sd, rel=1e-7)
    assert len(hidden.effects["rider"]) == unknown.max() + 1


def test_a_level_without_rows_is_as_uncertain_as_its_factor():
    y, x, groups = dyestuff()
    gap = {"batch": np.where(groups["batch"] > 2, groups["batch"] + 1, groups["batch"])}

    pooled = fit(y, x, gap)

    assert pooled.counts["batch"].tolist() == [5, 5, 5, 0, 5, 5, 5]
    assert pooled.effects["batch"][3] == 0.0
    assert pooled.effect_sds["batch"][3] == pytest.approx(pooled.sd["batch"], rel=1e-12)


def test_codes_used_again_inside_another_parent_are_kept_apart():
    tracks, layouts = ["hill", "hill", "lake", "lake", "hill"], [1, 2, 1, 2, 1]

    codes, levels = encode(tracks, layouts)

    assert codes.tolist() == [0, 1, 2, 3, 0]
    assert levels == [("hill", 1), ("hill", 2), ("lake", 1), ("lake", 2)]


@given(st.lists(st.tuples(st.text(max_size=3), st.integers(-5, 5)), min_size=1))
def test_every_code_leads_back_to_its_row(rows):
    codes, levels = encode([text.replace("\0", "") for text, _ in rows], [number for _, number in rows])

    assert [levels[code] for code in codes] == [(text.replace("\0", ""), number) for text, number in rows]
    assert sorted(set(codes.tolist())) == list(range(len(levels)))


def test_intervals_hold_as_often_as_they_say():
    # Simulated truth, seeded; bounds are three standard errors of 250 fits around 95 %.
    rng = np.random.default_rng(20240601)
    held = {"known": [], "never seen": []}
    for _ in range(250):
        products = np.repeat(np.arange(9), 8)
        truth = rng.normal(0, 3.0, 10)
        y = 200 + truth[products] + rng.normal(0, 4.0, 72)
        pooled = fit(y, np.ones((72, 1)), {"product": products})
        low, high = (pooled.quantile(p, np.ones((2, 1)), {"product": [0, -1]}) for p in (0.025, 0.975))
        inside = (low <= 200 + truth[[0, 9]]) & (200 + truth[[0, 9]] <= high)
        held["known"].append(inside[0])
        held["never seen"].append(inside[1])

    margin = 3 * np.sqrt(0.95 * 0.05 / 250)
    assert np.mean(held["known"]) == pytest.approx(0.95, abs=margin)
    assert np.mean(held["never seen"]) == pytest.approx(0.95, abs=margin)
    assert stats.t.ppf(0.975, 8) == pytest.approx(2.306, abs=5e-4)


def test_lines_of_a_new_product_hold_as_often_as_they_say_among_crossed_factors():
    # Simulated truth, seeded: 100 riders, 6 products, 4 tracks, sd 0.8, 0.5 and 0.3, residual 1, 600 rows. Normal
    # quantiles of a new product would hold in about 89 %; Student's t is accepted between 93 and 98 %.
    rng = np.random.default_rng(20240601)
    sds, sizes = {"rider": 0.8, "product": 0.5, "track": 0.3}, {"rider": 100, "product": 6, "track": 4}
    held, sure = [], []
    for _ in range(200):
        groups = {name: rng.integers(0, size, 600) for name, size in sizes.items()}
        effects = {name: rng.normal(0, sds[name], size + 1) for name, size in sizes.items()}
        y = rng.normal(size=600) + sum(effects[name][codes] for name, codes in groups.items())
        pooled = fit(y, np.ones((600, 1)), groups)
        asked = {"rider": [0], "product": [-1], "track": [0]}
        truth = effects["rider"][0] + effects["product"][-1] + effects["track"][0]
        low, high = (pooled.quantile(p, [[1.0]], asked)[0] for p in (0.025, 0.975))
        mean, sd = pooled.predict([[1.0]], asked)
        held.append(low <= truth <= high)
        sure.append(abs(truth - mean[0]) <= stats.norm.ppf(0.975) * sd[0])

    assert 0.93 <= np.mean(held) <= 0.98
    assert np.mean(sure) < 0.93
