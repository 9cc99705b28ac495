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
from fleet.science.pooling import Pooled, Prior, fit
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
"""Times the noise of a difference that wear must reach before it counts as an observed rate."""

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

    Wear grows with cornering force to a power of 2 to 4 [RubberChem1973]; force goes with effort. Effort NaN, which is
    not logged, counts as usual. Road kilometers count by the weight alone (common practice, no published source).

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
    """Observed wear rates, one per row.

    Attributes
    ----------
    log_rate : natural logarithm of mm per 1000 severity km
    noise_sd : its standard deviation from the gauge alone
    cell : flat index of the zone or tire in the leading shape of the readings
    """

    log_rate: NDArray[np.float64]
    noise_sd: NDArray[np.float64]
    cell: NDArray[np.intp]


def rates(
    distance_km: ArrayLike,
    depth_mm: ArrayLike,
    *,
    gauge_sd_mm: ArrayLike = common.DEPTH_GAUGE_SD_MM,
    times_noise: float = SMALLEST_WEAR_IN_NOISE,
) -> Rates:
    """Return the rates between successive readings, merging until the wear stands clear of the gauge's noise.

    What is left after the last rate is merged into it. A tire that has not worn that far yields no row: it says
    too little yet. The depth of the new tire may be given as a reading at distance 0.

    Parameters
    ----------
    distance_km, depth_mm : array_like, shape (..., readings)
        Severity km and mm, in any order; NaN is padding.
    gauge_sd_mm : array_like, shape (...)
        Standard deviation of one reading in mm.
    times_noise : float
        Wear needed for a row, in standard deviations of a difference of two readings.

    Raises
    ------
    ValueError
        If a distance or depth is negative or a standard deviation not above 0.
    """
    x, y = np.broadcast_arrays(
        within("distance_km", distance_km, at_least=0.0), within("depth_mm", depth_mm, at_least=0.0)
    )
    gauge = np.broadcast_to(within("gauge_sd_mm", gauge_sd_mm, above=0.0), x.shape[:-1]).ravel()
    flat = (gauge.size, x.shape[-1])
    x, y = _by_distance(x.reshape(flat), y.reshape(flat))
    noise = np.sqrt(2.0) * gauge
    spans, cell = _merged(x, y, within("times_noise", times_noise, above=0.0) * noise)
    run, wear = spans[:, 2] - spans[:, 0], spans[:, 1] - spans[:, 3]
    return Rates(np.log(wear / (run / KM_PER_UNIT)), noise[cell] / wear, cell)


def _by_distance(
    x: NDArray[np.float64], y: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    missing = np.isnan(x) | np.isnan(y)
    order = np.argsort(np.where(missing, np.inf, x), axis=1, kind="stable")
    rows = np.arange(len(x))[:, None]
    return np.where(missing, np.nan, x)[rows, order], np.where(missing, np.nan, y)[rows, order]


def _merged(
    x: NDArray[np.float64], y: NDArray[np.float64], least: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Return the ends of every span that wore enough, (rows, 4) as x, y, x, y, and the cell of each."""
    spans = np.full((*x.shape, 4), np.nan)
    if x.shape[1] == 0:
        return spans.reshape(0, 4), np.zeros(0, dtype=np.intp)
    cells, place = np.arange(len(x)), np.full(len(x), -1)
    anchor = np.stack([x[:, 0], y[:, 0]], axis=1)
    for now in np.stack([x.T[1:], y.T[1:]], axis=-1):
        ripe = (anchor[:, 1] - now[:, 1] >= least) & (now[:, 0] > anchor[:, 0])
        again = ripe & (place >= 0)
        spans[cells[again], place[again], 2:] = anchor[again]
        place[ripe] += 1
        spans[cells[ripe], place[ripe]] = np.concatenate([anchor, now], axis=1)[ripe]
        anchor[ripe] = now[ripe]
        # What is not ripe alone extends the span before it, until a later reading makes a span of its own.
        worn = spans[cells, place, 1] - now[:, 1]
        longer = ~ripe & (place >= 0) & (worn >= least)
        spans[cells[longer], place[longer], 2:] = now[longer]
    keep = ~np.isnan(spans[:, :, 0])
    return spans[keep], np.nonzero(keep)[0]


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
    noise = within("noise_sd", noise_sd, at_least=0.0)
    prior = learning_prior()
    own = np.square(prior.residual_sd)
    y = np.asarray(log_rate, dtype=np.float64) - usual
    groups = {"product": product, "track": track, "rider": rider}
    return fit(
        y,
        np.ones((len(y), 1)),
        {name: np.asarray(codes, dtype=np.intp) for name, codes in groups.items()},
        weights=np.broadcast_to(own / (own + np.square(noise)), y.shape),
        prior=prior,
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
