"""How long 200,000 tires are assessed, in CPU seconds and as ratios to floors of the same run; by hand, see DEVELOPERS.md.

Floors: plain numpy that draws a straight line through the same readings; and the posterior of one zone after another by
scipy's quadrature, on a sample, for a tread that wears along a straight line.
"""

import time

import numpy as np
import pytest
from scipy import integrate, optimize

from fleet.science.remaining import RatePrior, remaining_km
from tests.benchmarks.seasons import judged, least_s, peak_mb, treads

GOAL_S, GOAL_MB = 10.0, 1024.0
SAMPLE = 40
NEW_DEPTH_SD_MM = 0.2


def plain(season):
    """Return the distance left by the least squares line of each zone, for the worst zone of each tire."""
    x, y = np.broadcast_arrays(season["distance_km"], season["depth_mm"])
    off = x - x.mean(axis=-1, keepdims=True)
    slope = (off * y).sum(axis=-1) / np.square(off).sum(axis=-1)
    start = y.mean(axis=-1) - slope * x.mean(axis=-1)
    with np.errstate(divide="ignore"):  # a zone whose readings are all the same
        return np.min((season["limit_mm"] - start) / slope - x[..., -1], axis=-1)


def life_by_quadrature(x, y, *, limit, new, gauge_sd, median, sigma):
    """Return mean and standard deviation in km of the life of one zone, by scipy alone."""
    weight = gauge_sd**-2

    def start(rate):
        precision = NEW_DEPTH_SD_MM**-2 + weight * len(x)
        return (new / NEW_DEPTH_SD_MM**2 + weight * np.sum(y + rate * x)) / precision, precision

    def log_density(u):
        rate = np.exp(u) / 1000.0
        a, _ = start(rate)
        off = np.sum((y - a + rate * x) ** 2) * weight + (a - new) ** 2 / NEW_DEPTH_SD_MM**2
        return -0.5 * off - 0.5 * ((u - np.log(median)) / sigma) ** 2

    peak = optimize.minimize_scalar(
        lambda u: -log_density(u), bounds=np.log(median) + sigma * np.array([-6, 6])
    )

    def moment(power):
        def integrand(u):
            rate = np.exp(u) / 1000.0
            a, precision = start(rate)
            life = (a - limit) / rate
            spread = 1.0 / precision / rate**2
            return (1.0, life, life**2 + spread)[power] * np.exp(log_density(u) + peak.fun)

        return integrate.quad(integrand, peak.x - 4 * sigma, peak.x + 4 * sigma, points=[peak.x], limit=200)[
            0
        ]

    mass, first, second = (moment(power) for power in range(3))
    return first / mass, np.sqrt(second / mass - (first / mass) ** 2)


@pytest.mark.benchmark(timer=time.process_time)
def test_assess_200_000_tires_of_five_zones(benchmark):
    season = treads()
    floor_s = least_s(plain, season)
    zones = season["depth_mm"].shape[0] * season["depth_mm"].shape[1]
    loop_s = zones * _seconds_a_zone(season)
    benchmark.extra_info["peak_mb"] = peak_mb("treads")

    benchmark.pedantic(judged, (season,), rounds=2)

    benchmark.extra_info["plain_numpy_s"] = floor_s
    benchmark.extra_info["times_plain_numpy"] = benchmark.stats["min"] / floor_s
    benchmark.extra_info["loop_over_zones_s"] = loop_s
    benchmark.extra_info["times_faster_than_the_loop"] = loop_s / benchmark.stats["min"]
    assert benchmark.stats["min"] < GOAL_S
    assert benchmark.extra_info["peak_mb"] < GOAL_MB


def _seconds_a_zone(season):
    """Return the time one zone takes by quadrature, after making sure that both say the same of a sample."""
    prior = season["rate_prior"]
    part = RatePrior(prior.median_mm_per_1000km[:SAMPLE], prior.sigma[:SAMPLE], prior.readings[:SAMPLE])
    sample = {name: values[:SAMPLE] for name, values in season.items() if name != "rate_prior"}
    sample["depth_mm"] = sample["depth_mm"][:, :1]
    started = time.process_time()
    found = [
        life_by_quadrature(x, y, limit=0.8, new=5.2, gauge_sd=0.15, median=median, sigma=sigma)
        for x, y, median, sigma in zip(
            sample["distance_km"][:, 0], sample["depth_mm"][:, 0],
            part.median_mm_per_1000km[:, 0], part.sigma[:, 0], strict=True,
        )
    ]  # fmt: skip
    each_s = (time.process_time() - started) / SAMPLE
    ours = remaining_km(
        **sample, rate_prior=part, new_depth_sd_mm=NEW_DEPTH_SD_MM,
        bend_sd=0.0, day_spread=0.0, allow_misfit=False,
    )  # fmt: skip
    mean, sd = np.transpose(found)
    assert ours.life_mean_km[:, 0] == pytest.approx(mean, rel=0.01)
    assert ours.life_sd_km[:, 0] == pytest.approx(sd, rel=0.05)
    return each_s
