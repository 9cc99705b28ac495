"""What holds of every suggestion, whatever two tires and a rider say."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from fleet.science import advice
from fleet.science.advice import (
    KINDS,
    MOST_STEPS,
    suggest,
)
from tests.science.advised import FEELS, READ, TIRES, tire


@given(TIRES, TIRES, FEELS)
def test_no_suggestion_is_too_big_or_out_of_range_or_for_a_tire_that_stands_down(front, rear, feels):
    found = suggest(front, rear, feels)

    assert found.kind in KINDS
    assert abs(found.steps) <= MOST_STEPS
    assert (found.kind == "pressure") == (found.steps != 0) == (not np.isnan(found.start_kpa))
    assert found.cautions == advice.CAUTIONS
    if found.kind == "pressure":
        chosen = {"front": front, "rear": rear}[found.axle]
        true_kpa = found.start_kpa - chosen.gauge_offset_kpa
        assert chosen.lower_kpa - 1e-6 <= true_kpa <= chosen.upper_kpa + 1e-6
        assert true_kpa == pytest.approx(chosen.start_kpa + found.steps * chosen.step_kpa)
        assert not any(one.is_doubtful for one in (front, rear))
    finished = {"cord", "blister"}.intersection(word for word, _ in (*front.looks, *rear.looks))
    if front.must_stand_down or rear.must_stand_down or finished:
        assert found.kind == "stand down"
    followed = (found.followed, found.axle)
    unfollowed = [one for one in found.signs if one.kind != "pressure" and (one.code, one.axle) != followed]
    assert all(any(sign.reason in remark for remark in found.remarks) for sign in unfollowed)


@given(READ, READ)
def test_physics_moves_the_start_toward_what_was_needed_and_never_past_it(front, rear):
    found = suggest(front, rear)

    if found.kind == "pressure":
        assert found.basis == "physics"
        chosen = {"front": front, "rear": rear}[found.axle]
        true_kpa = found.start_kpa - chosen.gauge_offset_kpa
        before, after = chosen.needed_kpa - chosen.start_kpa, chosen.needed_kpa - true_kpa
        assert abs(after) < abs(before)
        assert after * before > 0 or abs(after) <= chosen.step_kpa / 2 + 1e-6


@given(READ, READ)
def test_front_and_rear_are_treated_alike(front, rear):
    assume(abs(front.steps_off) != abs(rear.steps_off) and not (front.is_doubtful and rear.is_doubtful))

    there, back = suggest(front, rear), suggest(rear, front)

    assert {there.axle, back.axle} in ({"front", "rear"}, {""})
    assert (there.kind, there.steps, back.start_kpa) == (
        back.kind,
        back.steps,
        pytest.approx(there.start_kpa, nan_ok=True),
    )


@given(TIRES, TIRES, FEELS, st.randoms())
def test_the_order_of_the_notes_does_not_matter(front, rear, feels, chance):
    shuffled = list(feels)
    chance.shuffle(shuffled)

    there, back = suggest(front, rear, feels), suggest(front, rear, shuffled)

    assert (there.kind, there.followed, there.reason, there.signs) == (
        back.kind,
        back.followed,
        back.reason,
        back.signs,
    )


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"upper_kpa": 140.0}, "upper_kpa less lower_kpa must be at least 0"),
        ({"lower_kpa": np.nan}, "lower_kpa must be known"),
        ({"step_kpa": 0.0}, "step_kpa must be above 0"),
        ({"hot_kpa": -5.0}, "hot_kpa must be above 0"),
        ({"hot_kpa": np.nan, "start_c": -400.0}, "start_c must be above -273.15, not -400"),
        ({"hot_kpa": np.nan, "barometer_kpa": 1013.0}, "barometer_kpa must be at most 110, not 1013"),
        ({"hot_kpa": np.nan, "barometer_kpa": 29.92}, "barometer_kpa must be at least 30, not 29.92"),
        ({"looks": [("worn", "C")]}, "looks must be among blister, cold_tear"),
        ({"looks": [("even", "exit")]}, "the place of looks must be among L2"),
    ],
)
def test_a_tire_that_cannot_be_is_refused(wrong, sentence):
    with pytest.raises(ValueError, match=sentence):
        tire(**wrong)


def test_a_feel_word_that_is_not_known_is_refused():
    with pytest.raises(ValueError, match="feels must be among chatters"):
        suggest(tire(), tire(), [("bouncy", "")])
