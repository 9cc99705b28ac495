"""How far a tread lasts: the laws a forecast must obey, and what happens to readings in a paddock."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special

from fleet.science.practice import NEW_DEPTH_SD_MM, WEAR_DAY_SPREAD, practice
from fleet.science.wear import binding_zone
from tests.science.tread_series import STRAIGHT, belief, left

REAR = practice("track_day", "medium", "rear")


def test_without_a_reading_the_prior_and_the_distance_run_decide():
    probs = (0.1, 0.5, 0.9)

    found = left(np.empty(0), np.empty(0), new_depth_sd_mm=1e-4, now_km=200.0, probs=probs, **STRAIGHT)

    exact = 1000 * (5.2 - 0.8) / 3.4 * np.exp(0.5 * special.ndtri(probs)) - 200.0
    assert found.km == pytest.approx(exact, rel=2e-3)


series = st.lists(
    st.tuples(st.floats(0, 1500), st.floats(0.0, 6.0)),
    min_size=1,
    max_size=7,
)


@given(series, st.randoms())
def test_readings_out_of_order_and_padding_change_nothing(readings, shuffle):
    mixed = [*readings, (np.nan, np.nan), (300.0, np.nan)]
    shuffle.shuffle(mixed)

    straight = left(*np.array(readings).T)
    found = left(*np.array(mixed).T)

    assert found.km == pytest.approx(straight.km, rel=1e-6, abs=1e-6)


@given(series)
def test_whatever_was_read_the_answer_is_finite_and_its_quantiles_rise(readings):
    found = left(*np.array(readings).T, within_km=100.0)

    assert np.isfinite(found.km).all()
    assert (found.km >= 0).all()
    assert (np.diff(found.km) >= 0).all()
    assert 0 <= found.chance <= 1
    assert found.chance_within(500.0) >= found.chance


@given(series, st.floats(0.1, 10), st.floats(0.1, 10))
def test_other_units_of_depth_and_distance_give_the_same_life(readings, depth_scale, distance_scale):
    x, y = np.array(readings).T

    usual = left(x, y)
    scaled = left(
        x * distance_scale,
        y * depth_scale,
        limit_mm=0.8 * depth_scale,
        new_depth_mm=5.2 * depth_scale,
        gauge_sd_mm=0.2 * depth_scale,
        new_depth_sd_mm=0.3 * depth_scale,
        rate_prior=belief(3.4 * depth_scale / distance_scale),
        day_spread=WEAR_DAY_SPREAD * np.sqrt(distance_scale),  # a day keeps its length in the other unit
    )

    assert scaled.km / distance_scale == pytest.approx(usual.km, rel=1e-5, abs=1e-5)


@given(st.floats(100, 900), st.floats(1.5, 4.8), st.floats(0.1, 1.0))
def test_a_shallower_reading_never_means_more_life(x, y, less):
    deeper, shallower = left([x], [y]), left([x], [y - less])

    assert (shallower.km <= deeper.km).all()
    assert shallower.chance_within(200.0) >= deeper.chance_within(200.0)


def test_an_accurate_long_series_leaves_almost_no_doubt():
    x = np.linspace(0, 800, 30)

    found = left(x, 5.2 - 4.0 * x / 1000, gauge_sd_mm=0.02, **STRAIGHT)

    assert found.km == pytest.approx(np.full(3, 300.0), abs=8)


def test_readings_that_contradict_each_other_widen_the_interval_and_honest_ones_do_not():
    x, honest = np.array([0.0, 200, 400, 600]), np.array([5.2, 4.5, 3.8, 3.1])
    mixed_up = np.array([5.2, 4.5, 4.9, 3.1])

    widths = {
        (name, allowed): np.ptp(left(x, y, gauge_sd_mm=0.1, allow_misfit=allowed).km)
        for name, y in (("honest", honest), ("mixed up", mixed_up))
        for allowed in (True, False)
    }

    assert widths["honest", True] == pytest.approx(widths["honest", False])
    assert widths["mixed up", True] > 1.25 * widths["mixed up", False]


def test_zones_and_tires_are_judged_in_one_call_and_the_worst_zone_binds():
    x = np.array([0.0, 400.0])
    tires = np.array([[[5.2, 4.0], [5.2, 2.5], [5.2, 3.9]], [[5.2, 4.4], [5.2, 4.2], [np.nan, np.nan]]])

    found = left(x, tires, within_km=np.array([[100.0], [400.0]]))

    single = left(x, tires[0, 1], within_km=100.0)
    worst = binding_zone(found)
    assert worst.tolist() == [1, 1]
    assert found.km[0, 1] == pytest.approx(single.km)
    assert found.at(worst).km[0] == pytest.approx(single.km)
    assert found.at(worst).chance[0] == pytest.approx(single.chance)


def test_a_large_batch_equals_its_parts():
    rng = np.random.default_rng(3)
    x = np.sort(rng.uniform(0, 900, size=(700, 1, 4)), axis=-1)
    y = 5.2 - 3.0 * x / 1000 + 0.2 * rng.standard_normal((700, 5, 4))

    whole = left(x, y)

    assert whole.km[650] == pytest.approx(left(x[650], y[650]).km, rel=1e-12)


def test_a_tire_with_nothing_known_about_it_has_no_answer_and_no_binding_zone():
    found = left(np.array([100.0]), np.array([4.0]), new_depth_mm=[np.nan, np.nan])

    assert np.isnan(found.km).all()
    assert binding_zone(found) == -1


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"limit_mm": 5.2}, "new_depth_mm less limit_mm must be above 0"),
        ({"gauge_sd_mm": 0.0}, "gauge_sd_mm must be above 0, not 0"),
        ({"new_depth_sd_mm": -0.1}, "new_depth_sd_mm must be above 0, not -0.1"),
        ({"rate_prior": belief(-1.0)}, "median_mm_per_1000km must be above 0, not -1"),
        ({"within_km": -5.0}, "within_km must be at least 0, not -5"),
    ],
)
def test_an_impossible_parameter_is_refused_by_name(changes, sentence):
    with pytest.raises(ValueError, match=sentence):
        left([100.0], [4.0], **changes)


def test_an_impossible_reading_is_refused_by_name():
    with pytest.raises(ValueError, match="depth_mm must be at least 0, not -1"):
        left([100.0], [-1.0])


def test_the_spread_of_a_new_depth_has_a_default_from_practice():
    assert REAR.new_depth_sd_mm == NEW_DEPTH_SD_MM


# What happens in a paddock does not break a forecast.

HONEST_KM, HONEST_MM = np.array([100.0, 250, 400, 550, 700]), np.array([4.86, 4.35, 3.84, 3.33, 2.82])
TRULY_LEFT_KM = 1000 * (2.82 - 0.8) / 3.4


@pytest.mark.parametrize(
    ("what", "read_mm"),
    [
        ("nothing", HONEST_MM),
        ("a noisy rise", HONEST_MM + np.array([0.0, 0.0, 0.0, 0.35, -0.1])),
        ("a zone mixed up", np.where(HONEST_KM == 400, 4.7, HONEST_MM)),
        ("one single reading", np.where(HONEST_KM == 700, HONEST_MM, np.nan)),
    ],
)
def test_slips_and_gaps_hardly_move_a_forecast(what, read_mm):
    found = left(HONEST_KM, read_mm, now_km=700.0, probs=(0.05, 0.5, 0.95))

    low, median, high = found.km
    assert low < TRULY_LEFT_KM < high
    assert median == pytest.approx(TRULY_LEFT_KM, rel=0.2)


@pytest.mark.parametrize("deeper_mm", [0.3, -0.3])
def test_a_gauge_replaced_in_mid_life_misleads_no_more_than_a_ruler_and_the_interval_knows(deeper_mm):
    read_mm = HONEST_MM + deeper_mm * (HONEST_KM > 300)

    found = left(HONEST_KM, read_mm, now_km=700.0, probs=(0.05, 0.5, 0.95))

    low, median, high = found.km
    by_ruler = (
        700.0 * (read_mm[-1] - 0.8) / (5.2 - read_mm[-1])
    )  # straight on from new through the last reading
    assert low < TRULY_LEFT_KM < high
    assert median == pytest.approx(by_ruler, rel=0.1)


@pytest.mark.parametrize("readings", [3, 4])
def test_a_lower_last_reading_never_lengthens_a_life(readings):
    # However far it is from what the others promise: to talk a worn reading away would send a worn tire out.
    km = np.array([0.0, 300.0, 600.0, 650.0])[-readings:]
    last = np.linspace(3.0, 0.2, 15)
    depths = np.concatenate([np.tile([5.2, 4.2, 3.2][-readings + 1 :], (15, 1)), last[:, None]], axis=1)

    found = left(np.tile(km, (15, 1)), depths, within_km=110.0)

    assert (np.diff(found.km[:, 1]) < 0.0).all()
    assert (np.diff(found.chance) > 0.0).all()


def test_a_zone_nobody_has_read_does_not_bind_where_another_has_been_read():
    found = left([0.0, 400.0], [[[5.2, 4.9], [np.nan, np.nan]]])

    assert found.km[0, 1, 1] < found.km[0, 0, 1]
    assert binding_zone(found).tolist() == [0]


def test_the_distance_run_is_never_less_than_that_of_the_last_reading():
    assert left([0.0, 400.0], [5.2, 4.0], now_km=100.0).km == pytest.approx(left([0.0, 400.0], [5.2, 4.0]).km)
