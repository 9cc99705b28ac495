import numpy as np
import pytest

from fleet.science.pooling import Prior, encode, fit

Y = np.array([1.0, 2.0, 4.0, 3.0])
X = np.ones((4, 1))
CODES = {"rider": [0, 0, 1, 1]}
SDS = {"rider": 1.0, "residual": 1.0}


def believed(**changes):
    facts = {"mean": [0.0], "sd": [1.0], "group_sd": {"rider": 1.0}, "residual_sd": 1.0}
    return Prior(**{**facts, **changes})


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (([[1.0]], X, CODES), "y must have one dimension"),
        ((Y, X[:3], CODES), r"x must have as many rows as y \(4\), got 3"),
        ((Y, np.ones(4), CODES), "x must have two dimensions"),
        (([1.0, np.nan, 4.0, 3.0], X, CODES), r"y must be finite, got nan at \(1,\)"),
        ((Y, [[1.0], [1.0], [np.inf], [1.0]], CODES), r"x must be finite, got inf at \(2, 0\)"),
        (
            (Y, X, {"rider": [0, 1, 1]}),
            r"groups\['rider'\] must have one code per row \(4,\), got shape \(3,\)",
        ),
        ((Y, X, {"rider": [0, 1, 1, -2]}), r"groups\['rider'\] must be -1 .* or above, got -2"),
        ((Y, X, {"rider": [0.0, 1.0, 1.0, 0.0]}), r"groups\['rider'\] must be integer codes"),
        ((Y, X, {"rider": [0, 0, 0, 0]}), r"groups\['rider'\] must have at least 2 levels .* got 1"),
        ((Y, X, {"rider": [0, 1, 2, 3]}), r"groups\['rider'\] must have .* fewer than the 4 rows .* got 4"),
        ((Y[:1], X[:1], {"rider": [0]}), "y must have more rows than the 1 fixed effects when no prior"),
        ((np.full(4, 7.0), X, CODES), "y must vary beyond its fixed effects"),
        (([1.0, 1.0, 5.0, 5.0], X, CODES), "y must vary beyond its levels and fixed effects"),
        ((Y, np.ones((4, 2)), CODES), "x must have linearly independent columns"),
    ],
)
def test_impossible_rows_are_refused_with_what_is_wrong(arguments, sentence):
    with pytest.raises(ValueError, match=sentence):
        fit(*arguments)


@pytest.mark.parametrize(
    ("keywords", "sentence"),
    [
        ({"weights": [1.0, 1.0, 0.0, 1.0]}, "weights must be finite and above 0, got 0.0"),
        ({"weights": [1.0, np.nan, 1.0, 1.0]}, "weights must be finite and above 0, got nan"),
        ({"weights": [1.0]}, r"weights must have the shape of y \(4,\), got \(1,\)"),
        ({"eliminate": "track"}, "eliminate must be one of rider, got track"),
        ({"sds": {"rider": 1.0}}, "sds must name every factor and 'residual', got none for residual"),
        ({"sds": {"rider": -1.0, "residual": 1.0}}, "sds must be finite, at least 0"),
        ({"sds": {"rider": 1.0, "residual": 0.0}}, "sds must be .* above 0 for 'residual'"),
        ({"sds": {"rider": 1e9, "residual": 1.0}}, "variances must be near enough to the residual's"),
        ({"sds": SDS, "dofs": {}}, "dofs must name every factor, got none for rider"),
        ({"prior": believed(mean=[0.0, 1.0], sd=[1.0, 1.0])}, "prior mean must have length 1 as x, got 2"),
        ({"prior": believed(group_sd={})}, "prior group_sd must name every factor, got none for rider"),
    ],
)
def test_impossible_settings_are_refused_with_what_is_wrong(keywords, sentence):
    with pytest.raises(ValueError, match=sentence):
        fit(Y, X, CODES, **keywords)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"sd": [1.0, 2.0]}, "prior mean and sd must be of one length"),
        ({"mean": [np.nan]}, "prior mean must be finite"),
        ({"sd": [0.0]}, "prior sd must be above 0"),
        ({"group_sd": {"rider": 0.0}}, r"prior group_sd\['rider'\] must be finite and above 0, got 0.0"),
        ({"residual_sd": -1.0}, "prior residual_sd must be finite and above 0, got -1.0"),
        ({"strength": 0.0}, "prior strength must be finite and above 0, got 0.0"),
    ],
)
def test_an_impossible_belief_is_refused_with_what_is_wrong(changes, sentence):
    with pytest.raises(ValueError, match=sentence):
        believed(**changes)


@pytest.mark.parametrize(
    ("x", "groups", "sentence"),
    [
        ([[1.0]], {}, "groups must name every factor of the fit, got none for rider"),
        ([[1.0]], {"rider": [2]}, r"groups\['rider'\] must be from -1 to 1, got 2 to 2"),
        ([[1.0]], {"rider": [0, 1]}, r"groups\['rider'\] must be 1 integer codes"),
        ([[1.0, 2.0]], {"rider": [0]}, r"x must have shape \(rows, 1\), got \(1, 2\)"),
        ([[np.nan]], {"rider": [0]}, "x must be finite, got nan"),
    ],
)
def test_an_impossible_question_is_refused_with_what_is_wrong(x, groups, sentence):
    pooled = fit(Y, X, CODES)

    with pytest.raises(ValueError, match=sentence):
        pooled.predict(x, groups)


def test_a_probability_outside_its_range_is_refused():
    pooled = fit(Y, X, CODES)

    with pytest.raises(ValueError, match=r"prob must be above 0 and below 1, got 1\.0"):
        pooled.quantile(1.0, [[1.0]], {"rider": [0]})


@pytest.mark.parametrize(
    ("columns", "sentence"),
    [
        ((), "encode needs at least one column"),
        (([1, 2], [1]), r"encode needs columns of one length, got \[2, 1\]"),
        (([1.0, np.nan],), "encode column 0 must not contain missing values, got NaN"),
        ((["a", "b"], ["a", None]), "encode column 1 must not contain missing values, got None"),
        (([[1, 2]],), "encode column 0 must have one dimension, got 2"),
    ],
)
def test_columns_that_name_no_levels_are_refused(columns, sentence):
    with pytest.raises(ValueError, match=sentence):
        encode(*columns)


def test_too_many_levels_outside_the_largest_factor_are_refused_before_they_fill_the_memory():
    rows = np.arange(12_000)

    with pytest.raises(ValueError, match="at most 5000 levels outside the largest factor 'rider', got 6001"):
        fit(rows, np.ones((12_000, 1)), {"rider": rows // 2, "bike": rows % 6000}, sds={**SDS, "bike": 1.0})
