import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf

from fleet.science.pooling import absorption, fit
from tests.science.pooling_data import by_hand, crossed, dyestuff, penicillin, sleepstudy


def test_one_factor_agrees_with_a_general_statistics_library():
    # statsmodels MixedLM; its own search stops early, therefore 2e-3 on the variances.
    y, x, groups = sleepstudy()
    frame = pd.DataFrame({"y": y, "days": x[:, 1], "subject": groups["subject"]})

    theirs = smf.mixedlm("y ~ days", frame, groups="subject").fit(reml=True)
    ours = fit(y, x, groups)

    assert ours.reml_deviance == pytest.approx(-2 * theirs.llf, abs=1e-4)
    assert ours.sd["subject"] ** 2 == pytest.approx(float(theirs.cov_re.iloc[0, 0]), rel=2e-3)
    assert ours.residual_sd**2 == pytest.approx(theirs.scale, rel=2e-3)
    assert ours.fixed == pytest.approx(theirs.fe_params.to_numpy(), rel=1e-6)


def test_two_crossed_factors_agree_with_a_general_statistics_library():
    # statsmodels MixedLM with both factors as variance components of one all-embracing group.
    y, _, groups = penicillin()
    frame = pd.DataFrame({"y": y, **groups, "all": 1})
    parts = {"plate": "0 + C(plate)", "sample": "0 + C(sample)"}

    theirs = smf.mixedlm("y ~ 1", frame, groups="all", vc_formula=parts, re_formula="0").fit(reml=True)
    ours = fit(y, np.ones((len(y), 1)), groups)

    assert [ours.sd["plate"] ** 2, ours.sd["sample"] ** 2] == pytest.approx(theirs.vcomp, rel=2e-3)
    assert ours.residual_sd**2 == pytest.approx(theirs.scale, rel=2e-3)


@pytest.mark.parametrize("eliminate", ["rider", "product", "track"])
@pytest.mark.parametrize("weighted", [False, True])
def test_every_result_equals_the_textbook_equations_solved_in_full(eliminate, weighted):
    y, x, groups, weights = crossed(np.random.default_rng(20240601), weighted=weighted)

    pooled = fit(y, x, groups, weights=weights, eliminate=eliminate)
    heft = np.ones(len(y)) if weights is None else weights
    deviance, solution, covariance = by_hand(y, x, groups, heft, pooled)

    effects = np.concatenate([pooled.fixed, *pooled.effects.values()])
    errors = np.concatenate([np.sqrt(np.diag(pooled.fixed_cov)), *pooled.effect_sds.values()])
    assert pooled.reml_deviance == pytest.approx(deviance, abs=1e-8)
    assert effects == pytest.approx(solution, abs=1e-7)
    assert errors == pytest.approx(np.sqrt(np.diag(covariance)), abs=1e-8)


def test_predictions_equal_the_textbook_equations_solved_in_full():
    y, x, groups, _ = crossed(np.random.default_rng(7))
    pooled = fit(y, x, groups)
    _, solution, covariance = by_hand(y, x, groups, np.ones(len(y)), pooled)
    stacked = np.hstack([x, *(np.eye(len(pooled.effects[name]))[codes] for name, codes in groups.items())])

    line = pooled.predict(x, groups)
    gap = pooled.difference(
        x[:9], {n: c[:9] for n, c in groups.items()}, x[9:18], {n: c[9:18] for n, c in groups.items()}
    )

    between = stacked[:9] - stacked[9:18]
    assert line.mean == pytest.approx(stacked @ solution, abs=1e-7)
    assert line.sd == pytest.approx(np.sqrt(np.einsum("ij,jk,ik->i", stacked, covariance, stacked)), abs=1e-8)
    assert gap.mean == pytest.approx(between @ solution, abs=1e-7)
    assert gap.sd == pytest.approx(np.sqrt(np.einsum("ij,jk,ik->i", between, covariance, between)), abs=1e-8)


def test_lines_with_levels_never_seen_carry_the_fixed_effects_errors_and_the_spread_of_their_factors():
    # From the same equations: a level never seen has effect 0, its own variance, and no covariance with the rest.
    y, x, groups, _ = crossed(np.random.default_rng(8))
    pooled = fit(y, x, groups)
    _, solution, covariance = by_hand(y, x, groups, np.ones(len(y)), pooled)
    products = np.eye(len(pooled.effects["product"]))[groups["product"]]
    stacked = np.zeros((len(y), len(solution)))
    stacked[:, :2] = x
    stacked[:, 2 + len(pooled.effects["rider"]) :][:, : products.shape[1]] = products

    line = pooled.predict(x, {"rider": -1, "product": groups["product"], "track": -1})
    nobody = pooled.predict(x, {"rider": -1, "product": -1, "track": -1})

    spread = pooled.sd["rider"] ** 2 + pooled.sd["track"] ** 2
    variance = np.einsum("ij,jk,ik->i", stacked, covariance, stacked) + spread
    plain = np.einsum("ij,jk,ik->i", x, covariance[:2, :2], x) + spread + pooled.sd["product"] ** 2
    assert line.mean == pytest.approx(stacked @ solution, abs=1e-7)
    assert line.sd == pytest.approx(np.sqrt(variance), abs=1e-8)
    assert nobody.mean == pytest.approx(x @ solution[:2], abs=1e-7)
    assert nobody.sd == pytest.approx(np.sqrt(plain), abs=1e-8)


@pytest.mark.parametrize("change", [{"rider": 1.01}, {"product": 0.99}, {"track": 1.01}, {"residual": 0.99}])
def test_no_nearby_standard_deviations_are_likelier(change):
    y, x, groups, weights = crossed(np.random.default_rng(3), weighted=True)

    best = fit(y, x, groups, weights=weights)
    sds = {**best.sd, "residual": best.residual_sd}
    held = fit(y, x, groups, weights=weights, sds=sds)
    nearby = fit(
        y, x, groups, weights=weights, sds={name: sd * change.get(name, 1) for name, sd in sds.items()}
    )

    assert held.reml_deviance == pytest.approx(best.reml_deviance, abs=1e-9)
    assert nearby.reml_deviance > best.reml_deviance + 1e-5


@pytest.mark.parametrize("cells", [0, 1_200, 5_000])
def test_the_cheaper_routes_for_many_different_weights_lead_to_the_same_fit(monkeypatch, cells):
    # 5,000 numbers hold 19 classes of 16 by 16: riders of similar weight first share one. 1,200 hold four, which is so
    # rough that one centre is not enough, and 0 hold none.
    y, x, groups, weights = crossed(np.random.default_rng(11), rows=900, riders=120, weighted=True)
    usual = fit(y, x, groups, weights=weights)

    monkeypatch.setattr(absorption, "CLASS_CELLS", cells)
    monkeypatch.setattr(absorption, "FEWEST_CLASSES", 4)
    monkeypatch.setattr(absorption, "DENSE_ADVANTAGE", 1e6)
    other = fit(y, x, groups, weights=weights)

    assert other.sd == pytest.approx(usual.sd, rel=1e-9)
    assert other.reml_deviance == pytest.approx(usual.reml_deviance, abs=1e-9)
    assert other.effects["rider"] == pytest.approx(usual.effects["rider"], abs=1e-8)


def test_weights_count_like_repeated_readings_averaged_into_one():
    # Law of the normal distribution: the mean of m rows of one level carries weight m.
    y, x, groups = dyestuff()
    sds = {"batch": 42.0, "residual": 49.5}

    single = fit(y, x, groups, sds=sds)
    averaged = fit(
        y.reshape(6, 5).mean(axis=1),
        np.ones((6, 1)),
        {"batch": np.arange(6)},
        weights=np.full(6, 5.0),
        sds=sds,
    )

    assert averaged.effects["batch"] == pytest.approx(single.effects["batch"], abs=1e-9)
    assert averaged.effect_sds["batch"] == pytest.approx(single.effect_sds["batch"], abs=1e-9)
