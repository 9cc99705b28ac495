"""How many tires an event asks for, and how many to bring."""

from fractions import Fraction
from itertools import product
from math import comb, prod

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special, stats

from fleet.science.demand import (
    critical_ratio,
    demand_by_spec,
    demand_mean,
    demand_pmf,
    demand_sd,
    expected_leftover,
    expected_shortage,
    fill_rate,
    stock_for_cost,
    stock_for_service,
)

FIVE = [0.1, 0.2, 0.3, 0.4, 0.5]
CHANCES = st.lists(st.floats(min_value=0, max_value=1), max_size=40)
COMMON_SDS = st.floats(min_value=0, max_value=2)
COSTS = st.floats(min_value=0.1, max_value=50)
GRID = 0.001


def discretised(distribution, lowest, highest):
    """A continuous demand as the probabilities of steps of one thousandth, counted from the lowest."""
    steps = lowest + GRID * np.arange(round((highest - lowest) / GRID) + 1)
    edges = distribution.cdf(np.append(steps - GRID / 2, steps[-1] + GRID / 2))
    edges[[0, -1]] = 0, 1
    return np.diff(edges)


def stock_of(pmf, quantity, lowest):
    return round((quantity - lowest) / GRID)


# Published.


def test_the_distribution_of_the_five_chances_is_the_exact_one():
    # By hand, as a sum over all 32 outcomes in fractions.
    exact = [Fraction(0)] * 6
    for needs in product([0, 1], repeat=5):
        exact[sum(needs)] += prod(
            Fraction(k + 1, 10) if need else 1 - Fraction(k + 1, 10) for k, need in enumerate(needs)
        )

    assert demand_pmf(FIVE) == pytest.approx([float(each) for each in exact], abs=1e-15)
    assert exact[1] == Fraction(1857, 5000)


def test_each_chance_twice_is_the_example_of_the_published_package():
    # Hong (2013), R package poibin, example of its help page; the eleven digits are exact fractions.
    expected = [
        0.02286144, 0.11231136, 0.23694372, 0.28171848, 0.20829484, 0.09968032,
        0.03113484, 0.00623848, 0.00076372, 0.00005136, 0.00000144,
    ]  # fmt: skip

    assert demand_pmf(FIVE * 2) == pytest.approx(expected, abs=5e-15)


def test_four_uneven_chances_agree_with_the_published_recursion():
    # R package poisbinom, dpoisbinom; the case scipy tests its own distribution with. The digits printed are good to
    # 3e-14, the round-off of the Fourier transform behind them; exact fractions give 0.03437634436778785 for none.
    chances = [0.9480654803913988, 0.052428488100509374, 0.25863527358887417, 0.057764076043633206]
    expected = [
        0.0343763443678060318, 0.6435428452689714307, 0.2936345519235536994,
        0.0277036647503902354, 0.0007425936892786034,
    ]  # fmt: skip

    assert demand_pmf(chances) == pytest.approx(expected, abs=3e-14)
    assert demand_pmf(chances)[0] == pytest.approx(0.03437634436778785, abs=1e-16)


@pytest.mark.parametrize(
    ("mean", "sd", "quantity", "cost", "profit", "fill"),
    [(100, 30, 120.23, 38.13, 261.87, 0.96), (100, 20, 113.49, 25.42, 274.58, 0.97)],
)
def test_the_newsvendor_of_two_textbooks_orders_and_earns_what_they_print(
    mean, sd, quantity, cost, profit, fill
):
    # Porteus (2002) and Gallego, the two examples of the R package SCperf, Newsboy: price 4, unit cost 1.
    pmf = discretised(stats.norm(mean, sd), -200.0, 400.0)

    stock = stock_for_cost(pmf, under_cost=3, over_cost=1)
    short, left = expected_shortage(pmf, stock) * GRID, expected_leftover(pmf, stock) * GRID

    assert critical_ratio(3, 1) == 0.75
    assert stock * GRID - 200.0 == pytest.approx(quantity, abs=0.005 + GRID)
    assert 3 * short + 1 * left == pytest.approx(cost, abs=0.005)
    assert 3 * mean - (3 * short + left) == pytest.approx(profit, abs=0.005)
    assert 1 - short / mean == pytest.approx(fill, abs=0.005)


def test_the_whole_order_of_a_published_model_earns_and_leaves_what_it_prints():
    # Documentation of the Julia package NewsvendorModel and the Wikipedia article "Newsvendor model": N(50, 20), price 7,
    # cost 5, order 39, profit 52.40715617998893, left over 3.656120545715868; the grid here costs digits past 1e-7.
    pmf = discretised(stats.norm(50, 20), -200.0, 300.0)
    whole = stock_of(pmf, 39.0, -200.0)

    best = stock_for_cost(pmf, under_cost=2, over_cost=5) * GRID - 200.0
    short, left = expected_shortage(pmf, whole) * GRID, expected_leftover(pmf, whole) * GRID

    assert round(float(best)) == 39
    assert left == pytest.approx(3.656120545715868, abs=1e-6)
    assert short == pytest.approx(14.66, abs=0.005)
    assert 7 * (50 - short) - 5 * 39 == pytest.approx(52.40715617998893, abs=1e-5)


@pytest.mark.parametrize(("mean", "half_width", "quantity"), [(485, 135, 536)])
def test_a_solved_exercise_with_salvage_orders_what_it_prints(mean, half_width, quantity):
    # Solved exercise: cost 39, price 59, salvage 30, so 20 lost per missing piece and 9 per one left; uniform 350 to 620.
    pmf = discretised(stats.uniform(mean - half_width, 2 * half_width), 350.0, 620.0)

    assert critical_ratio(20, 9) == pytest.approx(0.6897, abs=5e-5)
    assert stock_for_cost(pmf, 20, 9) * GRID + 350.0 == pytest.approx(quantity, abs=0.5)


def test_the_magazines_of_a_textbook_exercise_are_best_ordered_by_the_critical_ratio():
    # Devore, Probability and Statistics, exercise 3.35 (from memory): demand 1 to 6 with 1 2 3 4 3 2 fifteenths, pay 1,
    # sell 2; by hand the mean gain is 2.4667 with three and 2.6667 with four, the best.
    pmf = np.array([0, 1, 2, 3, 4, 3, 2]) / 15

    gains = 2 * fill_rate(pmf, [3, 4, 5]) * demand_mean(pmf) - [3, 4, 5]

    assert gains == pytest.approx([37 / 15, 40 / 15, 35 / 15])
    assert stock_for_cost(pmf, under_cost=1, over_cost=1) == 4


# Independent.


@pytest.mark.parametrize("riders", [1, 7, 60])
def test_it_agrees_with_a_general_statistics_library(riders):
    chances = np.random.default_rng(riders).random(riders)

    assert demand_pmf(chances) == pytest.approx(
        stats.poisson_binom.pmf(np.arange(riders + 1), chances), abs=1e-15
    )


def test_a_common_shift_agrees_with_drawn_days():
    rng = np.random.default_rng(20)
    chances = np.array([0.5] * 12)
    shifts = 0.8 * rng.standard_normal(200_000)
    needed = rng.binomial(12, special.expit(shifts))

    pmf = demand_pmf(chances, common_sd=0.8)

    assert pmf == pytest.approx(np.bincount(needed, minlength=13) / needed.size, abs=0.004)


def test_a_common_shift_agrees_with_gauss_hermite_quadrature():
    # At even chances the shifted chances are those of the plain logistic-normal, so no rider's middle has to move.
    nodes, weights = np.polynomial.hermite_e.hermegauss(80)
    shifted = special.expit(1.2 * nodes)
    expected = stats.binom.pmf(np.arange(9)[:, None], 8, shifted) @ weights / weights.sum()

    assert demand_pmf([0.5] * 8, common_sd=1.2) == pytest.approx(expected, abs=1e-8)


# Laws.


def test_thousands_of_riders_still_add_up_to_one_without_a_negative_probability():
    chances = np.random.default_rng(5000).random(5000)

    pmf = demand_pmf(chances)

    assert pmf.sum() == pytest.approx(1, abs=1e-12)
    assert pmf.min() >= 0
    assert demand_mean(pmf) == pytest.approx(chances.sum(), rel=1e-12)


@given(CHANCES)
def test_mean_and_spread_are_those_of_independent_riders(chances):
    known = np.array(chances)

    pmf = demand_pmf(known)

    assert (pmf >= 0).all()
    assert pmf.sum() == pytest.approx(1, abs=1e-12)
    assert demand_mean(pmf) == pytest.approx(known.sum(), abs=1e-12)
    assert demand_sd(pmf) ** 2 == pytest.approx(np.sum(known * (1 - known)), abs=1e-12)


@given(CHANCES, COMMON_SDS)
def test_a_common_shift_leaves_the_mean_and_never_narrows(chances, common_sd):
    apart, together = demand_pmf(chances), demand_pmf(chances, common_sd=common_sd)

    assert (together >= 0).all()
    assert demand_mean(together) == pytest.approx(demand_mean(apart), abs=1e-9)
    assert demand_sd(together) >= demand_sd(apart) - 1e-9


def test_chances_next_to_certainty_survive_a_common_shift():
    chances = [5e-324, 1e-12, 0.5, 1 - 1e-12, np.nextafter(1, 0)]

    assert demand_mean(demand_pmf(chances, common_sd=2.0)) == pytest.approx(2.5, abs=1e-9)


def test_a_wide_common_shift_over_many_riders_leaves_no_lumps():
    pmf = demand_pmf(np.full(400, 0.3), common_sd=1.5)

    inside = pmf[20:300]
    assert np.abs(np.diff(inside, n=2)).max() < 1e-3 * inside.max()


@given(st.integers(min_value=0, max_value=60), st.floats(min_value=0, max_value=1))
def test_equal_chances_are_binomial(riders, chance):
    expected = [comb(riders, k) * chance**k * (1 - chance) ** (riders - k) for k in range(riders + 1)]

    assert demand_pmf([chance] * riders) == pytest.approx(expected, abs=1e-13)


@given(CHANCES, COMMON_SDS)
def test_a_certain_rider_shifts_and_one_who_never_needs_changes_nothing(chances, common_sd):
    alone = demand_pmf(chances, common_sd=common_sd)

    more = demand_pmf([1.0, *chances, 0.0], common_sd=common_sd)

    assert more == pytest.approx([0, *alone, 0], abs=1e-9)


@given(st.lists(st.floats(min_value=0.01, max_value=0.99), min_size=1, max_size=30), st.randoms())
def test_the_order_of_riders_does_not_matter(chances, random):
    mixed = random.sample(chances, len(chances))

    assert demand_pmf(mixed) == pytest.approx(demand_pmf(chances), abs=1e-14)


@given(CHANCES, st.floats(min_value=0, max_value=1), COMMON_SDS)
def test_a_likelier_rider_never_makes_less_stock_enough(chances, chance, common_sd):
    lower, higher = (demand_pmf([*chances, each], common_sd=common_sd) for each in (chance / 2, chance))

    assert (np.cumsum(higher) <= np.cumsum(lower) + 1e-9).all()


@given(CHANCES, st.floats(min_value=0, max_value=1))
def test_the_stock_is_the_fewest_that_serves(chances, level):
    pmf = demand_pmf(chances)

    stock = int(stock_for_service(pmf, level))

    assert pmf[: stock + 1].sum() >= level - 1e-11
    assert stock == 0 or pmf[:stock].sum() < level


@given(CHANCES, COSTS, COSTS)
def test_no_other_stock_costs_less(chances, under_cost, over_cost):
    pmf = demand_pmf(chances)
    stocks = np.arange(pmf.size)

    costs = under_cost * expected_shortage(pmf, stocks) + over_cost * expected_leftover(pmf, stocks)

    assert costs[stock_for_cost(pmf, under_cost, over_cost)] == pytest.approx(costs.min(), abs=1e-9)


@given(CHANCES)
def test_what_is_missing_and_what_is_left_add_up(chances):
    pmf = demand_pmf(chances)
    stocks = np.arange(pmf.size + 2)

    short, left = expected_shortage(pmf, stocks), expected_leftover(pmf, stocks)

    assert left - short == pytest.approx(stocks - demand_mean(pmf), abs=1e-12)
    assert (np.diff(fill_rate(pmf, stocks)) >= -1e-12).all()
    assert fill_rate(pmf, pmf.size) == pytest.approx(1)


def test_a_level_met_exactly_needs_no_further_tire():
    # By hand: 0.1512 + 0.3714 + 0.3274 = 0.85 exactly, and all five are needed for certainty.
    pmf = demand_pmf(FIVE)

    assert stock_for_service(pmf, [0.0, 0.15, 0.85, 0.850001, 1.0]).tolist() == [0, 0, 2, 3, 5]
    # Eight tenths added up in binary fall short of 0.8 by the last digit.
    assert stock_for_service(np.full(10, 0.1), 0.8) == 7


def test_specs_are_counted_apart():
    found = demand_by_spec([7, 3, 7, 3, 7], FIVE, common_sd=0.4)

    assert sorted(found) == [3, 7]
    assert found[3] == pytest.approx(demand_pmf([0.2, 0.4], common_sd=0.4))
    assert found[7] == pytest.approx(demand_pmf([0.1, 0.3, 0.5], common_sd=0.4))


def test_nobody_entered_needs_nothing():
    pmf = demand_pmf([])

    assert pmf.tolist() == [1.0]
    assert stock_for_service(pmf, 0.95) == 0
    assert fill_rate(pmf, [0, 2]).tolist() == [1.0, 1.0]
    assert demand_by_spec([], []) == {}


def test_nan_stays_where_it_was():
    pmf = demand_pmf(FIVE)

    assert np.isnan(expected_shortage(pmf, [1, np.nan])).tolist() == [False, True]
    assert np.isnan(fill_rate([1.0], [1, np.nan])).tolist() == [False, True]


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: demand_pmf([0.2, 1.2]), r"chances must be at most 1, not 1\.2"),
        (lambda: demand_pmf([-0.1]), r"chances must be at least 0, not -0\.1"),
        (
            lambda: demand_pmf([0.2, np.nan]),
            r"chances must be known in one dimension, not 1 missing of \(2,\)",
        ),
        (lambda: demand_pmf([[0.2]]), r"chances must be known in one dimension, not 0 missing of \(1, 1\)"),
        (lambda: demand_pmf(FIVE, common_sd=6), "common_sd must be at most 5, not 6"),
        (lambda: demand_pmf(FIVE, common_sd=np.nan), "common_sd must be known, not nan"),
        (lambda: demand_by_spec([1.5], [0.2]), "spec_codes must be integers, one for each"),
        (lambda: demand_by_spec([1], FIVE), "spec_codes must be integers, one for each"),
        (lambda: demand_mean([0.5, 0.4]), r"pmf must add up to 1 in one dimension, not to 0\.9"),
        (lambda: demand_sd([1.1, -0.1]), r"pmf must be at least 0, not -0\.1"),
        (lambda: stock_for_service([1.0], 1.01), r"service_level must be at most 1, not 1\.01"),
        (lambda: stock_for_service([1.0], np.nan), "service_level must be known, not nan"),
        (lambda: critical_ratio(0, 1), "under_cost must be above 0, not 0"),
        (lambda: stock_for_cost([1.0], 1, -1), "over_cost must be at least 0, not -1"),
        (lambda: expected_shortage([1.0], -1), "stock must be at least 0, not -1"),
    ],
)
def test_an_impossible_value_is_refused_with_name_limit_and_value(call, sentence):
    with pytest.raises(ValueError, match=sentence):
        call()
