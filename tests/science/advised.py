"""Two tires to advise on, right unless said otherwise, shared by the tests of the next change."""

import numpy as np
from hypothesis import strategies as st

from fleet.science.advice import (
    Tire,
)
from fleet.science.advice.rules import FELT, PHASES, SEEN, ZONES
from fleet.science.inflation import gauge_after_kpa

STEP_KPA = 5.0
FEELS = st.lists(st.tuples(st.sampled_from(sorted(FELT)), st.sampled_from(["", *PHASES])), max_size=4)
LOOKS = st.lists(st.tuples(st.sampled_from(sorted(SEEN)), st.sampled_from(["", *ZONES])), max_size=3)
UNREAD = st.just(np.nan)
TIRES = st.builds(
    Tire,
    lower_kpa=st.floats(min_value=130, max_value=180),
    upper_kpa=st.floats(min_value=180, max_value=260),
    step_kpa=st.sampled_from([1.0, 2.0, 3.447, 5.0, 10.0]),
    gauge_offset_kpa=st.floats(min_value=-8, max_value=8),
    start_kpa=st.floats(min_value=120, max_value=270) | UNREAD,
    hot_kpa=st.floats(min_value=150, max_value=300) | UNREAD,
    hot_target_kpa=st.floats(min_value=180, max_value=250) | UNREAD,
    barometer_kpa=st.floats(min_value=80, max_value=104),
    looks=LOOKS,
    must_stand_down=st.sampled_from([False, False, False, True]),
)


def tire(hot_kpa=220.0, **more):
    """A tire set to 180 that came in on its target of 220 unless said otherwise."""
    known = {
        "lower_kpa": 150.0,
        "upper_kpa": 250.0,
        "step_kpa": STEP_KPA,
        "start_kpa": 180.0,
        "start_c": 20.0,
    }
    return Tire(**{**known, "hot_target_kpa": 220.0, "hot_kpa": hot_kpa, **more})


READ = st.builds(
    tire,
    start_kpa=st.floats(min_value=150, max_value=250),
    hot_kpa=st.floats(min_value=180, max_value=290),
    hot_target_kpa=st.floats(min_value=180, max_value=260),
)


def unread(**more):
    return tire(hot_kpa=np.nan, **more)


def hot_kpa_of(start_kpa, gas_c=60.0):
    return float(gauge_after_kpa(start_kpa, 20.0, gas_c, 101.325))


def codes(found):
    return [sign.code for sign in found.signs]
