"""Learn how fast tires wear, by product, track and rider, from depth readings over severity-weighted distance.

Everything a caller needs about wear is reachable here; the posterior itself is in ``remaining`` and the watch over
single readings in ``doubt``.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special, stats

from fleet.science import practice as common
from fleet.science.bounds import within
from fleet.science.doubt import doubtful_readings
from fleet.science.levels import counted, known_codes
from fleet.science.measured import fit_measured
from fleet.science.pooling import Pooled, Prior
from fleet.science.practice import Practice, figures
from fleet.science.remaining import KM_PER_UNIT, RatePrior, Remaining, binding_zone, remaining_km

__all__ = [
    "RatePrior",
    "Rates",
    "Remaining",
    "binding_zone",
    "doubtful_readings",
    "learn_rates",
    "learning_prior",
    "rate_prior",
    "rates",
    "remaining_km",
    "severity_km",
    "track_multipliers",
]

HIGHEST_EFFORT: Final = 1.2
PRIOR_STRENGTH: Final = 3.0
SMALLEST_WEAR_IN_NOISE: Final = 3.0
"""Times its noise that the wear expected of a stretch must reach before it is asked for a rate."""

_MATCHED_PROB: Final = 0.9


def severity_km(
    distance_km: ArrayLike,
    track_multiplier: ArrayLike = 1.0,
    effort: ArrayLike = common.USUAL_EFFORT,
    *,
    on_road: ArrayLike = False,
    effort_exponent: ArrayLike = common.EFFORT_EXPONENT,
    road_weight: ArrayLike = common.ROAD_WEIGHT,
) -> NDArray[np.float64]:
    """Return the distance in kilometers of an ordinary track at usual effort that would wear a tire as much.

    Wear grows with cornering force to a power of 2 to 4 [RubberChem1973]; force goes with effort. Road kilometers count
    by the weight alone (common practice, no published source).

    Parameters
    ----------
    distance_km : array_like
        At least 0.
    track_multiplier : array_like
        How many times an ordinary track's wear a kilometer costs, above 0.
    effort : array_like
        Share of the rider's own full pace, above 0 and at most 1.2; NaN, which is not logged, counts as usual.
    on_road : array_like of bool
        Whether it was run on the road.
    effort_exponent, road_weight : array_like
        Power of the effort, and track kilometers a road kilometer wears like; at least 0.

    Raises
    ------
    ValueError
        If a distance, exponent or weight is negative, a multiplier not above 0, or effort not in (0, 1.2].
    """
    distance = within("distance_km", distance_km, at_least=0.0)
    multiplier = within("track_multiplier", track_multiplier, above=0.0)
    pace = within("effort", effort, above=0.0, at_most=HIGHEST_EFFORT) / common.USUAL_EFFORT
    exponent = within("effort_exponent", effort_exponent, at_least=0.0)
    hard = np.where(np.isnan(pace), 1.0, pace) ** exponent
    weight = within("road_weight", road_weight, at_least=0.0)
    return np.asarray(distance * np.where(on_road, weight, multiplier * hard), dtype=np.float64)


@dataclass(frozen=True)
class Rates:
    """Observed wear rates of those stretches that tell one.

    Attributes
    ----------
    log_rate : natural logarithm of mm per 1000 severity km
    noise_sd : its standard deviation from the readings alone
    place : which stretch each row is, as an index into what was given
    """

    log_rate: NDArray[np.float64]
    noise_sd: NDArray[np.float64]
    place: NDArray[np.intp]


def rates(
    distance_km: ArrayLike,
    worn_mm: ArrayLike,
    *,
    noise_sd_mm: ArrayLike,
    usual_mm_per_1000km: ArrayLike,
    times_noise: float = SMALLEST_WEAR_IN_NOISE,
) -> Rates:
    """Return the rates of stretches long enough to tell one.

    Whether one is long enough, and how noisy its rate is, is asked of its distance at the usual rate, never of the
    wear that was read: to trust a stretch more because it was read to have worn more learns rates that are too high.
    The logarithm of a noisy wear is too small by half its relative variance, which is added back. Wear not clear of its
    noise counts as just clear of it.

    Parameters
    ----------
    distance_km, worn_mm, noise_sd_mm : array_like, shape (stretches,)
        Severity km run, mm worn and the standard deviation of that by its readings, as from ``wear_by_track``.
    usual_mm_per_1000km : array_like, shape (stretches,)
        Rate to expect, from practice, above 0.
    times_noise : float
        Expected wear a stretch needs, in standard deviations, above 0.

    Raises
    ------
    ValueError
        If a distance is negative, or a standard deviation or a usual rate not above 0.
    """
    km, worn, noise, usual = np.broadcast_arrays(
        within("distance_km", distance_km, at_least=0.0),
        within("worn_mm", worn_mm),
        within("noise_sd_mm", noise_sd_mm, above=0.0),
        within("usual_mm_per_1000km", usual_mm_per_1000km, above=0.0),
    )
    km, worn, noise, usual = (np.ravel(column) for column in (km, worn, noise, usual))
    least = float(within("times_noise", times_noise, above=0.0))
    expected = usual * km / KM_PER_UNIT
    place = np.flatnonzero(expected >= least * noise)
    clear = np.maximum(worn, noise)[place]
    jensen = 0.5 * np.square(noise[place] / clear)
    return Rates(np.log(clear / (km[place] / KM_PER_UNIT)) + jensen, noise[place] / expected[place], place)


def learning_prior(sigma: float = common.WEAR_SIGMA) -> Prior:
    """Return the belief about departures from practice, in the logarithm of the wear rate: none, give or take."""
    share = common.WEAR_SHARES
    return Prior(
        mean=[0.0],
        sd=[share["category"] * sigma],
        group_sd={name: share[name] * sigma for name in ("product", "track", "rider")},
        residual_sd=share["residual"] * sigma,
        strength=PRIOR_STRENGTH,
    )


def learn_rates(
    log_rate: ArrayLike,
    *,
    noise_sd: ArrayLike,
    practice: Practice | Sequence[Practice],
    product: ArrayLike,
    track: ArrayLike,
    rider: ArrayLike,
    sds: Mapping[str, float] | None = None,
    dofs: Mapping[str, float] | None = None,
) -> Pooled:
    """Return what the observed rates say about products, tracks and riders, as departures from practice.

    Parameters
    ----------
    log_rate, noise_sd : array_like, shape (rows,)
        As in ``Rates``, over distances that leave the track's multiplier out.
    practice : Practice or sequence of Practice, one per row
        Practice for the kind of tire.
    product, track, rider : array_like of int, shape (rows,)
        Codes from 0; -1 where unknown.
    sds, dofs : mapping of str to float, optional
        Standard deviations held as learned earlier, and the degrees of freedom behind them.

    Raises
    ------
    ValueError
        If lengths differ, a rate is missing, or the noise is negative.
    """
    usual = np.log(figures(practice, "wear_median_mm_per_1000km"))
    y = np.asarray(log_rate, dtype=np.float64) - usual
    groups = {"product": product, "track": track, "rider": rider}
    return fit_measured(
        y,
        np.ones((len(y), 1)),
        {name: np.asarray(codes, dtype=np.intp) for name, codes in groups.items()},
        noise_sd=noise_sd,
        prior=learning_prior(),
        sds=sds,
        dofs=dofs,
    )


def rate_prior(
    pooled: Pooled | None,
    practice: Practice | Sequence[Practice],
    product: ArrayLike = -1,
    track: ArrayLike | None = None,
    rider: ArrayLike = -1,
) -> RatePrior:
    """Return the belief about the wear rate of tires before their own depth is read.

    Parameters
    ----------
    pooled : Pooled or None
        From ``learn_rates``; with None or no rows practice alone speaks.
    practice : Practice or sequence of Practice, one per tire
    product, rider : array_like of int
        Codes; -1, or a code newer than the fit, is a level never seen.
    track : array_like of int, optional
        Left out when the distance is already weighted by the track's learned multiplier.

    Returns
    -------
    RatePrior
        Sigma spans one tire's own rate. Where a level was never seen it is widened so that its 80 % interval is
        that of Student's t.

    Raises
    ------
    ValueError
        If a code is under -1.
    """
    median, sigma = figures(practice, "wear_median_mm_per_1000km"), figures(practice, "wear_sigma")
    codes = np.broadcast_arrays(median, product, -1 if track is None else track, rider)[1:]
    shape = codes[0].shape
    if pooled is None or pooled.rows == 0:
        return RatePrior(
            np.broadcast_to(median, shape), np.broadcast_to(sigma, shape), np.zeros(shape, dtype=np.int64)
        )
    groups = known_codes(pooled, dict(zip(("product", "track", "rider"), codes, strict=True)))
    mean, sd = pooled.predict(np.ones((codes[0].size, 1)), groups, observation=True)
    df = pooled.df(groups)
    if track is None:
        sd = np.sqrt(np.maximum(np.square(sd) - np.square(pooled.sd["track"]), 0.0))
        df = pooled.df({**groups, "track": np.zeros_like(groups["track"])})
    widened = sd * stats.t.ppf(_MATCHED_PROB, df) / special.ndtri(_MATCHED_PROB)
    readings = counted(pooled, "product", groups["product"])
    return RatePrior(
        median * np.exp(mean).reshape(shape), np.asarray(widened).reshape(shape), readings.reshape(shape)
    )


def track_multipliers(pooled: Pooled) -> NDArray[np.float64]:
    """Return how many times an ordinary track's wear each track costs, by track code."""
    return np.asarray(np.exp(pooled.effects["track"]), dtype=np.float64)
