"""The truths that are played obey the physics they claim, and disturb as much as they say."""

import numpy as np
import pytest

from fleet.calibration import heat_world, wear_world
from fleet.calibration.heat_world import Heat, Ride, Weather, per_bike, ride, stand
from fleet.science.practice import USUAL_EFFORT, USUAL_TRACK_OVER_AIR_C

CALM = heat_world.Size().times(0.0)
STEADY = Weather(np.full(2000, 20.0), np.full(2000, USUAL_TRACK_OVER_AIR_C))


def world(size=CALM, seed=1):
    return heat_world.draw_world(np.random.default_rng(seed), size)


def usual_ride(minutes, **changes):
    tires = per_bike(np.zeros(3, dtype=np.intp))
    usual = {
        "at_min": 0.0,
        "track": 0,
        "product": tires,
        "rider": tires,
        "effort": np.full(6, USUAL_EFFORT),
        "minutes": np.full(6, float(minutes)),
        "under_kpa": np.zeros(6),
    }
    return Ride(**{**usual, **changes})


COLD = Heat(np.full(6, 20.0), np.full(6, 20.0))


def test_in_steady_weather_tread_and_gas_settle_at_the_rise_of_practice():
    hot = ride(np.random.default_rng(0), world(), STEADY, usual_ride(200), COLD)

    settled = 20.0 + heat_world.PRODUCTS[0].settled_rise_c
    assert hot.tread_c == pytest.approx(settled, abs=0.01)
    assert hot.gas_c == pytest.approx(settled, abs=0.01)


def test_the_gas_follows_the_tread():
    hot = ride(np.random.default_rng(0), world(), STEADY, usual_ride(4), COLD)

    assert (hot.gas_c < hot.tread_c).all()


@pytest.mark.parametrize(
    ("changes", "hotter"), [({"effort": np.full(6, 0.95)}, 2.0), ({"under_kpa": np.full(6, 10.0)}, 0.4)]
)
def test_pushing_and_a_soft_tire_heat_it_further(changes, hotter):
    usual = ride(np.random.default_rng(0), world(), STEADY, usual_ride(200), COLD)

    found = ride(np.random.default_rng(0), world(), STEADY, usual_ride(200, **changes), COLD)

    # Effort: by the square about the practice of 20 degrees C a unit, 20 (0.95^2 - 0.85^2) / 1.7 = 2.12 by hand.
    assert found.gas_c - usual.gas_c == pytest.approx(hotter, rel=0.07)


def test_standing_evens_tread_and_gas_out_and_cools_both_by_newtons_law():
    hot = Heat(np.full(6, 80.0), np.full(6, 60.0))

    after = stand(world(), per_bike(np.zeros(3, dtype=np.intp)), hot, 20.0, np.full(6, 17.0))

    # Constants of 17 min for cooling and 2.5 min between tread and gas: 50 / e over the air, difference 20 exp(-6.8).
    assert 0.5 * (after.tread_c + after.gas_c) == pytest.approx(20.0 + 50.0 / np.e)
    assert after.tread_c - after.gas_c == pytest.approx(20.0 * np.exp(-6.8))


def test_without_disturbances_tread_falls_on_a_straight_line_at_the_rate_of_practice():
    none = dict.fromkeys(vars(wear_world.Size()), 0.0)
    rng = np.random.default_rng(2)
    calm = wear_world.draw_world(rng, wear_world.Size(**none))
    calm = wear_world.World(
        calm.size, calm.product, calm.track, calm.rider, calm.day_km, np.full(wear_world.RIDERS, 0.85)
    )

    tires = wear_world.draw_tires(rng, calm, 40)

    known = tires.known[0]
    lost = known.new_depth_mm - tires.depth_mm[0].min(axis=1)
    # On ordinary days by practice's rate for each kilometer; on days of rest less, on days of pushing more.
    rates = np.diff(np.concatenate([[0.0], lost]))[:10] / tires.logged_km[0, :10] * 1000
    assert np.isclose(rates, known.wear_median_mm_per_1000km).sum() >= 4


def test_depths_only_fall_and_readings_are_missing_and_mixed_up_as_often_as_said():
    rng = np.random.default_rng(3)
    size = wear_world.Size()

    tires = wear_world.draw_tires(rng, wear_world.draw_world(rng, size), 400)

    assert (np.diff(tires.depth_mm, axis=1) <= 0.0).all()
    assert (~np.isnan(tires.read_mm[:, :, 0])).mean() == pytest.approx(size.read_share, abs=0.02)
    assert np.nanstd(tires.read_mm - tires.depth_mm) == pytest.approx(0.2, abs=0.05)


def test_a_calmer_world_disturbs_less_and_leaves_the_shares_of_people():
    half = heat_world.Size().times(0.5)

    assert half.gust_c == heat_world.Size().gust_c / 2
    assert half.compared_share == heat_world.Size().compared_share
