"""A tire set soon after a stint is warmer than the air, and nobody took its temperature."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.science.practice import TIRE_TEMPERATURE_SD_C
from fleet.science.standing import standing_tire


def test_the_excess_falls_by_newtons_law_of_cooling():
    # Newton's law of cooling [OpenStaxPhysics2012], as in the project's own reference: 80 toward 20 with a constant
    # of 20 minutes reads 42.073 after 20 minutes. A stint of twenty constants settles.
    found = standing_tire(
        air_c=20.0, rise_c=60.0, minutes_on_track=120.0, minutes_since=20.0, cooling_constant_min=20.0
    )

    assert found.tire_c == pytest.approx(42.073, abs=5e-4)


def test_a_tire_that_did_not_run_has_air_temperature():
    found = standing_tire(
        air_c=[20.0, 25.0, 30.0],
        rise_c=40.0,
        minutes_on_track=[np.nan, np.nan, 20.0],
        minutes_since=[np.nan, 5.0, np.nan],
    )

    assert found.tire_c.tolist() == [20.0, 25.0, 30.0]
    assert found.sd_c.tolist() == [TIRE_TEMPERATURE_SD_C] * 3


@given(wait=st.floats(0.0, 300.0), run=st.floats(0.0, 60.0))
def test_a_tire_stays_between_the_air_and_where_it_was_heading(wait, run):
    found = standing_tire(air_c=15.0, rise_c=40.0, minutes_on_track=run, minutes_since=wait)

    assert 15.0 - 1e-9 <= found.tire_c <= 55.0 + 1e-9
    assert found.sd_c >= TIRE_TEMPERATURE_SD_C


def test_the_spread_is_that_of_drawn_rises_and_cooling_constants():
    # Newton's law of cooling once more, by itself: a settled stint, then 20 minutes of standing.
    rng = np.random.default_rng(12)
    rises = 60.0 + 6.0 * rng.standard_normal(200_000)
    constants = 25.0 * np.exp(0.1 * rng.standard_normal(200_000))
    drawn = 20.0 + rises * np.exp(-20.0 / constants) + 1.5 * rng.standard_normal(200_000)

    found = standing_tire(
        air_c=20.0,
        rise_c=60.0,
        rise_sd_c=6.0,
        minutes_on_track=120.0,
        minutes_since=20.0,
        cooling_constant_min=25.0,
        constant_log_sd=0.1,
        tire_sd_c=1.5,
    )

    assert found.tire_c == pytest.approx(drawn.mean(), abs=0.2)
    assert found.sd_c == pytest.approx(drawn.std(), rel=0.02)


def test_a_warm_tire_is_less_certain_than_a_cold_one():
    soon, late = (
        standing_tire(air_c=20.0, rise_c=40.0, minutes_on_track=20.0, minutes_since=wait)
        for wait in (20.0, 120.0)
    )

    assert soon.sd_c > 2 * late.sd_c


@pytest.mark.parametrize(
    ("wrong", "says"), [({"minutes_since": -1.0}, "minutes"), ({"rise_c": 0.0}, "rise_c must be above 0")]
)
def test_impossible_figures_are_refused_by_name(wrong, says):
    with pytest.raises(ValueError, match=says):
        standing_tire(
            **{"air_c": 20.0, "rise_c": 40.0, "minutes_on_track": 20.0, "minutes_since": 5.0} | wrong
        )
