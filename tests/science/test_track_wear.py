"""One tire's wear split by the track it happened on, and the zone it is read in."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.science.track_wear import MIXED, wear_by_track, worst_zone

RUNS = {"run_km": [50.0, 60.0, 40.0, 30.0], "run_track": ["coast", "coast", "quarry", "quarry"]}
GAUGE, NEW = 0.2**2, 0.3**2


def taken(**changes):
    found = wear_by_track(
        **{**RUNS, "new_depth_mm": 5.0, "gauge_sd_mm": 0.2, "new_depth_sd_mm": 0.3, **changes}
    )
    return {
        track: pytest.approx((wear.distance_km, wear.worn_mm, wear.variance_mm2))
        for track, wear in found.items()
    }


def test_each_track_gets_the_distance_and_wear_that_happened_there():
    found = taken(runs_before=[1, 2, 4], depth_mm=[4.8, 4.5, 4.1])

    # Two stretches on the coast right after each other: only the new depth and the last reading there are noisy.
    assert found == {"coast": (110.0, 0.5, NEW + GAUGE), "quarry": (70.0, 0.4, 2 * GAUGE)}


def test_coming_back_to_a_track_adds_the_noise_of_two_more_readings():
    found = taken(
        run_track=["coast", "quarry", "coast", "quarry"], runs_before=[1, 2, 3], depth_mm=[4.8, 4.5, 4.1]
    )

    assert found["coast"] == (90.0, 0.6, NEW + GAUGE + 2 * GAUGE)


def test_a_stretch_over_several_tracks_is_no_single_tracks():
    assert taken(runs_before=[4], depth_mm=[4.1]) == {MIXED: (180.0, 0.9, NEW + GAUGE)}


def test_what_the_road_took_is_no_tracks():
    found = taken(run_km=[400.0, 50.0], run_track=["", "coast"], runs_before=[1, 2], depth_mm=[4.9, 4.6])

    assert found == {"coast": (50.0, 0.3, 2 * GAUGE)}


def test_a_reading_before_the_first_run_says_where_wear_begins():
    assert taken(run_km=[50.0], run_track=["coast"], runs_before=[0, 1], depth_mm=[3.0, 2.8]) == {
        "coast": (50.0, 0.2, 2 * GAUGE)
    }


@given(st.lists(st.floats(0.0, 0.5), min_size=1, max_size=12))
def test_on_one_track_only_the_new_tire_and_the_last_reading_matter(losses):
    depths = [5.0 - sum(losses[: i + 1]) / 12 for i in range(len(losses))]

    found = taken(
        run_km=[10.0] * len(losses),
        run_track=["coast"] * len(losses),
        runs_before=range(1, len(losses) + 1),
        depth_mm=depths,
    )

    assert found == {"coast": (10.0 * len(losses), 5.0 - depths[-1], NEW + GAUGE)}


def test_a_depth_that_was_not_read_is_passed_over():
    found = taken(runs_before=[1, 2, 4], depth_mm=[4.8, np.nan, 4.1])

    assert found == {"coast": (50.0, 0.2, NEW + GAUGE), MIXED: (130.0, 0.7, 2 * GAUGE)}


def test_a_track_may_be_called_by_any_number_and_no_name_is_the_road():
    found = taken(run_track=[0, 0, None, ""], runs_before=[2, 4], depth_mm=[4.5, 4.4])

    assert found == {0: (110.0, 0.5, NEW + GAUGE)}


def test_the_worst_zone_is_the_one_with_the_steepest_line_not_the_one_with_the_luckiest_last_reading():
    km = np.array([100.0, 200.0, 300.0])
    depths = np.array([[4.8, 4.6, 4.0], [4.6, 4.2, 4.1], [4.9, 4.8, 4.7]])

    assert worst_zone(km, depths, 5.0) == 1


def test_a_zone_nobody_read_is_not_the_worst():
    assert worst_zone([100.0, 200.0], [[np.nan, np.nan], [4.9, 4.8]], 5.0) == 1


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"run_km": [-1.0, 60.0, 40.0, 30.0]}, "run_km must be at least 0, not -1"),
        ({"depth_mm": [4.8, -0.1]}, "depth_mm must be at least 0, not -0.1"),
        ({"new_depth_mm": 0.0}, "new_depth_mm must be above 0, not 0"),
        ({"gauge_sd_mm": 0.0}, "gauge_sd_mm must be above 0, not 0"),
        ({"new_depth_sd_mm": 0.0}, "new_depth_sd_mm must be above 0, not 0"),
        ({"runs_before": [2, 1]}, "runs_before must be at least 2 here"),
        ({"runs_before": [2, 5]}, "runs_before must be at most 4, the number of runs, not 5"),
    ],
)
def test_an_impossible_history_is_refused_by_name(changes, sentence):
    valid = {**RUNS, "runs_before": [1, 2], "depth_mm": [4.8, 4.5], "new_depth_mm": 5.0}

    with pytest.raises(ValueError, match=sentence):
        wear_by_track(**{**valid, **changes})
