"""The line of a tire's tread: fitted, foretold, and the same as the science says of the readings."""

import numpy as np
import pytest

from fleet.life.assessments import assess
from fleet.life.forecasts import PROBS, SHARES, forecast_of
from fleet.science import shifted
from fleet.science.practice import practice
from fleet.science.remaining import remaining_km
from fleet.science.wear import rate_prior


@pytest.fixture
def worn(fitted, ride, measure):
    """A rear tire after 100 km with the right shoulder ahead of the centre."""
    ride(minutes_ago=150, km=100.0)
    measure(fitted["rear"], 5.6, zone="C")
    measure(fitted["rear"], 5.1, zone="R2")
    return fitted["rear"].tire


def test_it_follows_the_zone_that_ends_first_from_new_to_the_limit(worn, now):
    _, found = forecast_of(worn, at=now)

    assert found.zone == "R2"
    assert found.now_km == 100.0
    assert [point.depth_mm for point in found.points] == pytest.approx(
        [6.0 - 5.0 * share for share in SHARES]
    )
    assert found.points[-1].depth_mm == 1.0


def test_its_figures_are_those_of_the_science(worn, now):
    known = practice("track_day", "soft", "rear")
    direct = remaining_km(
        [[100.0]],
        [[5.1]],
        limit_mm=6.0 - 5.0 * np.array(SHARES),
        new_depth_mm=6.0,
        rate_prior=rate_prior(None, [known], np.array([-1])),
    )
    km = shifted.quantile(
        np.array(PROBS),
        *(part[:, None] for part in (direct.life_mean_km, direct.life_sd_km, direct.life_skewness)),
    )

    _, found = forecast_of(worn, at=now)

    told = [(point.low_km, point.middle_km, point.high_km) for point in found.points]
    assert np.array(told) == pytest.approx(np.maximum(km, 0.0), rel=1e-6)


def test_deeper_comes_later_and_the_band_holds_the_middle(worn, now):
    points = forecast_of(worn, at=now)[1].points

    assert all(point.low_km <= point.middle_km <= point.high_km for point in points)
    assert [point.middle_km for point in points] == sorted(point.middle_km for point in points)


def test_the_line_passes_near_what_was_read(worn, now):
    points = forecast_of(worn, at=now)[1].points
    near = np.interp(
        100.0, [0.0, *(one.middle_km for one in points)], [6.0, *(one.depth_mm for one in points)]
    )

    assert near == pytest.approx(5.1, abs=0.25)


def test_without_a_reading_it_names_no_zone(fitted, now):
    _, found = forecast_of(fitted["rear"].tire, at=now)

    assert (found.zone, found.now_km) == ("", 0.0)
    assert len(found.ahead) == len(SHARES)


def test_what_is_ahead_lies_past_the_distance_run(worn, now):
    found = forecast_of(worn, at=now)[1]

    assert found.ahead
    assert all(point.middle_km > found.now_km for point in found.ahead)
    assert assess([worn.pk], at=now) == 1
