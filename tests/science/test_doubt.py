"""A reading that its neighbors contradict is pointed at, and an honest one is not."""

import numpy as np
import pytest

from fleet.science.wear import doubtful_readings
from tests.science.tread_series import TREAD_KM, TREAD_MM


@pytest.mark.parametrize(
    ("depths", "doubted"),
    [
        ([5.2, 4.5, 3.8, 3.1], []),
        ([5.2, 4.5, 4.7, 3.9, 3.1], []),
        ([5.2, 4.5, 2.0, 3.1, 2.4], [2]),
        ([5.2, 4.5, 5.9, 3.1, 2.4], [2]),
        ([5.2, 3.1, 3.8, 3.1], [1]),
        ([5.2, 4.5, 3.8, 5.9], [3]),
        ([2.9, 4.5, 3.8, 3.1], [0]),
        ([5.2, 3.1, 3.1, 3.1], []),
        ([3.0, 5.0], [1]),
        ([5.0], []),
        ([5.2, np.nan, 4.5, 5.9, np.nan, 3.1, 2.4], [3]),
    ],
)
def test_a_jump_beyond_noise_is_pointed_at(depths, doubted):
    x = np.arange(len(depths)) * 200.0

    found = doubtful_readings(x, depths, gauge_sd_mm=0.2)

    assert np.flatnonzero(found).tolist() == doubted


def test_the_published_series_is_not_doubted_although_it_is_curved():
    assert not doubtful_readings(TREAD_KM, TREAD_MM, gauge_sd_mm=0.1).any()


def test_doubt_points_into_the_order_given():
    found = doubtful_readings([600.0, 0.0, 400.0, 200.0], [3.1, 5.2, 5.9, 4.5], gauge_sd_mm=0.2)

    assert found.tolist() == [False, False, True, False]
