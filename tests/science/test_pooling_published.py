import numpy as np
import pytest

from fleet.science.pooling import fit
from tests.science.pooling_data import dyestuff, pastes, penicillin, sleepstudy


def test_dyestuff_has_the_published_restricted_likelihood_and_variances():
    # Davies and Goldsmith (1972) section 6.4. Criterion: MixedModels.jl test/pls.jl and the lme4 manual (319.6543);
    # sd 42.00 and 49.51: lme4 manual; variances exact from the analysis of variance, (MSB - MSE) / 5 and MSE.
    pooled = fit(*dyestuff())

    assert pooled.reml_deviance == pytest.approx(319.6542768422576, abs=1e-9)
    assert pooled.sd["batch"] ** 2 == pytest.approx((22543 / 2 - 9805 / 4) / 5, rel=1e-8)
    assert pooled.residual_sd**2 == pytest.approx(9805 / 4, rel=1e-8)
    assert pooled.fixed == pytest.approx([1527.5], abs=1e-9)
    assert pooled.fixed_cov[0, 0] == pytest.approx(375.7167, abs=5e-5)


def test_dyestuff_batches_are_predicted_with_the_error_of_the_mean_in_their_standard_deviation():
    # Effects: recomputed by two independent routes and by statsmodels, not published to these digits.
    pooled = fit(*dyestuff())

    assert pooled.effects["batch"] == pytest.approx(
        [-17.606851, 0.391263, 28.562226, -23.084538, 56.733188, -44.995287], abs=1e-6
    )
    assert pooled.effect_sds["batch"] ** 2 == pytest.approx(np.full(6, 613.703106), abs=1e-5)
    assert pooled.counts["batch"].tolist() == [5] * 6


def test_a_known_and_a_new_batch_of_dyestuff_are_predicted_with_their_errors():
    # Recomputed from Henderson's dense equations (Henderson 1975), not published.
    pooled = fit(*dyestuff())

    line = pooled.predict(np.ones((2, 1)), {"batch": [0, -1]})
    single = pooled.predict(np.ones((2, 1)), {"batch": [0, -1]}, observation=True)

    assert line.mean == pytest.approx([1509.893149, 1527.5], abs=1e-6)
    assert line.sd == pytest.approx([20.035047, 46.257612], abs=1e-6)
    assert single.sd == pytest.approx([53.410234, 67.757041], abs=1e-6)


def test_a_variance_on_the_boundary_is_exactly_zero():
    # Generated data of Box and Tiao (1973). Standard error and t value: lme4 tests/lmer-1.R.
    pooled = fit(*dyestuff("dyestuff2"))

    standard_error = np.sqrt(pooled.fixed_cov[0, 0])
    assert pooled.sd["batch"] == 0.0
    assert standard_error == pytest.approx(0.67838803150, abs=1e-9)
    assert pooled.fixed[0] / standard_error == pytest.approx(8.3515624346, abs=1e-8)
    assert not pooled.effects["batch"].any()
    assert pooled.reml_deviance == pytest.approx(161.828278, abs=1e-6)


def test_penicillin_has_the_published_criterion_and_the_exact_variances_of_a_balanced_layout():
    # Davies and Goldsmith (1972) section 6.6; criterion and sd: lme4 manual and Bates et al. (2015).
    pooled = fit(*penicillin())

    assert pooled.reml_deviance == pytest.approx(330.8606, abs=5e-5)
    assert pooled.sd["plate"] ** 2 == pytest.approx(742 / 1035, rel=1e-7)
    assert pooled.sd["sample"] ** 2 == pytest.approx(7723 / 2070, rel=1e-7)
    assert pooled.residual_sd**2 == pytest.approx(313 / 1035, rel=1e-7)
    assert pooled.fixed == pytest.approx([827 / 36], abs=1e-9)


def test_penicillin_effects_are_those_of_the_published_listing():
    # lme4 manual, conditional modes of plates a, g, k, m, u, x and of samples A to F.
    pooled = fit(*penicillin())

    assert pooled.effects["sample"] == pytest.approx(
        [2.18706, -1.01048, 1.93790, -0.09689, -0.01384, -3.00374], abs=6e-6
    )
    assert pooled.effects["plate"][[0, 6, 10, 12, 20, 23]] == pytest.approx(
        [0.80455, -1.37552, 0.96027, 1.42742, -0.90836, -1.21980], abs=6e-6
    )


def test_penicillin_error_variances_are_of_prediction_not_conditional():
    # Recomputed. The conditional variances (lme4 manual: 0.07364, 0.04087) would be too small for samples.
    pooled = fit(*penicillin())

    assert pooled.effect_sds["plate"] ** 2 == pytest.approx(np.full(24, 0.0750007857), abs=1e-8)
    assert pooled.effect_sds["sample"] ** 2 == pytest.approx(np.full(6, 0.6322848378), abs=1e-7)


def test_penicillin_predictions_carry_all_covariances():
    # Recomputed from the dense mixed-model equations, not published.
    pooled = fit(*penicillin())
    asked = {"plate": [0, -1, -1], "sample": [0, 0, -1]}

    line = pooled.predict(np.ones((3, 1)), asked)
    single = pooled.predict(np.ones((3, 1)), asked, observation=True)

    assert line.mean == pytest.approx([25.963827, 25.159280, 827 / 36], abs=1e-6)
    assert line.sd[0] == pytest.approx(0.240198, abs=1e-6)
    assert line.sd[1] ** 2 == pytest.approx(0.206001**2 + 742 / 1035, abs=1e-6)
    assert single.sd == pytest.approx([0.600092, 1.030417, 2.324657], abs=1e-6)


@pytest.mark.parametrize("eliminate", ["plate", "sample"])
def test_the_difference_of_two_samples_on_one_plate_is_sharper_than_either(eliminate):
    # Recomputed from the dense mixed-model equations, not published.
    pooled = fit(*penicillin(), eliminate=eliminate)

    gap = pooled.difference(
        np.ones((1, 1)), {"plate": [0], "sample": [0]}, np.ones((1, 1)), {"plate": [0], "sample": [1]}
    )

    assert gap.mean == pytest.approx([3.197534], abs=1e-6)
    assert gap.sd == pytest.approx([0.158482], abs=1e-6)


def test_casks_nested_in_batches_have_the_exact_variances_of_a_balanced_layout():
    # Davies and Goldsmith (1972) section 6.5: 10 batches of 3 casks, 2 tests each. In a balanced nest restricted
    # likelihood and analysis of variance agree (Searle, Casella and McCulloch 1992, chapter 4, from memory):
    # residual MSE, cask (MSC - MSE) / 2, batch (MSB - MSC) / 6.
    y, x, groups = pastes()
    cells = y.reshape(10, 3, 2)
    by_cask, by_batch = cells.mean(axis=2), cells.mean(axis=(1, 2))
    within = np.sum((cells - by_cask[:, :, None]) ** 2) / 30
    between_casks = 2 * np.sum((by_cask - by_batch[:, None]) ** 2) / 20
    between_batches = 6 * np.sum((by_batch - y.mean()) ** 2) / 9

    pooled = fit(y, x, groups)

    assert pooled.residual_sd**2 == pytest.approx(within, rel=1e-8)
    assert pooled.sd["cask"] ** 2 == pytest.approx((between_casks - within) / 2, rel=1e-8)
    assert pooled.sd["batch"] ** 2 == pytest.approx((between_batches - between_casks) / 6, rel=1e-7)
    assert pooled.fixed == pytest.approx([y.mean()], abs=1e-9)


def test_casks_of_different_batches_taken_for_one_fit_visibly_worse():
    # HSDS documentation, page "pastes": REML criterion 301.5 with casks a, b, c shared by all batches.
    apart, confused = fit(*pastes()), fit(*pastes(nested=False))

    assert confused.reml_deviance == pytest.approx(301.5, abs=0.05)
    assert len(apart.effects["cask"]) == 30
    assert apart.reml_deviance < confused.reml_deviance - 50


def test_reaction_times_without_sleep_have_the_published_random_intercepts():
    # Belenky et al. (2003); public lmer output of Reaction ~ Days + (1 | Subject): 1786.465, 37.12, 30.99,
    # 251.41 (9.75), 10.47 (0.80). Effects of subjects 308 and 309 recomputed.
    pooled = fit(*sleepstudy())

    assert pooled.reml_deviance == pytest.approx(1786.465, abs=5e-4)
    assert pooled.sd["subject"] == pytest.approx(37.12, abs=5e-3)
    assert pooled.residual_sd == pytest.approx(30.99, abs=5e-3)
    assert pooled.fixed == pytest.approx([251.41, 10.47], abs=5e-3)
    assert np.sqrt(np.diag(pooled.fixed_cov)) == pytest.approx([9.74671625, 0.80422143], abs=1e-6)
    assert pooled.effects["subject"][:2] == pytest.approx([40.78371, -77.84955], abs=1e-4)
