"""How much a note counts, the middle of weighted values, and what many notes together say."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from fleet.science.reference_notes import huber_location, likeness, pool_reference_notes, weighted_median

# "chem", 24 determinations of copper in flour, and the answers printed in the help
# of MASS::huber (Venables and Ripley, Modern Applied Statistics with S).
CHEM = [
    2.9, 3.1, 3.4, 3.4, 3.7, 3.7, 2.8, 2.5, 2.4, 2.4, 2.7, 2.2, 5.28, 3.37, 3.03, 3.03, 28.95, 3.77, 3.4, 2.2, 3.5, 3.6,
    3.7, 3.7,
]  # fmt: skip
CHEM_SCALE = 0.526323

SAME = dict.fromkeys(("air_difference_c", "track_difference_c", "pace_difference", "age_days"), 0.0)

readings = st.lists(st.floats(180, 260), min_size=1, max_size=12)


def test_a_note_of_the_same_day_counts_in_full():
    assert likeness(**SAME) == 1.0


@pytest.mark.parametrize(
    ("difference", "one_scale"),
    [("air_difference_c", 8.0), ("track_difference_c", 12.0), ("pace_difference", 0.15), ("age_days", 730.0)],
)
def test_a_note_one_scale_away_or_silent_counts_for_three_fifths(difference, one_scale):
    # The scales are common practice, no published source; a bell curve at one scale is exp(-1/2) = 0.6065.
    assert likeness(**{**SAME, difference: one_scale}) == pytest.approx(0.6065, abs=5e-5)
    assert likeness(**{**SAME, difference: np.nan}) == pytest.approx(0.6065, abs=5e-5)


def test_differences_in_several_things_multiply():
    # exp(-1/2) twice is exp(-1) = 0.3679.
    assert likeness(**{**SAME, "air_difference_c": -8.0, "age_days": 730.0}) == pytest.approx(
        0.3679, abs=5e-5
    )


def test_notes_are_weighed_side_by_side():
    # Two scales of air are exp(-2^2 / 2) = 0.1353.
    weights = likeness(**{**SAME, "air_difference_c": [0.0, 16.0, np.nan]})

    assert weights == pytest.approx([1.0, 0.1353, 0.6065], abs=5e-5)


@pytest.mark.parametrize(
    ("values", "weights", "median"),
    [
        # Cormen et al., Introduction to Algorithms, problem 9-2 (from memory).
        ([0.1, 0.35, 0.05, 0.1, 0.15, 0.05, 0.2], [0.1, 0.35, 0.05, 0.1, 0.15, 0.05, 0.2], 0.2),
        # Encyclopedia examples of the weighted median (from memory).
        ([1, 2, 3, 4, 5], [0.15, 0.1, 0.2, 0.3, 0.25], 4),
        ([4, 2, 3, 1], [0.25, 0.25, 0.25, 0.25], 2.5),
        ([1, 2, 3, 4], [0.49, 0.01, 0.25, 0.25], 2.5),
    ],
)
def test_the_weighted_median_is_the_textbook_one(values, weights, median):
    assert weighted_median(values, weights) == pytest.approx(median)


@pytest.mark.parametrize(
    ("values", "weights", "median"),
    [([3, 1, 2], [3, 3, 2], 2), ([5, 7], [2, 2], 6), ([5], [3], 5), ([1, 2, 3], [0, 0, 4], 3)],
)
def test_weights_need_not_add_up_to_one(values, weights, median):
    # The definition: half of the weight on either side, the mean of two values where they share it evenly.
    assert weighted_median(values, weights) == median


def test_huber_s_location_is_the_published_one():
    # MASS::huber(chem, k = 1.5): mu 3.206724, s 0.526323.
    assert huber_location(CHEM, np.ones(24), CHEM_SCALE) == pytest.approx(3.206724, abs=2e-6)


@given(st.lists(st.floats(0.1, 5.0), min_size=24, max_size=24))
def test_huber_s_location_is_where_the_pulls_balance(weights):
    # The definition, Huber 1964: no value pulls harder than one 1.5 scales away; the root by Brent's method.
    def pull(middle):
        return np.dot(weights, np.clip(np.array(CHEM) - middle, -1.5 * CHEM_SCALE, 1.5 * CHEM_SCALE))

    expected = brentq(pull, min(CHEM), max(CHEM), xtol=1e-12)

    assert huber_location(CHEM, weights, CHEM_SCALE) == pytest.approx(expected, abs=1e-9)


def test_a_weight_of_three_is_the_value_three_times():
    weights = np.ones(24)
    weights[16] = 3.0

    weighted = huber_location(CHEM, weights, CHEM_SCALE)

    repeated = huber_location([*CHEM, CHEM[16], CHEM[16]], np.ones(26), CHEM_SCALE)
    assert weighted == pytest.approx(repeated, abs=1e-9)


@given(readings, st.floats(0.1, 20))
def test_the_location_lies_among_the_values_and_moves_with_them(values, shift):
    weights = np.ones(len(values))

    location = huber_location(values, weights, 5.0)

    assert min(values) - 1e-9 <= location <= max(values) + 1e-9
    assert huber_location(np.array(values) + shift, weights, 5.0) == pytest.approx(location + shift, abs=1e-6)


@pytest.mark.parametrize(("values", "weights"), [([], []), ([5.0], [0.0])])
def test_values_without_weight_have_no_middle(values, weights):
    sentence = "values must hold at least one with a weight above 0, not none"

    with pytest.raises(ValueError, match=sentence):
        weighted_median(values, weights)
    with pytest.raises(ValueError, match=sentence):
        huber_location(values, weights, 5.0)


@pytest.mark.parametrize(("count", "sd_kpa"), [(1.0, 3.6834), (0.5, 5.3587)])
def test_the_spread_of_a_pool_mixes_what_is_seen_with_what_is_usual(count, sd_kpa):
    # By hand: 4 is the median distance from 220, so the spread seen is 1.4826 x 4 = 5.9304. With two notes' worth of the
    # usual 7 kPa (common practice, no published source) three whole notes give (2 x 49 + 3 x 35.170) / 5 = 40.702 and
    # sqrt(40.702 / 3) = 3.6834; three halves give (98 + 1.5 x 35.170) / 3.5 = 43.073 and sqrt(43.073 / 1.5) = 5.3587.
    found = pool_reference_notes([216.0, 220.0, 224.0], count)

    assert found.hot_kpa == pytest.approx(220.0)
    assert found.sd_kpa == pytest.approx(sd_kpa, abs=5e-4)
    assert found.notes_used == 3


def test_one_absurd_note_among_many_pulls_no_harder_than_one_that_is_just_unusual():
    # By hand: the five honest notes lie within 1.5 scales of their mean, 1101 / 5 = 220.2. With 290 the median distance
    # from the median 221 is 3.5, so the scale is sqrt((2 x 49 + 6 x (1.4826 x 3.5)^2) / 8) = 5.696; 290 pulls like a note
    # 1.5 x 5.696 = 8.544 above the location m: 5 m = 1101 + 8.544.
    honest = [218.0, 222.0, 220.0, 225.0, 216.0]

    calm, upset = (pool_reference_notes(values, 1.0) for values in (honest, [*honest, 290.0]))

    assert calm.hot_kpa == pytest.approx(220.2)
    assert upset.hot_kpa == pytest.approx(221.909, abs=5e-4)
    assert upset.notes_used == 6


def test_more_and_liker_notes_are_surer():
    one, many, unlike = (
        pool_reference_notes(np.full(n, 220.0), each).sd_kpa for n, each in ((1, 1.0), (9, 1.0), (9, 0.2))
    )

    assert many < unlike < one


@pytest.mark.parametrize(("values", "each"), [([220.0, 230.0], 0.01), ([np.nan], 1.0), ([], 1.0)])
def test_notes_too_unlike_the_day_or_missing_say_nothing(values, each):
    found = pool_reference_notes(values, each)

    assert found.notes_used == 0
    assert np.isnan(found.hot_kpa)
    assert np.isnan(found.sd_kpa)
