"""Learn how far over the air the gas in a tire settles on track, and expect it for the next stint.

What is learned is the departure from common practice for the kind of tire, so that one fit serves all kinds and says
nothing where it has seen nothing. Rises are in degrees C of the gas over the air.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.science import practice as common
from fleet.science import thermal
from fleet.science.levels import counted, known_codes
from fleet.science.measured import fit_measured
from fleet.science.observed_rise import ObservedRise
from fleet.science.pooling import Pooled, Prior
from fleet.science.practice import Practice, figures

Array = NDArray[np.float64]

PRIOR_STRENGTH: Final = 3.0
EFFORT, ON_TRACK, COOLING = 2, 3, 4
"""Places among the fixed effects: degrees C a unit of effort, and logarithms of the time constants over practice."""


@dataclass(frozen=True)
class Rise:
    """The settled rise to expect: mean and standard deviation in degrees C, degrees of freedom, rows behind it.

    The standard deviation is that of one stint, not of the mean over many; infinite degrees of freedom mean a normal
    distribution. ``readings`` counts the rows of the same product, ``on_track_min`` is how fast the gas follows.
    """

    mean_c: Array
    sd_c: Array
    df: Array
    readings: NDArray[np.int64]
    on_track_min: float


def covariates(track_over_air_c: ArrayLike, effort: ArrayLike) -> Array:
    """Return the design matrix (rows, 5) of stints to come.

    Its columns: one, centered track over air in degrees C, centered effort, and nothing for the two time constants.
    NaN, which is not known, counts as usual and becomes 0; ``unknown_effort_sd_c`` says what that costs.
    """
    warm = np.asarray(track_over_air_c, dtype=np.float64) - common.USUAL_TRACK_OVER_AIR_C
    hard = np.asarray(effort, dtype=np.float64) - common.USUAL_EFFORT
    warm, hard = np.broadcast_arrays(np.nan_to_num(warm, nan=0.0), np.nan_to_num(hard, nan=0.0))
    none = np.zeros(warm.size)
    return np.stack([none + 1.0, warm.ravel(), hard.ravel(), none, none], axis=1)


def unknown_effort_sd_c(effort: ArrayLike, slope_c: float = common.RISE_PER_EFFORT_C[0]) -> Array:
    """Return the spread in degrees C that an effort not known (NaN) adds to a rise, 0 where it is known.

    ``slope_c`` is how many degrees C a whole unit of effort is worth.
    """
    return np.where(np.isnan(np.asarray(effort, dtype=np.float64)), abs(slope_c) * common.EFFORT_SD, 0.0)


def heating_prior(spread_c: float = common.RISE_SD_C) -> Prior:
    """Return the belief about departures from practice: none, give or take ``spread_c`` shared out by cause."""
    share = common.RISE_SHARES
    constant = (0.0, common.TIME_CONSTANT_LOG_SD)
    coefficients = (common.RISE_PER_TRACK_C, common.RISE_PER_EFFORT_C, constant, constant)
    return Prior(
        mean=[0.0, *(mean for mean, _ in coefficients)],
        sd=[share["category"] * spread_c, *(sd for _, sd in coefficients)],
        group_sd={name: share[name] * spread_c for name in ("product", "track", "rider")},
        residual_sd=share["residual"] * spread_c,
        strength=PRIOR_STRENGTH,
    )


def learn(
    observed: ObservedRise,
    *,
    practice: Practice | Sequence[Practice],
    track_over_air_c: ArrayLike,
    effort: ArrayLike,
    product: ArrayLike,
    track: ArrayLike,
    rider: ArrayLike,
    sds: Mapping[str, float] | None = None,
    dofs: Mapping[str, float] | None = None,
) -> Pooled:
    """Return what the observed rises say about products, tracks and riders, as departures from practice.

    Parameters
    ----------
    observed : ObservedRise
        Shape (rows,); a row that is NaN says nothing and is passed over.
    practice : Practice or sequence of Practice, one per row
    track_over_air_c, effort : array_like, shape (rows,)
        NaN where not known.
    product, track, rider : array_like of int, shape (rows,)
        Codes from 0; -1 where unknown.
    sds, dofs : mapping of str to float, optional
        Standard deviations held as learned earlier, and the degrees of freedom behind them.

    Raises
    ------
    ValueError
        If lengths differ or a code is under -1.
    """
    usual = figures(practice, "settled_rise_c")
    rise, noise = np.broadcast_arrays(observed.rise_c, observed.noise_sd_c)
    usable = np.isfinite(rise) & np.isfinite(noise)
    x = covariates(np.broadcast_to(track_over_air_c, rise.shape), effort)
    x[:, ON_TRACK:] = -observed.by_log_constants(usual)
    noise = np.hypot(noise, unknown_effort_sd_c(effort))
    groups = {"product": product, "track": track, "rider": rider}
    return fit_measured(
        (rise - usual)[usable],
        x[usable],
        {name: np.asarray(codes, dtype=np.intp)[usable] for name, codes in groups.items()},
        noise_sd=noise[usable],
        prior=heating_prior(),
        sds=sds,
        dofs=dofs,
    )


def expected_rise(
    pooled: Pooled | None,
    *,
    practice: Practice | Sequence[Practice],
    track_over_air_c: ArrayLike = np.nan,
    effort: ArrayLike = np.nan,
    product: ArrayLike = -1,
    track: ArrayLike = -1,
    rider: ArrayLike = -1,
) -> Rise:
    """Return the settled rise to expect for lines, one entry per line.

    Parameters
    ----------
    pooled : Pooled or None
        From ``learn``; with None or no rows practice answers, with its wide spread.
    practice : Practice or sequence of Practice, one per line
    track_over_air_c, effort : array_like
        NaN where not known: counts as usual.
    product, track, rider : array_like of int
        Codes; -1, or a code newer than the fit, is a level never seen.

    Raises
    ------
    ValueError
        If a code is under -1.
    """
    usual = figures(practice, "settled_rise_c")
    *lines, product, track, rider = np.broadcast_arrays(
        usual, track_over_air_c, effort, product, track, rider
    )
    shape = lines[0].shape
    x = covariates(lines[1], lines[2])
    if pooled is None or pooled.rows == 0:
        prior = heating_prior()
        mean = x @ prior.means
        spread = figures(practice, "settled_rise_sd_c").ravel()
        sd = np.sqrt(np.square(spread) + np.square(x[:, 1:]) @ np.square(prior.sds[1:]))
        sd = np.hypot(sd, unknown_effort_sd_c(lines[2]).ravel())
        none = np.zeros(shape, dtype=np.int64)
        return Rise(
            usual + mean.reshape(shape), sd.reshape(shape), np.full(shape, np.inf), none, thermal.ON_TRACK_MIN
        )
    groups = known_codes(pooled, {"product": product, "track": track, "rider": rider})
    learned = len(pooled.fixed)  # a fit kept from before the time constants were learned has fewer columns
    departure, sd = pooled.predict(x[:, :learned], groups, observation=True)
    sd = np.hypot(sd, unknown_effort_sd_c(lines[2], float(pooled.fixed[EFFORT])).ravel())
    return Rise(
        usual + departure.reshape(shape),
        sd.reshape(shape),
        pooled.df(groups).reshape(shape),
        counted(pooled, "product", groups["product"]).reshape(shape),
        thermal.ON_TRACK_MIN * float(np.exp(pooled.fixed[ON_TRACK:COOLING].sum())),
    )
