"""How far over the air the gas settles: read off pressures, learned, and expected."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize

from fleet.science import thermal
from fleet.science.heating import (
    COOLING,
    EFFORT,
    covariates,
    expected_rise,
    heating_prior,
    learn,
)
from fleet.science.inflation import gauge_after_kpa
from fleet.science.observed_rise import ObservedRise, settled_rise_c
from fleet.science.pooling import Prior, fit
from fleet.science.practice import EFFORT_SD, RISE_SD_C, practice

FRONT, REAR = (practice("track_day", "medium", axle) for axle in ("front", "rear"))
STINT = {
    "start_kpa": 190.0,
    "tire_c": 25.0,
    "hot_kpa": 230.0,
    "minutes_since_pit_in": 3.0,
    "minutes_on_track": 18.0,
    "barometer_kpa": 101.3,
    "air_c": 22.0,
}


SOURCES = ("gauge_sd_kpa", "tire_sd_c", "air_sd_c", "constant_log_sd")


def seen(**changes):
    return settled_rise_c(**{**STINT, **changes})


# Published: the gas law and Newton's law by their own textbook cases, joined.


def test_a_textbook_pair_of_pressures_read_at_once_after_a_long_stint_gives_its_temperature():
    # OpenStax College Physics, chapter 13, problem 22 (250 kPa at 35 C, 164 kPa at -40 C), read backwards: cold to warm.
    found = seen(
        start_kpa=164.4917, tire_c=-40.0, hot_kpa=250.0, minutes_since_pit_in=0.0, minutes_on_track=600.0,
        barometer_kpa=101.325, air_c=-40.0,
    )  # fmt: skip

    assert found.rise_c == pytest.approx(75.0, abs=0.01)


# Independent: the forward story, with the settled temperature found by a root finder.


@pytest.mark.parametrize("since", [0.0, 4.0, 15.0])
@pytest.mark.parametrize("minutes", [5.0, 20.0])
def test_it_finds_the_rise_that_the_forward_story_needs(since, minutes):
    def read_after(rise_c):
        pit_in = thermal.relax_c(25.0, 22.0 + rise_c, minutes, 6.0)
        cooled = thermal.relax_c(pit_in, 22.0, since, 18.0)
        return float(gauge_after_kpa(190.0, 25.0, cooled, 101.3, 100.9))

    truth = optimize.brentq(lambda rise: read_after(rise) - 215.0, 0.0, 300.0)

    found = seen(
        hot_kpa=215.0, minutes_since_pit_in=since, minutes_on_track=minutes, barometer_when_hot_kpa=100.9
    )
    assert found.rise_c == pytest.approx(truth, rel=1e-9)


@pytest.mark.parametrize(
    ("source", "sd"),
    [("gauge_sd_kpa", 2.0), ("tire_sd_c", 2.0), ("air_sd_c", 1.0), ("constant_log_sd", 0.1)],
)
@pytest.mark.parametrize(("minutes", "late"), [(18.0, 3.0), (6.0, 0.0), (18.0, 15.0)])
def test_the_noise_of_each_source_is_that_of_a_simulation(source, sd, minutes, late):
    rng = np.random.default_rng(8)
    n = 100_000
    drawn = {name: sd * rng.standard_normal(n) if name == source else np.zeros(n) for name in SOURCES}
    again = sd * rng.standard_normal(n) if source in {"gauge_sd_kpa", "constant_log_sd"} else np.zeros(n)
    stint = {**STINT, "minutes_on_track": minutes, "minutes_since_pit_in": late}
    runs = settled_rise_c(
        **{
            **stint,
            "start_kpa": 190.0 + drawn["gauge_sd_kpa"],
            "hot_kpa": 230.0 + (again if source == "gauge_sd_kpa" else 0.0),
            "tire_c": 25.0 + drawn["tire_sd_c"],
            "air_c": 22.0 + drawn["air_sd_c"],
        },
        time_constant_min=6.0 * np.exp(drawn["constant_log_sd"]),
        cooling_constant_min=18.0 * np.exp(again if source == "constant_log_sd" else 0.0),
    )

    stated = settled_rise_c(**stint, **{name: sd if name == source else 0.0 for name in SOURCES})

    assert stated.noise_sd_c == pytest.approx(runs.rise_c.std(), rel=0.05)


def test_a_late_reading_or_a_short_stint_is_less_sure():
    prompt, late, short = seen(
        minutes_since_pit_in=[1.0, 20.0, 1.0], minutes_on_track=[18.0, 18.0, 3.0]
    ).noise_sd_c

    assert prompt < 0.5 * late
    assert prompt < 0.5 * short


def test_warmers_leave_less_to_heat_so_the_same_reading_means_a_lower_settled_rise():
    warmed, plain = seen(warmers_c=[70.0, np.nan], minutes_on_track=6.0).rise_c

    assert warmed < plain
    assert plain == pytest.approx(seen(minutes_on_track=6.0).rise_c)


@given(st.floats(185, 280), st.floats(0.5, 20))
def test_a_higher_hot_reading_means_a_higher_rise(hot_kpa, more):
    assert seen(hot_kpa=hot_kpa + more).rise_c > seen(hot_kpa=hot_kpa).rise_c


def test_a_missing_reading_stays_missing_and_the_others_are_unharmed():
    found = seen(hot_kpa=[230.0, np.nan])

    assert found.rise_c[0] == pytest.approx(seen().rise_c)
    assert np.isnan(found.rise_c[1])
    assert np.isnan(found.noise_sd_c[1])


def test_what_is_not_known_counts_as_usual():
    x = covariates([12.0, np.nan, 22.0], [0.85, 0.95, np.nan])

    assert x == pytest.approx(np.array([[1, 0, 0, 0, 0], [1, 0, 0.1, 0, 0], [1, 10, 0, 0, 0]]))


def seen_at_leisure(rise_c, noise_sd_c):
    """Rises read at once after long stints, which say nothing about time constants."""
    rise = np.asarray(rise_c, dtype=np.float64)
    return ObservedRise(rise, np.full_like(rise, noise_sd_c), 0 * rise, np.full_like(rise, 100.0), 0 * rise)


def season(rows, seed=2):
    rng = np.random.default_rng(seed)
    product, track, rider = (rng.integers(0, levels, rows) for levels in (6, 3, 40))
    departure = np.array([6.0, -5.0, 3.0, 0.0, -2.0, 8.0])
    track_over_air_c, effort = rng.uniform(0, 25, rows), rng.uniform(0.6, 1.0, rows)
    rise = (
        REAR.settled_rise_c
        + departure[product]
        + 0.4 * (track_over_air_c - 12)
        + 30.0 * (effort - 0.85)
        + rng.normal(0, 2.0, 40)[rider]
        + rng.normal(0, 3.0, rows)
    )
    rows_seen = {
        "track_over_air_c": track_over_air_c,
        "effort": effort,
        "product": product,
        "track": track,
        "rider": rider,
    }
    return seen_at_leisure(rise, 2.0), rows_seen, departure


def test_a_season_teaches_products_and_the_pull_of_track_and_effort():
    observed, rows, departure = season(600)

    pooled = learn(observed, practice=REAR, **rows)

    known = expected_rise(pooled, practice=REAR, product=np.arange(6), track=0, rider=0)
    spread_of_products = known.mean_c - known.mean_c.mean()
    assert spread_of_products == pytest.approx(departure - departure.mean(), abs=1.5)
    assert pooled.fixed[1] == pytest.approx(0.4, abs=0.1)
    assert pooled.fixed[2] == pytest.approx(30.0, abs=6.0)
    assert (known.sd_c < 0.6 * RISE_SD_C).all()
    assert known.readings.sum() == 600
    assert np.isinf(known.df).all()


def test_a_front_learns_from_rears_only_what_departs_from_practice():
    observed, rows, _ = season(600)
    pooled = learn(observed, practice=REAR, **rows)

    front, rear = expected_rise(pooled, practice=[FRONT, REAR], product=[2, 2]).mean_c

    assert rear - front == pytest.approx(REAR.settled_rise_c - FRONT.settled_rise_c)


def test_a_product_never_seen_is_expected_with_doubt_and_few_degrees_of_freedom():
    observed, rows, _ = season(600)
    pooled = learn(observed, practice=REAR, **rows)

    known, new, newer = (
        expected_rise(pooled, practice=REAR, product=code, track=0, rider=0) for code in (0, -1, 77)
    )

    assert new.sd_c > known.sd_c
    assert new.df < 20
    assert new.readings == 0
    assert newer.mean_c == pytest.approx(new.mean_c)


def test_more_readings_sharpen_the_expectation():
    sds = [
        float(
            expected_rise(learn(season(n)[0], practice=REAR, **season(n)[1]), practice=REAR, product=0).sd_c
        )
        for n in (3, 600)
    ]

    assert sds[1] < sds[0] < 1.5 * RISE_SD_C


def test_standard_deviations_learned_overnight_can_be_held_during_the_day():
    observed, rows, _ = season(300)
    night = learn(observed, practice=REAR, **rows)

    day = learn(
        observed, practice=REAR, **rows, sds={**night.sd, "residual": night.residual_sd}, dofs=night.dof
    )

    asked = {"practice": REAR, "product": [0, -1], "track": 0, "rider": 1}
    # Weights and residual take turns until they agree to a hundredth, which moves no rise by a tenth of a degree.
    assert expected_rise(day, **asked).mean_c == pytest.approx(expected_rise(night, **asked).mean_c, abs=0.05)
    assert day.dof == night.dof


def test_rows_without_an_observed_rise_say_nothing():
    observed, rows, _ = season(50)
    holed = seen_at_leisure(np.append(observed.rise_c, np.nan), 2.0)
    longer = {name: np.append(column, column[0]) for name, column in rows.items()}

    assert learn(holed, practice=REAR, **longer).fixed == pytest.approx(
        learn(observed, practice=REAR, **rows).fixed
    )


def test_without_history_practice_answers_with_its_wide_spread():
    none = np.empty(0)
    codes = {"product": none.astype(int), "track": none.astype(int), "rider": none.astype(int)}
    nothing = learn(seen_at_leisure(none, 2.0), practice=[], track_over_air_c=none, effort=none, **codes)

    for pooled in (None, nothing):
        found = expected_rise(pooled, practice=[FRONT, REAR], track_over_air_c=[np.nan, 22.0])
        assert found.mean_c == pytest.approx([FRONT.settled_rise_c, REAR.settled_rise_c + 2.5])
        assert found.sd_c == pytest.approx(np.hypot([RISE_SD_C, np.hypot(RISE_SD_C, 1.5)], 20.0 * EFFORT_SD))
        assert found.readings.tolist() == [0, 0]


def test_the_prior_shares_out_the_whole_spread_of_practice():
    prior = heating_prior()

    parts = [prior.sds[0], *prior.group_sd.values(), prior.residual_sd]
    assert np.hypot.reduce(parts) == pytest.approx(RISE_SD_C)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"minutes_on_track": 0.0}, "minutes_on_track must be above 0, not 0"),
        ({"minutes_since_pit_in": -1.0}, "minutes_since_pit_in must be at least 0, not -1"),
        ({"barometer_kpa": 1013.0}, "barometer_kpa must be at most 110, not 1013"),
        ({"gauge_sd_kpa": -2.0}, "gauge_sd_kpa must be at least 0, not -2"),
    ],
)
def test_an_impossible_stint_is_refused_by_name(changes, sentence):
    with pytest.raises(ValueError, match=sentence):
        seen(**changes)


def test_a_code_that_cannot_be_is_refused_by_name():
    observed, rows, _ = season(50)

    with pytest.raises(ValueError, match="rider must be a code from 0"):
        expected_rise(learn(observed, practice=REAR, **rows), practice=REAR, rider=-2)


# Time constants, learned from stints short and long and readings early and late.


def timed_season(on_track_min, cooling_min, rows=800):
    """What gauges show of tires that follow Newton's law with these constants, read with the constants of practice."""
    rng = np.random.default_rng(17)
    minutes, late = rng.uniform(6.0, 25.0, rows), rng.uniform(0.0, 12.0, rows)
    rise = REAR.settled_rise_c + rng.normal(0.0, 2.0, rows)
    pit_in = thermal.relax_c(20.0, 20.0 + rise, minutes, on_track_min)
    read_c = thermal.relax_c(pit_in, 20.0, late, cooling_min)
    observed = settled_rise_c(
        start_kpa=190.0,
        tire_c=20.0,
        hot_kpa=gauge_after_kpa(190.0, 20.0, read_c, 101.3) + rng.normal(0.0, 1.0, rows),
        minutes_since_pit_in=late,
        minutes_on_track=minutes,
        barometer_kpa=101.3,
        air_c=20.0,
    )
    same = np.zeros(rows, dtype=int)
    return learn(
        observed,
        practice=REAR,
        track_over_air_c=np.full(rows, 12.0),
        effort=np.full(rows, 0.85),
        product=same,
        track=same,
        rider=same,
    )


@pytest.mark.parametrize(
    ("on_track_min", "cooling_min"), [(6.0, 18.0), (5.0, 18.0), (7.5, 18.0), (6.0, 14.0), (6.0, 23.0)]
)
def test_time_constants_are_learned_from_timed_readings(on_track_min, cooling_min):
    pooled = timed_season(on_track_min, cooling_min)

    learned_cooling_min = thermal.COOLING_MIN * np.exp(pooled.fixed[COOLING])
    assert expected_rise(pooled, practice=REAR).on_track_min == pytest.approx(on_track_min, rel=0.06)
    assert learned_cooling_min == pytest.approx(cooling_min, rel=0.06)


def test_without_timed_readings_the_constants_of_practice_stand():
    observed, rows, _ = season(300)

    rise = expected_rise(learn(observed, practice=REAR, **rows), practice=REAR)

    assert rise.on_track_min == pytest.approx(thermal.ON_TRACK_MIN)


# What is not told costs certainty.


@pytest.mark.parametrize("learned", [False, True])
def test_an_effort_nobody_tells_widens_the_expectation_by_what_efforts_are_worth(learned):
    observed, rows, _ = season(300)
    pooled = learn(observed, practice=REAR, **rows) if learned else None
    slope = pooled.fixed[EFFORT] if learned else 20.0  # practice: RISE_PER_EFFORT_C

    told = expected_rise(pooled, practice=REAR, effort=0.85)
    untold = expected_rise(pooled, practice=REAR)

    assert untold.mean_c == pytest.approx(told.mean_c)
    assert untold.sd_c**2 - told.sd_c**2 == pytest.approx((slope * EFFORT_SD) ** 2)


def test_a_fit_kept_from_before_the_constants_were_learned_still_answers():
    observed, rows, _ = season(300)
    prior = heating_prior()
    older = Prior(prior.mean[:3], prior.sd[:3], prior.group_sd, prior.residual_sd)
    x = covariates(rows["track_over_air_c"], rows["effort"])[:, :3]
    groups = {name: rows[name] for name in ("product", "track", "rider")}

    rise = expected_rise(
        fit(observed.rise_c - REAR.settled_rise_c, x, groups, prior=older), practice=REAR, product=1
    )

    assert np.isfinite(rise.mean_c)
    assert rise.on_track_min == thermal.ON_TRACK_MIN


def test_stints_of_untold_effort_weigh_less_in_what_is_learned():
    told, untold = np.full(40, 0.85), np.full(40, np.nan)
    rows = {name: np.zeros(80, dtype=int) for name in ("product", "track", "rider")}
    rise = np.concatenate([np.full(40, 44.0), np.full(40, 36.0)])

    def mean(effort):
        pooled = learn(
            seen_at_leisure(rise, 1.0),
            practice=REAR,
            track_over_air_c=np.full(80, 12.0),
            effort=effort,
            **rows,
        )
        return expected_rise(pooled, practice=REAR, product=0, track=0, rider=0).mean_c

    assert mean(np.concatenate([told, untold])) > mean(np.concatenate([told, told])) + 0.1
