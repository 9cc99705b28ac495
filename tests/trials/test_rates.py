"""How often a test's own judging calls equal sets different, and how often it finds one percent, in simulated runs.

The runs go the way of every run: laps of stints, the time between them by the clock, the changes in the log.
"""

from datetime import timedelta

import numpy as np
import pytest
from scipy import stats

from fleet.running.models import Stint
from fleet.science.laps import DIFFERENT, NOT_TOLD_APART
from fleet.trials.log import Ridden
from fleet.trials.models import Run, Side
from fleet.trials.verdicts import judged_laps

LAP_S = 112.0


@pytest.fixture
def judge(trial, now):
    """Judge two simulated runs, the second beginning so many laps after the end of the first."""

    def run(side, started_at, times):
        ended_at = started_at + timedelta(seconds=float(np.sum(times)))
        stint = Stint(started_at=started_at, ended_at=ended_at, lap_times_s=[round(one, 3) for one in times])
        return Ridden(run=Run(test=trial, stint=stint, side=side), specs=trial.specs(side))

    def do(first_s, second_s, *, pause_laps):
        first = run(Side.BASELINE, now, first_s)
        second = run(Side.CANDIDATE, first.stint.ended_at + timedelta(seconds=pause_laps * LAP_S), second_s)
        for one in (first, second):
            one.run.purpose = Run.Purpose.CONSISTENCY
        return judged_laps(trial, [first, second]).compared[0].found.verdict

    return do


def laps(rng, count, *, since=0.0, level_s=LAP_S, sd_s=0.5, own_s=0.0, track_s=0.0):
    """Return lap times with a drift of the tire's own, on a track that has drifted since so many laps."""
    lap = np.arange(count)
    return level_s + own_s * lap + track_s * (lap + since) + rng.normal(0.0, sd_s, count)


@pytest.mark.parametrize(
    ("counts", "drift"),
    [
        ((7, 7), {}),
        ((7, 7), {"track_s": -0.06}),
        ((7, 7), {"own_s": 0.08}),
        ((4, 5), {}),
        ((4, 5), {"track_s": -0.06}),
        ((4, 4), {"own_s": 0.08, "track_s": -0.03}),
    ],
)
def test_equal_sets_are_called_different_at_most_six_times_in_a_hundred(judge, counts, drift):
    rng, tries = np.random.default_rng(20261129), 400

    called = sum(
        judge(
            laps(rng, counts[0], **drift),
            laps(rng, counts[1], since=counts[0] + 2.0, **drift),
            pause_laps=2.0,
        )
        == DIFFERENT
        for _ in range(tries)
    )

    assert called / tries <= 0.06


def power(noncentrality, freedom, level):
    """Return the chance that a two-sided t test finds a difference (Cohen 1988, section 2.2: noncentral t)."""
    edge = stats.t.ppf(1 - level / 2, freedom)
    return stats.nct.sf(edge, freedom, noncentrality) + stats.nct.cdf(-edge, freedom, noncentrality)


def error_of_shift(count, begins):
    """Return the standard error of a level shift beside a slope, for noise of one, by ordinary least squares."""
    lap = np.arange(1, count + 1)
    clock = np.concatenate([lap, lap + begins])
    design = np.column_stack([np.ones(2 * count), np.repeat([0.0, 1.0], count), clock])
    return np.sqrt(np.linalg.inv(design.T @ design)[1, 1])


@pytest.mark.parametrize("sd_s", [0.45, 0.65])
def test_one_percent_in_two_runs_of_seven_laps_is_found_at_the_rate_theory_allows(judge, sd_s):
    """A rank test has 3 / pi of the efficiency of Student's for normal noise, and with seven and seven values its level
    nearest under 5 % is 2 * 65 / 3432 (Hollander, Wolfe and Chicken, Nonparametric Statistical Methods, sections 4.5
    and 4.1); to be called different, the shift must also stand beside a slope over the clock, the pause included.
    """
    rng, tries = np.random.default_rng(1871), 500
    one_percent = 0.01 * LAP_S / sd_s

    found = [
        judge(laps(rng, 7, sd_s=sd_s), laps(rng, 7, sd_s=sd_s, level_s=0.99 * LAP_S), pause_laps=2.0)
        for _ in range(tries)
    ]

    at_all = np.mean([one != NOT_TOLD_APART for one in found])
    different = np.mean([one == DIFFERENT for one in found])
    ranked = power(one_percent / np.sqrt(2 / 7) * np.sqrt(3 / np.pi), 12, 2 * 65 / 3432)
    beside_clock = power(one_percent / error_of_shift(7, 9.0), 11, 0.05)
    assert at_all == pytest.approx(ranked, abs=0.05)
    assert different == pytest.approx(beside_clock, abs=0.06)
