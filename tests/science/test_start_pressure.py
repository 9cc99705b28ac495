"""Start pressures: the target, the gas law backwards, limits, steps, and the whole chain from practice."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from fleet.science import thermal
from fleet.science.heating import expected_rise
from fleet.science.hot_target import needed_hot_kpa
from fleet.science.inflation import gauge_after_kpa, start_gauge_kpa
from fleet.science.practice import practice
from fleet.science.start_pressure import rule_of_thumb_kpa, start_pressure
from fleet.science.units import kpa_from_psi, psi_from_kpa

LINE = {
    "target_kpa": 230.0,
    "rise_mean_c": 34.0,
    "rise_sd_c": 9.0,
    "air_c": 22.0,
    "tire_c": 24.0,
    "barometer_kpa": 101.3,
    "minutes_on_track": 20.0,
    "lower_kpa": 160.0,
    "upper_kpa": 260.0,
    "step_kpa": 1.0,
}


def line(**changes):
    return start_pressure(**{**LINE, **changes})


def target(**changes):
    known = practice("track_day", "medium", "rear")
    usual = {
        "practice_hot_kpa": known.hot_target_kpa,
        "practice_sd_kpa": known.hot_target_sd_kpa,
        "practice_rise_c": known.settled_rise_c,
        "practice_rise_sd_c": known.settled_rise_sd_c,
    }
    return needed_hot_kpa(**{**usual, **changes})


@pytest.mark.parametrize("air_c", [38.0, 40.0, 42.0])
@pytest.mark.parametrize("tire_c", [40.0, 42.5, 45.0])
def test_a_soft_track_day_tire_on_a_day_above_38_c_starts_near_29_psi_front_and_27_psi_rear(air_c, tire_c):
    # Common practice, no published source: no warmers, pressures set at the temperature the tire stands at.
    kinds = [practice("track_day", "soft", axle) for axle in ("front", "rear")]
    rise = expected_rise(None, practice=kinds)
    aim = target(
        practice_hot_kpa=[kind.hot_target_kpa for kind in kinds],
        practice_sd_kpa=[kind.hot_target_sd_kpa for kind in kinds],
    )

    found = start_pressure(
        target_kpa=aim.hot_kpa,
        target_sd_kpa=aim.sd_kpa,
        rise_mean_c=rise.mean_c,
        rise_sd_c=rise.sd_c,
        air_c=air_c,
        tire_c=tire_c,
        barometer_kpa=101.3,
        minutes_on_track=20.0,
        lower_kpa=[kind.lower_kpa for kind in kinds],
        upper_kpa=[kind.upper_kpa for kind in kinds],
        step_kpa=kpa_from_psi(0.5),
    )

    assert psi_from_kpa(found.start_kpa) == pytest.approx([29.0, 27.0], abs=1.5)
    assert psi_from_kpa(found.shown_kpa) == pytest.approx([29.0, 27.0], abs=1.5)
    assert (found.high_kpa - found.low_kpa > kpa_from_psi(2.0)).all()
    assert found.limit.tolist() == [0, 0]


# Published: the gas law.


def test_it_is_the_textbook_case_of_the_gas_law_backwards():
    # OpenStax College Physics, chapter 13, problem 22: 250 kPa at 35 C is 164 kPa at -40 C.
    found = line(
        target_kpa=250.0, air_c=-40.0, rise_mean_c=75.0, tire_c=-40.0, minutes_on_track=600.0, barometer_kpa=101.325
    )  # fmt: skip

    assert found.start_kpa == pytest.approx(164.4917, abs=5e-4)


# Independent: Monte Carlo through the forward gas law.


@pytest.mark.parametrize(("target_sd", "df"), [(0.0, np.inf), (6.0, np.inf), (0.0, 4.0)])
def test_the_interval_holds_its_share_of_simulated_days(target_sd, df):
    rng = np.random.default_rng(4)
    n = 200_000
    rise = (
        34.0 + 9.0 * stats.t.rvs(df, size=n, random_state=rng)
        if np.isfinite(df)
        else rng.normal(34.0, 9.0, n)
    )
    settled = 22.0 + rise
    gas = settled + (24.0 - settled) * np.exp(-20.0 / 6.0)
    wanted = 230.0 + target_sd * rng.standard_normal(n)
    needed = (wanted + 101.3) * (24.0 + 273.15) / (gas + 273.15) - 101.3

    found = line(target_sd_kpa=target_sd, df=df)

    assert (needed < found.low_kpa).mean() == pytest.approx(0.1, abs=0.006)
    assert (needed > found.high_kpa).mean() == pytest.approx(0.1, abs=0.006)
    assert ((gas > found.gas_low_c) & (gas < found.gas_high_c)).mean() == pytest.approx(0.8, abs=0.006)


temperatures = st.floats(-5, 45)


@pytest.mark.parametrize("level", [0.8, 0.95])
def test_air_tire_and_setting_widen_the_intervals_by_what_simulated_days_show(level):
    rng = np.random.default_rng(4)
    days = 200_000
    doubts = {"rise_sd_c": 3.0, "air_sd_c": 2.0, "tire_sd_c": 2.5, "setting_sd_kpa": 2.0}
    said = line(**doubts, level=level)

    air_c = 22.0 + 2.0 * rng.standard_normal(days)
    tire_c = 24.0 + 2.5 * rng.standard_normal(days)
    gas_c = thermal.relax_c(
        tire_c, air_c + 34.0 + 3.0 * rng.standard_normal(days), 20.0, thermal.ON_TRACK_MIN
    )
    needed = start_gauge_kpa(230.0, gas_c, tire_c, 101.3)
    hot = gauge_after_kpa(said.shown_kpa + 2.0 * rng.standard_normal(days), tire_c, gas_c, 101.3)

    assert np.mean((said.low_kpa <= needed) & (needed <= said.high_kpa)) == pytest.approx(level, abs=0.005)
    assert np.mean((said.hot_low_kpa <= hot) & (hot <= said.hot_high_kpa)) == pytest.approx(level, abs=0.005)


def test_off_warmers_a_doubtful_tire_temperature_moves_only_what_is_set():
    sure, doubtful = (line(warmers_c=80.0, tire_c=80.0, tire_sd_c=sd, rise_sd_c=1e-9) for sd in (0.0, 6.0))

    # The gas law by hand: 6 C of 353.15 K on the absolute pressure set, 1.2816 standard deviations for 80 %.
    reach = 1.2816 * 6.0 / 353.15 * (sure.start_kpa + 101.3)
    assert doubtful.high_kpa - doubtful.start_kpa == pytest.approx(reach, rel=1e-3)
    assert doubtful.expected_gas_c == sure.expected_gas_c


@given(
    st.floats(180, 250), temperatures, temperatures, st.floats(5, 60), st.floats(1, 40), st.floats(75, 104)
)
def test_set_as_told_the_tire_reaches_its_target(target_kpa, air_c, tire_c, rise_c, minutes, barometer_kpa):
    found = line(
        target_kpa=target_kpa,
        air_c=air_c,
        tire_c=tire_c,
        rise_mean_c=rise_c,
        minutes_on_track=minutes,
        barometer_kpa=barometer_kpa,
    )

    hot = gauge_after_kpa(found.start_kpa, tire_c, found.expected_gas_c, barometer_kpa)
    assert hot == pytest.approx(target_kpa, abs=1e-9)
    assert found.low_kpa <= found.start_kpa <= found.high_kpa


@given(st.floats(100, 320), st.floats(0.5, 15), st.floats(-15, 15))
def test_what_is_shown_never_leads_out_of_the_limits_and_stays_on_the_gauge_s_step(target_kpa, step, offset):
    found = line(target_kpa=target_kpa, step_kpa=step, gauge_offset_kpa=offset)

    true_kpa = found.shown_kpa - offset
    assert 160.0 - 1e-6 <= true_kpa <= 260.0 + 1e-6
    assert found.shown_kpa / step == pytest.approx(np.round(found.shown_kpa / step), abs=1e-6)
    assert found.limit == (found.start_kpa > 260.0) * 1 - (found.start_kpa < 160.0) * 1
    if found.limit == 0 and 160 + step < found.start_kpa < 260 - step:
        assert abs(true_kpa - found.start_kpa) <= 0.5 * step + 1e-6


@given(st.floats(20, 40), st.floats(0.5, 10))
def test_a_hotter_day_or_a_bigger_rise_asks_for_less_and_a_hotter_tire_for_more(air_c, more):
    usual = line(air_c=air_c).start_kpa

    assert line(air_c=air_c + more).start_kpa < usual
    assert line(air_c=air_c, rise_mean_c=34.0 + more).start_kpa < usual
    assert line(air_c=air_c, tire_c=24.0 + more).start_kpa > usual


@given(st.floats(80, 104), st.floats(80, 104))
def test_a_falling_barometer_is_allowed_for(now, later):
    found = line(barometer_kpa=now, barometer_when_hot_kpa=later)

    hot = gauge_after_kpa(found.start_kpa, 24.0, found.expected_gas_c, now, later)
    assert hot == pytest.approx(230.0, abs=1e-9)


def test_no_step_inside_narrow_limits_shows_the_limit_itself():
    found = line(lower_kpa=171.0, upper_kpa=172.0, step_kpa=7.0)

    assert found.shown_kpa == pytest.approx(172.0)
    assert found.limit == 1


def test_where_a_limit_was_hit_the_hot_pressure_to_expect_is_told():
    found = line(upper_kpa=180.0)

    assert found.limit == 1
    assert found.shown_kpa == pytest.approx(180.0)
    assert found.expected_hot_kpa == pytest.approx(gauge_after_kpa(180.0, 24.0, found.expected_gas_c, 101.3))
    assert found.expected_hot_kpa < 230.0


def test_a_rider_s_gauge_that_shows_too_much_is_told_its_own_figure():
    honest, shows_more = line(), line(gauge_offset_kpa=5.0)

    assert shows_more.shown_kpa - honest.shown_kpa == pytest.approx(5.0)
    assert shows_more.expected_hot_kpa == pytest.approx(honest.expected_hot_kpa)


def test_warmers_let_a_short_slot_end_hotter_so_less_is_set():
    plain, warmed = (line(minutes_on_track=6.0, warmers_c=warmers_c) for warmers_c in (np.nan, 80.0))

    assert warmed.expected_gas_c > plain.expected_gas_c
    assert warmed.start_kpa < plain.start_kpa
    assert plain.start_kpa == pytest.approx(line(minutes_on_track=6.0).start_kpa)


def test_lines_are_computed_side_by_side_and_an_unknown_air_leaves_only_its_own_line_unknown():
    found = line(air_c=[22.0, np.nan, 30.0], target_kpa=[[230.0], [220.0]])

    assert found.start_kpa.shape == (2, 3)
    assert found.start_kpa[1, 2] == pytest.approx(line(air_c=30.0, target_kpa=220.0).start_kpa)
    assert np.isnan(found.shown_kpa[:, 1]).all()
    assert np.isfinite(found.shown_kpa[:, [0, 2]]).all()


def test_the_best_source_wins():
    sources = {
        "maker_hot_kpa": [235.0, np.nan, np.nan, np.nan, np.nan],
        "maker_cold_kpa": [170.0, 170.0, np.nan, np.nan, np.nan],
        "maker_off_warmers_kpa": [210.0, 210.0, 210.0, np.nan, np.nan],
        "maker_off_warmers_c": 80.0,
        "notes_hot_kpa": [220.0, 220.0, 220.0, 220.0, np.nan],
        "notes_sd_kpa": 4.0,
        "notes_used": 3,
    }

    found = target(**sources)

    assert found.basis.tolist() == [
        "maker hot",
        "maker cold",
        "maker off-warmers",
        "reference notes",
        "practice",
    ]
    assert found.notes_used.tolist() == [0, 0, 0, 3, 0]
    assert found.hot_kpa[[0, 3, 4]] == pytest.approx([235.0, 220.0, 216.0])
    assert found.sd_kpa[[0, 3, 4]] == pytest.approx([0.0, 4.0, 10.0])


def test_a_maker_s_cold_pressure_is_carried_to_the_temperature_practice_expects():
    found = target(maker_cold_kpa=200.0, maker_cold_c=20.0, practice_rise_c=60.0, practice_rise_sd_c=0.0)

    # Computed with the gas law, shown in the reference values as 261.673 (real air by CoolProp: 262.115).
    assert found.hot_kpa == pytest.approx(261.673, abs=5e-4)
    assert found.sd_kpa == pytest.approx(0.0, abs=1e-9)
    assert found.basis == "maker cold"


def test_a_carried_pressure_is_as_unsure_as_the_rise_it_is_carried_over():
    # Gas law by hand: 9 degrees more of 293.15 K on (170 + 101.325) kPa are 8.330 kPa; 353.15 K off warmers 6.915.
    cold = target(maker_cold_kpa=170.0, maker_cold_c=20.0, practice_rise_sd_c=9.0)
    warm = target(maker_off_warmers_kpa=170.0, maker_off_warmers_c=80.0, practice_rise_sd_c=9.0)

    assert cold.sd_kpa == pytest.approx(8.330, abs=5e-4)
    assert warm.sd_kpa == pytest.approx(6.915, abs=5e-4)


def test_a_maker_s_cold_pressure_comes_back_on_the_day_it_was_published_for():
    known = practice("track_day", "medium", "rear")
    aim = target(maker_cold_kpa=172.0)

    found = line(
        target_kpa=aim.hot_kpa, rise_mean_c=known.settled_rise_c, air_c=20.0, tire_c=20.0, minutes_on_track=600.0,
        barometer_kpa=101.325,
    )  # fmt: skip

    assert found.start_kpa == pytest.approx(172.0)


def test_an_off_warmers_pressure_without_its_temperature_is_refused():
    with pytest.raises(ValueError, match="maker_off_warmers_c must be given"):
        target(maker_off_warmers_kpa=210.0)


def test_the_rule_of_thumb_is_exact_at_38_psi_and_20_c_and_too_strong_at_30():
    # "1 psi per 10 F" is common practice, no published source; where it is exact follows from the gas law.
    rise_c = 10.0

    gaps = []
    for psi in (38.07, 30.0):
        hot = gauge_after_kpa(kpa_from_psi(psi), 20.0, 20.0 + rise_c, 101.325)
        gaps.append(float(psi_from_kpa(rule_of_thumb_kpa(hot, 20.0 + rise_c, 20.0)) - psi))

    assert gaps[0] == pytest.approx(0.0, abs=0.005)
    # True slope at 30 psi: 0.847 psi per 10 F, so 18 F are 0.275 psi too much.
    assert gaps[1] == pytest.approx(-1.8 * (1 - 0.847), abs=0.005)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"lower_kpa": 270.0}, "upper_kpa less lower_kpa must be at least 0, not -10"),
        ({"step_kpa": 0.0}, "step_kpa must be above 0, not 0"),
        ({"level": 1.0}, "level must be above 0 and below 1, not 1"),
        ({"rise_sd_c": -1.0}, "rise_sd_c must be at least 0, not -1"),
        ({"air_sd_c": -1.0}, "air_sd_c must be at least 0, not -1"),
        ({"tire_sd_c": -1.0}, "tire_sd_c must be at least 0, not -1"),
        ({"setting_sd_kpa": -1.0}, "setting_sd_kpa must be at least 0, not -1"),
        ({"target_sd_kpa": -1.0}, "target_sd_kpa must be at least 0, not -1"),
        ({"df": 0.0}, "df must be above 0, not 0"),
        ({"barometer_kpa": 1013.0}, "barometer_kpa must be at most 110, not 1013"),
        ({"minutes_on_track": -1.0}, "minutes_on_track must be at least 0, not -1"),
    ],
)
def test_an_impossible_parameter_is_refused_by_name(changes, sentence):
    with pytest.raises(ValueError, match=sentence):
        line(**changes)
