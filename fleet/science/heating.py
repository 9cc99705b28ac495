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
from fleet.science.bounds import kelvin, within
from fleet.science.inflation import gas_temperature_c
from fleet.science.levels import counted, known_codes
from fleet.science.pooling import Pooled, Prior, fit
from fleet.science.practice import Practice, figures

Array = NDArray[np.float64]

PRIOR_STRENGTH: Final = 3.0


@dataclass(frozen=True)
class ObservedRise:
    """Settled rises over the air read off hot pressures, with the standard deviation of each, in degrees C."""

    rise_c: Array
    noise_sd_c: Array


@dataclass(frozen=True)
class Rise:
    """The settled rise to expect: mean and standard deviation in degrees C, degrees of freedom, rows behind it.

    The standard deviation is that of one stint, not of the mean over many; infinite degrees of freedom mean a normal
    distribution. ``readings`` counts the rows of the same product.
    """

    mean_c: Array
    sd_c: Array
    df: Array
    readings: NDArray[np.int64]


def settled_rise_c(
    *,
    start_kpa: ArrayLike,
    tire_c: ArrayLike,
    hot_kpa: ArrayLike,
    minutes_since_pit_in: ArrayLike,
    minutes_on_track: ArrayLike,
    barometer_kpa: ArrayLike,
    air_c: ArrayLike,
    barometer_when_hot_kpa: ArrayLike | None = None,
    warmers_c: ArrayLike | None = None,
    time_constant_min: ArrayLike = thermal.ON_TRACK_MIN,
    cooling_constant_min: ArrayLike = thermal.COOLING_MIN,
    gauge_sd_kpa: ArrayLike = common.PRESSURE_GAUGE_SD_KPA,
    tire_sd_c: ArrayLike = common.TIRE_TEMPERATURE_SD_C,
    constant_log_sd: ArrayLike = common.TIME_CONSTANT_LOG_SD,
) -> ObservedRise:
    """Return what each stint's pressures say about the settled rise, one row per stint.

    The hot pressure gives the gas temperature, that is taken back to the pit entry, and that extended to where the
    stint was heading. The noise carries the gauge, the tire's temperature at setting and the two time constants
    through these steps to first order, so a late reading or a short stint weighs little by itself.

    Parameters
    ----------
    start_kpa, tire_c
        True gauge pressure set, and the tire's temperature while it was.
    hot_kpa, minutes_since_pit_in
        True gauge pressure after the stint, and how long after the pit entry it was read.
    minutes_on_track
        From leaving the pits to the pit entry, above 0.
    barometer_kpa, barometer_when_hot_kpa
        Pressure around the tire at the two readings; the same if the second is left out.
    air_c
        Air temperature during the stint.
    warmers_c
        Temperature the tire left the pits with; NaN, or left out, is ``tire_c``.

    Raises
    ------
    ValueError
        If a pressure, temperature, barometer, time or time constant is impossible; see ``inflation``, ``thermal``.
    """
    air, set_c = np.asarray(air_c, dtype=np.float64), np.asarray(tire_c, dtype=np.float64)
    later = barometer_kpa if barometer_when_hot_kpa is None else barometer_when_hot_kpa
    measured = gas_temperature_c(start_kpa, set_c, hot_kpa, barometer_kpa, later)
    at_pit_in = thermal.at_pit_in_c(measured, air, minutes_since_pit_in, cooling_constant_min)
    begun = set_c if warmers_c is None else np.where(np.isnan(warmers_c), set_c, warmers_c)
    settled = thermal.settled_c(begun, at_pit_in, minutes_on_track, time_constant_min)

    hot_k = kelvin("hot temperature", measured)
    gauge = within("gauge_sd_kpa", gauge_sd_kpa, at_least=0.0)
    start_abs = np.asarray(start_kpa, dtype=np.float64) + np.asarray(barometer_kpa, dtype=np.float64)
    hot_abs = np.asarray(hot_kpa, dtype=np.float64) + np.asarray(later, dtype=np.float64)
    by_gauge = gauge * hot_k * np.hypot(1.0 / start_abs, 1.0 / hot_abs)
    by_tire = within("tire_sd_c", tire_sd_c, at_least=0.0) * hot_k / kelvin("tire_c", set_c)
    log_sd = within("constant_log_sd", constant_log_sd, at_least=0.0)
    cooled = np.asarray(minutes_since_pit_in, dtype=np.float64) / np.asarray(cooling_constant_min)
    pit_noise = np.hypot(np.exp(cooled) * np.hypot(by_gauge, by_tire), log_sd * cooled * (at_pit_in - air))
    run = np.asarray(minutes_on_track, dtype=np.float64) / np.asarray(time_constant_min)
    extend = -1.0 / np.expm1(-run)
    by_constant = log_sd * run * np.exp(-run) * extend**2 * (at_pit_in - begun)
    return ObservedRise(settled - air, np.hypot(extend * pit_noise, by_constant))


def covariates(track_over_air_c: ArrayLike, effort: ArrayLike) -> Array:
    """Return the design matrix (rows, 3): one, centered track over air in degrees C, centered effort.

    NaN, which is not known, counts as usual and becomes 0.
    """
    warm = np.asarray(track_over_air_c, dtype=np.float64) - common.USUAL_TRACK_OVER_AIR_C
    hard = np.asarray(effort, dtype=np.float64) - common.USUAL_EFFORT
    warm, hard = np.broadcast_arrays(np.nan_to_num(warm, nan=0.0), np.nan_to_num(hard, nan=0.0))
    return np.stack([np.ones(warm.size), warm.ravel(), hard.ravel()], axis=1)


def heating_prior(spread_c: float = common.RISE_SD_C) -> Prior:
    """Return the belief about departures from practice: none, give or take ``spread_c`` shared out by cause."""
    share = common.RISE_SHARES
    coefficients = (common.RISE_PER_TRACK_C, common.RISE_PER_EFFORT_C)
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
    rise, noise = np.broadcast_arrays(observed.rise_c, observed.noise_sd_c)
    usable = np.isfinite(rise) & np.isfinite(noise)
    x = covariates(np.broadcast_to(track_over_air_c, rise.shape), effort)
    prior = heating_prior()
    own = np.square(prior.residual_sd)
    groups = {"product": product, "track": track, "rider": rider}
    return fit(
        (rise - figures(practice, "settled_rise_c"))[usable],
        x[usable],
        {name: np.asarray(codes, dtype=np.intp)[usable] for name, codes in groups.items()},
        weights=(own / (own + np.square(noise)))[usable],
        prior=prior,
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
        none = np.zeros(shape, dtype=np.int64)
        return Rise(usual + mean.reshape(shape), sd.reshape(shape), np.full(shape, np.inf), none)
    groups = known_codes(pooled, {"product": product, "track": track, "rider": rider})
    departure, sd = pooled.predict(x, groups, observation=True)
    return Rise(
        usual + departure.reshape(shape),
        sd.reshape(shape),
        pooled.df(groups).reshape(shape),
        counted(pooled, "product", groups["product"]).reshape(shape),
    )
