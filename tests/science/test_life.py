"""What ends a tire's life first, how many riding days are left, and which word that makes."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.science import shifted
from fleet.science.life import LEGAL_MINIMUM_MM, assess, cycles_chance, day_distance, tread_chance
from fleet.science.practice import practice
from fleet.science.wear import binding_zone, rate_prior, remaining_km

REAR = practice("track_day", "medium", "rear")
UNKNOWN = np.nan


def tread(depth_mm=4.2, at_km=300.0, limit_mm=0.8, **changes):
    depth = np.asarray(depth_mm, float)[..., None]
    return remaining_km(
        np.broadcast_to(at_km, depth.shape[:-1])[..., None],
        depth,
        limit_mm=limit_mm,
        new_depth_mm=5.2,
        rate_prior=rate_prior(None, REAR),
        **changes,
    )


def judged(left=None, **changes):
    usual = {
        "day_km": 220.0,
        "day_sd_km": 50.0,
        "cycles_used": 4,
        "cycles_per_day": 2.0,
        "cycle_guideline": 30.0,
        "age_years": 1.5,
    }
    return assess(tread() if left is None else left, **{**usual, **changes})


# Independent: draw lives, guidelines and day distances, and count.


@pytest.mark.parametrize(
    ("depth_mm", "cycles_used"),
    [(4.2, 4), (2.4, 4), (1.6, 10), (4.2, 26), (4.6, 14)],
)
def test_it_agrees_with_drawn_futures(depth_mm, cycles_used):
    rng = np.random.default_rng(6)
    n = 40_000
    left = tread(depth_mm)
    life = shifted.quantile(rng.random(n), left.life_mean_km, left.life_sd_km, left.life_skewness)
    spread = np.sqrt(np.log1p((50 / 220) ** 2))
    daily = rng.lognormal(np.log(220) - spread**2 / 2, spread, size=(n, 60))
    run_km = 300.0 + np.cumsum(daily, axis=1)
    guideline = 30.0 * np.exp(0.25 * rng.standard_normal(n))
    cycles = cycles_used + 2.0 * np.arange(1, 61)
    reached = (run_km >= life[:, None]) | (cycles >= guideline[:, None])
    whole_days = np.where(reached.any(axis=1), reached.argmax(axis=1) + 1, 60)

    found = judged(left, cycles_used=cycles_used)

    assert found.chance_to_last_next_day == pytest.approx(1 - reached[:, 0].mean(), abs=0.01)
    # The answer counts parts of a day; a drawn future ends on the whole day in which that part lies.
    low, median, high = np.ceil(found.remaining_days)
    assert (np.abs(np.quantile(whole_days, [0.1, 0.5, 0.9]) - [low, median, high]) <= 1).all()


def test_the_distance_of_a_day_has_the_mean_and_spread_given():
    median, sigma = day_distance([1.0, 4.0], 220.0, 50.0)

    mean = median * np.exp(sigma**2 / 2)
    assert mean == pytest.approx([220.0, 880.0])
    assert mean * np.sqrt(np.expm1(sigma**2)) == pytest.approx([50.0, 100.0], rel=1e-2)


def test_a_day_without_spread_asks_the_tread_directly():
    left = tread(2.4)

    assert tread_chance(left, 1.0, 220.0, 0.0) == pytest.approx(left.chance_within(220.0))


def test_half_of_all_tires_are_through_their_heat_cycles_at_the_guideline():
    assert cycles_chance([5.0, 0.0], 20.0, 2.0, 30.0)[0] == pytest.approx(0.5)


# Published: age and law.


@pytest.mark.parametrize(
    ("age_years", "is_in_service", "state"),
    [
        (5.9, False, "in service"),
        (6.0, False, "stand down"),
        (6.0, True, "in service"),
        (9.9, True, "in service"),
        (10.0, True, "stand down"),
    ],
)
def test_age_follows_the_trade_body_s_advice_of_june_2001(age_years, is_in_service, state):
    # Not into service after 6 years, replace at 10.
    found = judged(age_years=age_years, is_in_service=is_in_service)

    assert found.state == state
    assert (found.binding_limit == "age") == (state == "stand down")


def test_an_age_limit_met_before_the_next_riding_day_already_counts():
    found = judged(age_years=9.9, years_to_next_day=0.2)

    assert found.state == "stand down"
    assert found.binding_limit == "age"


def test_age_binds_when_few_riding_days_fit_before_it():
    found = judged(age_years=9.7, riding_days_per_year=5.0)

    # 0.3 years of 5 riding days each; 1 to 2 days are "plan a change".
    assert found.binding_limit == "age"
    assert found.remaining_days[1] == pytest.approx(1.5)
    assert found.state == "plan a change"


def test_legal_minimum_tread_is_that_of_the_law():
    # UK Construction and Use Regulations 1986, reg. 27; StVZO section 36; 49 CFR 571.119 S6.4.
    assert LEGAL_MINIMUM_MM == {"GB": 1.0, "DE": 1.6, "US": 0.8}


def test_a_tire_can_be_good_for_the_track_and_through_by_the_law():
    worn = tread(1.4, at_km=1100.0)

    track_only = judged(worn)
    on_the_road = judged(worn, legal_tread=tread(1.4, at_km=1100.0, limit_mm=LEGAL_MINIMUM_MM["DE"]))

    assert track_only.state != "stand down"
    assert on_the_road.state == "stand down"
    assert on_the_road.binding_limit == "legal tread"
    assert on_the_road.remaining_days.tolist() == [0, 0, 0]


def test_a_legal_limit_ahead_binds_before_the_wear_limit():
    track_only = judged(tread(3.0, at_km=600.0))
    on_the_road = judged(tread(3.0, at_km=600.0), legal_tread=tread(3.0, at_km=600.0, limit_mm=1.6))

    assert on_the_road.binding_limit == "legal tread"
    assert (on_the_road.remaining_days < track_only.remaining_days).all()
    assert on_the_road.chance_to_last_next_day < track_only.chance_to_last_next_day


def test_where_no_law_applies_the_legal_limit_is_silent():
    nowhere = tread(4.2, new_depth_sd_mm=np.nan)

    assert judged(legal_tread=nowhere).remaining_days == pytest.approx(judged().remaining_days)


@pytest.mark.parametrize(
    ("depth_mm", "at_km", "state"),
    [
        (4.2, 300.0, "in service"),
        (1.9, 1000.0, "plan a change"),
        (1.2, 1100.0, "last day"),
        (0.7, 1200.0, "stand down"),
    ],
)
def test_the_word_follows_the_tread(depth_mm, at_km, state):
    # By hand, along the straight line from 5.2 mm when new to the 0.8 mm that end it, at 220 km a riding day: 1.0 mm in
    # 300 km leave 1020 km, 4.6 days; 3.3 mm in 1000 km leave 333 km, 1.5 days; 4.0 mm in 1100 km leave 110 km, half a
    # day; 0.7 mm is under it. The words for 2 days and more, 1 to 2, and less than 1 are the project's own choice.
    found = judged(tread(depth_mm, at_km))

    assert found.state == state
    assert found.binding_limit == "tread"


def test_a_hold_or_damage_stands_a_good_tire_down_and_is_named():
    held, damaged, both = (
        judged(is_on_hold=hold, is_damaged=damage)
        for hold, damage in ((True, False), (False, True), (True, True))
    )

    assert [found.state for found in (held, damaged, both)] == ["stand down"] * 3
    assert [found.binding_limit for found in (held, damaged, both)] == ["hold", "damage", "hold"]
    assert held.chance_to_last_next_day == 0
    assert held.remaining_days.tolist() == [0, 0, 0]


def test_a_tire_not_scrubbed_in_is_fresh_unless_it_must_stand_down():
    assert judged(is_scrubbed_in=False).state == "fresh"
    assert judged(is_scrubbed_in=False, is_on_hold=True).state == "stand down"


@pytest.mark.parametrize(
    ("used", "chances", "state"),
    [
        (10, [0.000, 0.000, 0.001], "in service"),
        (27, [0.337, 0.446, 0.552], "plan a change"),
        (31, [0.552, 0.648, 0.731], "last day"),
        (45, [0.948, 0.964, 0.975], "stand down"),
    ],
)
def test_heat_cycles_are_a_guideline_and_only_stand_a_tire_down_when_surely_behind_it(used, chances, state):
    # By hand: of lognormal lives with the median 30 and sigma 0.25 (common practice, no published source) a share
    # Phi(ln(n / 30) / 0.25) is through after n cycles; n now and after one and two riding days of two cycles each. That
    # 0.5 within one or two days is likely, and 0.9 now is surely behind it, is the project's own choice.
    found = judged(cycles_used=used)

    assert cycles_chance([0, 1, 2], used, 2.0, 30.0) == pytest.approx(chances, abs=5e-4)
    assert found.state == state


def test_heat_cycles_bind_where_they_are_likelier_spent_than_the_tread():
    assert judged(cycles_used=27).binding_limit == "heat cycles"


def test_without_a_guideline_heat_cycles_do_not_bind():
    assert judged(cycles_used=500, cycle_guideline=UNKNOWN).binding_limit == "tread"


def test_tires_are_judged_in_one_call_from_their_worst_zone():
    zones = remaining_km(
        [[[0.0, 600.0]]],
        [[[5.2, 4.0], [5.2, 2.2]], [[5.2, 4.2], [5.2, 4.4]]],
        limit_mm=0.8,
        new_depth_mm=5.2,
        rate_prior=rate_prior(None, REAR),
    )

    found = judged(zones.at(binding_zone(zones)), is_on_hold=[False, True])

    # The worst zone: 3.0 mm in 600 km leave 1.4 mm for 280 km, 1.3 riding days.

    assert found.state.tolist() == ["plan a change", "stand down"]
    assert found.binding_limit.tolist() == ["tread", "hold"]
    assert found.remaining_days.shape == (2, 3)


def test_an_unknown_day_gets_no_word_and_harms_no_other_tire():
    found = judged(day_km=[220.0, UNKNOWN])

    assert found.state.tolist() == ["in service", ""]
    assert found.binding_limit.tolist() == ["tread", ""]
    assert np.isnan(found.remaining_days[1]).all()
    assert np.isnan(found.chance_to_last_next_day[1])


def test_a_hold_on_a_tire_nothing_else_is_known_of_still_stands_it_down():
    found = judged(day_km=UNKNOWN, is_on_hold=True)

    assert found.state == "stand down"
    assert found.binding_limit == "hold"


depths = st.floats(0.9, 5.0)


@given(depths, st.floats(50, 400), st.floats(0, 40), st.floats(0.2, 5))
def test_days_rise_with_probability_and_the_word_agrees_with_the_number(depth_mm, day_km, used, per_day):
    found = judged(tread(depth_mm), day_km=day_km, cycles_used=used, cycles_per_day=per_day)

    assert (np.diff(found.remaining_days) >= 0).all()
    assert 0 <= found.chance_to_last_next_day <= 1
    median = found.remaining_days[1]
    word = str(found.state)
    if word == "last day":
        assert median <= 1.001
    elif word == "plan a change":
        assert 0.999 <= median <= 2.001
    elif word == "in service":
        assert median >= 1.999


@given(depths, st.floats(50, 400), st.floats(1.1, 3))
def test_longer_days_mean_fewer_days_and_less_chance(depth_mm, day_km, factor):
    usual, longer = (
        judged(tread(depth_mm), day_km=day_km * f, day_sd_km=0.2 * day_km * f) for f in (1.0, factor)
    )

    assert (longer.remaining_days <= usual.remaining_days + 1e-9).all()
    assert longer.chance_to_last_next_day <= usual.chance_to_last_next_day + 1e-9


@given(depths, st.floats(0, 30), st.floats(0, 10))
def test_more_heat_cycles_never_help(depth_mm, used, more):
    usual, hotter = (judged(tread(depth_mm), cycles_used=n) for n in (used, used + more))

    assert (hotter.remaining_days <= usual.remaining_days + 1e-9).all()


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"day_km": 0.0}, "day_km must be above 0, not 0"),
        ({"day_sd_km": -1.0}, "day_sd_km must be at least 0, not -1"),
        ({"cycles_used": -1.0}, "cycles_used must be at least 0, not -1"),
        ({"cycle_guideline": 0.0}, "guideline must be above 0, not 0"),
        ({"age_years": -0.1}, "age_years must be at least 0, not -0.1"),
        ({"riding_days_per_year": 0.0}, "riding_days_per_year must be above 0, not 0"),
    ],
)
def test_an_impossible_fact_is_refused_by_name(changes, sentence):
    with pytest.raises(ValueError, match=sentence):
        judged(**changes)


def test_a_tread_read_at_its_limit_is_at_its_limit_whatever_the_line_says():
    good = tread(4.5)

    said = judged(good, is_read_worn=[False, True])

    assert said.state.tolist() == ["in service", "stand down"]
    assert said.binding_limit[1] == "tread"
    assert said.chance_to_last_next_day[1] == 0.0
