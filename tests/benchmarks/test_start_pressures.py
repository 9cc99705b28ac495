"""How long 100,000 start pressures take, in CPU seconds and as a ratio to a floor of the same run; by hand, see DEVELOPERS.md.

Floor: Newton's law and the gas law written out in plain numpy on the same arrays, without limits, steps or intervals.
"""

import time

import numpy as np
import pytest

from fleet.science.heating import expected_rise
from tests.benchmarks.seasons import advised, least_s, lines

GOAL_S = 2.0
KELVIN = 273.15


def plain(rise_c, constant_min, today):
    """Return the start pressure in kPa that reaches the target."""
    settled = today["air_c"] + rise_c
    gas = settled + (today["tire_c"] - settled) * np.exp(-today["minutes_on_track"] / constant_min)
    hot_abs = today["target_kpa"] + today["barometer_kpa"]
    return hot_abs * (today["tire_c"] + KELVIN) / (gas + KELVIN) - today["barometer_kpa"]


@pytest.mark.benchmark(timer=time.process_time)
def test_advise_100_000_lines(benchmark):
    learned, asked, today = lines()
    rise = expected_rise(learned, **asked)
    floor_s = least_s(plain, rise.mean_c, rise.on_track_min, today)

    pressure = benchmark.pedantic(advised, (learned, asked, today), rounds=5, warmup_rounds=1)

    benchmark.extra_info["plain_numpy_s"] = floor_s
    benchmark.extra_info["times_plain_numpy"] = benchmark.stats["min"] / floor_s
    assert pressure.start_kpa == pytest.approx(plain(rise.mean_c, rise.on_track_min, today), abs=1e-9)
    assert benchmark.stats["min"] < GOAL_S
