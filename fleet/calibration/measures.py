"""What the seasons came to, as plain numbers that can be kept, compared and shown."""

from collections.abc import Generator
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from fleet.calibration import heat_season, heat_world, wear_season, wear_world
from fleet.science.units import KPA_PER_PSI

Array = NDArray[np.float64]
Numbers = dict[str, Any]

READINGS: Final = ((0, 0), (1, 9), (10, 29), (30, 99), (100, None))
ENOUGH_READINGS: Final = 10
LIVED: Final = ((0.0, 0.25), (0.25, 0.5), (0.5, 0.75), (0.75, 0.9), (0.9, None))
TIMES: Final = (0.5, 0.75, 1.25, 1.5)
BENDS: Final = (-0.3, -0.15, 0.15, 0.3)
BINS_KPA: Final = np.arange(-21.0, 21.1, 1.5)
WORN_HALF: Final = (0.25, 0.75)
DIGITS: Final = 4
VARIED_SEED: Final = 1000
VARIED_SHARE: Final = 4
"""Of so many seasons one is played again with each other size; of fewer none."""


def measure(seasons: int) -> Generator[tuple[int, int], None, Numbers]:
    """Play everything, saying after each season how many of how many are done, and return all numbers."""
    fewer = seasons // VARIED_SHARE
    total = 2 * seasons + (len(TIMES) + len(BENDS)) * fewer
    done = 0
    played: list[Numbers] = []
    for play, summed, size, count, first in _jobs(seasons, fewer):
        parts = []
        for seed in range(first, first + count):
            parts.append(play(seed, size))
            done += 1
            yield done, total
        played.append(summed(parts))
    heat, wear, *varied = played
    return {
        "seasons": seasons,
        "seasons_varied": fewer,
        "heat": heat,
        "wear": wear,
        "heat_by_size": dict(zip(map(str, TIMES), varied, strict=False)),
        "wear_by_bend": dict(zip(map(str, BENDS), varied[len(TIMES) :], strict=False)),
    }


def _jobs(seasons: int, fewer: int) -> list[tuple[Any, Any, Any, int, int]]:
    """Return what to play: how, how to sum it up, the size of the disturbances, how often, from which seed."""
    hot, life = (heat_season.play, hot_numbers), (wear_season.play, life_numbers)
    as_it_is = [(*hot, heat_world.Size(), seasons, 0), (*life, wear_world.Size(), seasons, 0)]
    if not fewer:
        return as_it_is
    return [
        *as_it_is,
        *((*hot, heat_world.Size().times(times), fewer, VARIED_SEED) for times in TIMES),
        *((*life, wear_world.Size(bend_mean=bend), fewer, VARIED_SEED) for bend in BENDS),
    ]


def hot_numbers(parts: list[heat_season.Outcome]) -> Numbers:
    """Return what some seasons' pressures came to."""
    found = heat_season.Outcome.joined(parts)
    by_readings = []
    for low, high in READINGS:
        part = found.where((found.readings >= low) & (found.readings <= (np.inf if high is None else high)))
        if len(part):
            by_readings.append({"from": low, "to": high, **_hot_part(part)})
    off = {"guidance": found.off_kpa, "as_always": found.as_always_kpa, "by_rule": found.by_rule_kpa}
    return {
        "all": _hot_part(found),
        "enough_readings": _hot_part(found.where(found.readings >= ENOUGH_READINGS)),
        "by_readings": by_readings,
        "off_share": {name: _shares(values[~np.isnan(values)]) for name, values in off.items()},
    }


def _hot_part(part: heat_season.Outcome) -> Numbers:
    return {
        "stints": len(part),
        "hot_covered": _rounded(part.hot_covered.mean(axis=0)),
        "start_covered": _rounded(part.start_covered.mean(axis=0)),
        "within_psi": _within_psi(part.off_kpa),
        "within_psi_as_always": _within_psi(part.as_always_kpa),
        "within_psi_by_rule": _within_psi(part.by_rule_kpa),
        "off_mean_kpa": _rounded(part.off_kpa.mean()),
        "off_sd_kpa": _rounded(part.off_kpa.std()),
    }


def _within_psi(off_kpa: Array) -> float | None:
    known = off_kpa[~np.isnan(off_kpa)]
    return _rounded((np.abs(known) <= KPA_PER_PSI).mean()) if len(known) else None


def _shares(off_kpa: Array) -> list[float]:
    kept = np.clip(off_kpa, BINS_KPA[0], BINS_KPA[-1] - 1e-9)
    shares: list[float] = _rounded(np.histogram(kept, BINS_KPA)[0] / len(kept))
    return shares


def life_numbers(parts: list[wear_season.Outcome]) -> Numbers:
    """Return what some fleets' tires came to."""
    found = wear_season.Outcome.joined(parts)
    by_lived = []
    for low, high in LIVED:
        part = found.where(
            (found.lived_share >= low) & (found.lived_share < (np.inf if high is None else high))
        )
        by_lived.append({"from": low, "to": high, **_life_part(part)})
    going = found.where(~found.is_stopped)
    tenth = np.minimum((going.chance * 10).astype(int), 9)
    stopped = found.where(found.is_stopped)
    half = found.where((found.lived_share >= WORN_HALF[0]) & (found.lived_share < WORN_HALF[1]))
    return {
        "all": _life_part(found),
        "half_worn_error_share": _rounded(half.km_error_share.mean()),
        "by_lived": by_lived,
        "chance": [_tenth(going.where(tenth == number)) for number in range(10)],
        "stopped": {"times": len(stopped), "would_have_lasted": _rounded(stopped.did_last.mean())},
    }


def _life_part(part: wear_season.Outcome) -> Numbers:
    return {
        "times": len(part),
        "km_covered": _rounded(part.km_covered.mean(axis=0)),
        "days_covered": _rounded(part.days_covered.mean()),
        "km_error_share": _rounded(part.km_error_share.mean()),
    }


def _tenth(part: wear_season.Outcome) -> Numbers:
    return {"times": len(part), "said": _rounded(part.chance.mean()), "did": _rounded(part.did_last.mean())}


def _rounded(value: Any) -> Any:
    rounded = np.round(value, DIGITS)
    return rounded.tolist()


def span(row: Numbers) -> str:
    """Return the words for a row's range."""
    low, high = row["from"], row["to"]
    if high is None:
        return f"{low:g} and more"
    return f"{low:g}" if low == high else f"{low:g} to {high:g}"
