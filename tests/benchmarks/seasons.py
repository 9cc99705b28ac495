"""Large invented seasons for the benchmarks, from fixed seeds, and what a fresh process needs to compute on them."""

import resource
import subprocess
import sys
import time
from pathlib import Path

import numpy as np

from fleet.science.heating import ObservedRise, expected_rise, learn
from fleet.science.life import assess
from fleet.science.pooling import Prior, fit
from fleet.science.practice import practice
from fleet.science.remaining import RatePrior, binding_zone, remaining_km
from fleet.science.start_pressure import start_pressure

LEVELS = {"rider": (50_000, 5.0), "product": (200, 3.0), "track": (100, 2.0)}
ROOT = Path(__file__).parents[2]
STATUS = Path("/proc/self/status")


def rises(rows=1_000_000, levels=LEVELS, *, columns=1, weighted=False, believed=False):
    """Return the arguments of ``fit``: y, x and groups, and weights and prior where asked."""
    rng = np.random.default_rng(20260612)
    groups = {name: rng.integers(0, size, rows) for name, (size, _) in levels.items()}
    x = np.ones((rows, columns))
    x[:, 1:] = rng.normal(size=(rows, columns - 1))
    weights = rng.uniform(0.5, 2.0, rows) if weighted else np.ones(rows)
    y = 45.0 + rng.normal(0.0, 6.0, rows) / np.sqrt(weights)
    for name, (size, sd) in levels.items():
        y += rng.normal(0.0, sd, size)[groups[name]]
    keywords = {"weights": weights} if weighted else {}
    if believed:
        mean, sd = [45.0] + [0.0] * (columns - 1), [15.0] + [2.0] * (columns - 1)
        keywords["prior"] = Prior(mean, sd, dict.fromkeys(levels, 4.0), 5.0)
    return (y, x, groups), keywords


def treads(tires=200_000, zones=5, readings=4):
    """Return tires by zones whose depths were read a few times, as keywords of ``remaining_km``."""
    rng = np.random.default_rng(20260613)
    distance_km = np.sort(rng.uniform(0.0, 900.0, (tires, 1, readings)), axis=-1)
    median = rng.lognormal(np.log(2.5), 0.3, (tires, 1))
    rate = median * rng.lognormal(0.0, 0.3, (tires, zones))
    depth_mm = 5.2 - rate[..., None] * distance_km / 1000.0 + rng.normal(0.0, 0.15, (tires, zones, readings))
    return {
        "distance_km": distance_km,
        "depth_mm": np.maximum(depth_mm, 0.3),
        "limit_mm": np.full((tires, 1), 0.8),
        "new_depth_mm": np.full((tires, 1), 5.2),
        "gauge_sd_mm": np.full((tires, 1), 0.15),
        "rate_prior": RatePrior(median, np.full((tires, 1), 0.4), np.zeros((tires, 1), dtype=np.int64)),
    }


def judged(season):
    """Return the remaining distance of every zone and the assessment of every tire, in one call each."""
    left = remaining_km(**season)
    rng = np.random.default_rng(20260614)
    tires = len(left.now_km)
    assessment = assess(
        left.at(binding_zone(left)),
        day_km=rng.uniform(80.0, 200.0, tires),
        day_sd_km=30.0,
        cycles_used=rng.integers(0, 30, tires),
        cycles_per_day=rng.uniform(3.0, 6.0, tires),
        cycle_guideline=45.0,
        age_years=rng.uniform(0.0, 8.0, tires),
        riding_days_per_year=10.0,
    )
    return left, assessment


def lines(count=100_000):
    """Return lines of an event day: what ``expected_rise`` is asked, and today's facts for ``start_pressure``."""
    rng = np.random.default_rng(20260615)
    rows = 20_000
    kinds = [
        practice("track_day", carcass, axle) for carcass in ("soft", "medium") for axle in ("front", "rear")
    ]
    seen = {"product": rng.integers(0, 40, rows), "track": rng.integers(0, 10, rows)}
    seen["rider"] = rng.integers(0, 2_000, rows)
    learned = learn(
        ObservedRise(
            rise_c=rng.normal(45.0, 8.0, rows),
            noise_sd_c=np.full(rows, 2.0),
            begun_over_air_c=np.zeros(rows),
            constants_on_track=np.full(rows, 3.0),
            constants_standing=np.full(rows, 0.2),
        ),
        practice=kinds[0],
        track_over_air_c=rng.uniform(0.0, 25.0, rows),
        effort=rng.uniform(0.6, 1.0, rows),
        **seen,
    )
    asked = {
        "practice": [kinds[kind] for kind in rng.integers(0, len(kinds), count)],
        "track_over_air_c": rng.uniform(0.0, 25.0, count),
        "product": rng.integers(-1, 40, count),
        "track": rng.integers(-1, 10, count),
        "rider": rng.integers(-1, 2_000, count),
    }
    today = {
        "target_kpa": rng.uniform(200.0, 240.0, count),
        "target_sd_kpa": 5.0,
        "air_c": rng.uniform(10.0, 35.0, count),
        "tire_c": rng.uniform(10.0, 45.0, count),
        "barometer_kpa": rng.uniform(85.0, 103.0, count),
        "minutes_on_track": 20.0,
        "lower_kpa": 140.0,
        "upper_kpa": 280.0,
        "step_kpa": 2.5,
    }
    return learned, asked, today


def advised(learned, asked, today):
    """Return the start pressure of every line, from one call each."""
    rise = expected_rise(learned, **asked)
    return start_pressure(
        rise_mean_c=rise.mean_c, rise_sd_c=rise.sd_c, df=rise.df, time_constant_min=rise.on_track_min, **today
    )


JOBS = {
    "unweighted": lambda: fit(*(season := rises())[0], **season[1]),
    "weighted": lambda: fit(*(season := rises(columns=3, weighted=True))[0], **season[1]),
    "believed": lambda: fit(*(season := rises(columns=3, weighted=True, believed=True))[0], **season[1]),
    "treads": lambda: judged(treads()),
    "lines": lambda: advised(*lines()),
}


def least_s(job, *arguments, repeats=3):
    """Return the least CPU time of some repeats, in seconds."""
    found = []
    for _ in range(repeats):
        started = time.process_time()
        job(*arguments)
        found.append(time.process_time() - started)
    return min(found)


def peak_mb(job):
    """Return the largest resident memory of a fresh process that makes the arrays and does a job, in MB of 2^20.

    Interpreter, numpy, scipy and the input arrays are counted.
    """
    code = f"from tests.benchmarks.seasons import JOBS, own_peak_mb; JOBS[{job!r}](); print(own_peak_mb())"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    return float(told.stdout)


def own_peak_mb():
    """Return the largest resident memory of this process so far.

    ``getrusage`` also counts what the parent held when it started this process, therefore Linux's own figure goes first.
    """
    if STATUS.exists():
        kilobytes = next(
            line.split()[1] for line in STATUS.read_text().splitlines() if line.startswith("VmHWM")
        )
        return int(kilobytes) / 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
