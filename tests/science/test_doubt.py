"""A reading that its neighbors contradict is pointed at, and an honest one is not."""

import numpy as np
import pytest

from fleet.science.wear import doubtful_readings
from tests.science.tread_series import TREAD_KM, TREAD_MM


@pytest.mark.parametrize(
    ("depths", "doubted"),
    [
        # A straight line.
        ([5.2, 4.5, 3.8, 3.1], []),
        # A rise of 0.2; 0.45 and 0.5 from halfway: noise.
        ([5.2, 4.5, 4.7, 3.9, 3.1], []),
        # Its rise of 1.1 is noise, but 2.0 is 1.8 from halfway (3.8); its neighbors are only 0.9 from theirs.
        ([5.2, 4.5, 2.0, 3.1, 2.4], [2]),
        # A rise of 1.4, to 5.9, which is 2.1 over the line of the others; 4.5 and 3.1, 1.05 from halfway, are on it.
        ([5.2, 4.5, 5.9, 3.1, 2.4], [2]),
        # 3.1 is 1.4 from halfway (4.5), and off the line of the others, which falls by 0.7 a step.
        ([5.2, 3.1, 3.8, 3.1], [1]),
        # A rise of 2.1. Slopes a step: -0.7 three times, 0.23, 0.7, 2.1; along their median, -0.233, the readings start
        # from 5.2, 4.73, 4.27 and 6.6, so the last is 1.63 from the middle (4.97) and the one before it 0.7.
        ([5.2, 4.5, 3.8, 5.9], [3]),
        # A rise of 1.6. Slopes: -0.7 three times, 0.07, 0.45, 1.6; along -0.317 they start from 2.9, 4.82, 4.43 and 4.05,
        # so the first is 1.34 from the middle (4.24) and the second 0.58.
        ([2.9, 4.5, 3.8, 3.1], [0]),
        # 3.1 is 1.05 from halfway, but along the median slope of -0.35 the readings start from 5.2, 3.45, 3.8 and 4.15: the
        # first is furthest from the middle (3.98), and it neither rises nor has neighbors on both sides.
        ([5.2, 3.1, 3.1, 3.1], []),
        # A rise of 2.0 between two equally far from any line: the later one, as the docstring says.
        ([3.0, 5.0], [1]),
        ([5.0], []),
        # The fourth row with two readings missing. Half of the slopes of 100 km are -0.233 or steeper; along it they start
        # from 5.2, 5.43, 7.3, 5.43 and 5.2.
        ([5.2, np.nan, 4.5, 5.9, np.nan, 3.1, 2.4], [3]),
    ],
)
def test_a_jump_beyond_noise_is_pointed_at(depths, doubted):
    # By hand, every 200 km: four deviations of a reading from halfway between its neighbors are 0.980 mm, those of a rise
    # 1.131 mm (derived in the two tests that follow). Four is the project's own choice.
    x = np.arange(len(depths)) * 200.0

    found = doubtful_readings(x, depths, gauge_sd_mm=0.2)

    assert np.flatnonzero(found).tolist() == doubted


@pytest.mark.parametrize(
    ("middle_km", "noise_mm"),
    [(200.0, 0.97980), (100.0, 1.01980)],
)
def test_a_reading_is_doubted_from_four_standard_deviations_of_its_departure_on(middle_km, noise_mm):
    # By hand: a reading less the line between its neighbors at the share s of the way has the variance
    # (1 + s^2 + (1 - s)^2) 0.2^2, so four deviations are 0.8 sqrt(1.5) = 0.97980 mm halfway and 0.8 sqrt(1.625) = 1.01980
    # at a quarter.
    expected_mm = 6.2 - 1.4 * middle_km / 400.0

    calm, upset = (
        doubtful_readings([0.0, middle_km, 400.0], [6.2, expected_mm - off_mm, 4.8], gauge_sd_mm=0.2)
        for off_mm in (noise_mm - 0.001, noise_mm + 0.001)
    )

    assert calm.tolist() == [False, False, False]
    assert upset.tolist() == [False, True, False]


def test_a_rise_is_doubted_from_four_standard_deviations_of_a_difference_on():
    # By hand: two readings differ with the variance 2 x 0.2^2, so four deviations are 0.8 sqrt(2) = 1.13137 mm.
    calm, upset = (
        doubtful_readings([0.0, 300.0], [4.0, 4.0 + rise_mm], gauge_sd_mm=0.2) for rise_mm in (1.131, 1.132)
    )

    assert calm.tolist() == [False, False]
    assert upset.tolist() == [False, True]


def test_the_published_series_is_not_doubted_although_it_is_curved():
    assert not doubtful_readings(TREAD_KM, TREAD_MM, gauge_sd_mm=0.1).any()


def test_doubt_points_into_the_order_given():
    found = doubtful_readings([600.0, 0.0, 400.0, 200.0], [3.1, 5.2, 5.9, 4.5], gauge_sd_mm=0.2)

    assert found.tolist() == [False, False, True, False]
