import numpy as np
import pytest
from scipy import optimize

from fleet.science.pooling.minimum import minimise


def valley(point):
    """Rosenbrock's function (1960, Computer Journal 3, section 3), least at (1, 1)."""
    return float(optimize.rosen(point)), optimize.rosen_der(point)


def counted(objective):
    calls = []

    def noted(point):
        calls.append(point)
        return objective(point)

    return noted, calls


def test_a_curved_valley_is_followed_to_its_published_end():
    point = minimise(valley, np.array([-1.2, 1.0]), None)

    assert point == pytest.approx([1.0, 1.0], abs=1e-9)


def test_a_minimum_beyond_a_bound_is_met_exactly_on_the_bound():
    def bowl(point):
        return float((point[0] + 1) ** 2 + (point[1] - 2) ** 2), 2 * (point - [-1, 2])

    point = minimise(bowl, np.array([1.0, 1.0]), np.array([5.0, 5.0]))

    assert point[0] == 0.0
    assert point[1] == pytest.approx(2.0, abs=1e-9)


def test_a_step_to_where_there_is_no_solution_is_shortened():
    def cliff(point):
        if point[0] >= 1.0:
            raise np.linalg.LinAlgError
        return float(-np.log1p(-point[0]) - 3 * point[0]), np.array([1 / (1 - point[0]) - 3])

    point = minimise(cliff, np.array([0.0]), None)

    assert point == pytest.approx([2 / 3], abs=1e-9)


def test_a_curvature_that_still_serves_is_not_found_again():
    def bowl(point):
        return float(np.sum(np.cosh(point - 2.0))), np.sinh(point - 2.0)

    near, calls = counted(bowl)
    minimise(near, np.full(6, 2.001), None)

    assert len(calls) <= 1 + 6 + 3


def test_a_coarse_search_stops_earlier():
    fine, fine_calls = counted(valley)
    coarse, coarse_calls = counted(valley)

    minimise(fine, np.array([0.5, 0.5]), None)
    point = minimise(coarse, np.array([0.5, 0.5]), None, 1e-2)

    assert len(coarse_calls) < len(fine_calls)
    assert point == pytest.approx([1.0, 1.0], abs=1e-2)
