"""Join everything that ends a tire's life into one answer: chance to last, days left, what binds, in which state.

Tread, legal tread and heat cycles are uncertain and taken as independent of each other; age, holds and damage are
facts. Days are riding days of the tire's own rider. The state words follow ``DOUBTFUL`` and ``SURE`` below.
"""

from dataclasses import dataclass
from math import prod
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.science.bounds import within
from fleet.science.remaining import Remaining
from fleet.science.spent import Spent, cycles_chance, day_distance, ready, tread_chance

__all__ = [
    "LEGAL_MINIMUM_MM",
    "Assessment",
    "assess",
    "cycles_chance",
    "day_distance",
    "tread_chance",
]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

LIMITS: Final = ("hold", "damage", "age", "tread", "legal tread", "heat cycles")
STATES: Final = ("stand down", "fresh", "last day", "plan a change", "in service")

LIKELY: Final = 0.5
"""A limit is likely to be reached from this chance on; tread that is likely through already is at its limit. More likely
than not is what the word says; where to act is common practice, no published source."""

SURE: Final = 0.9
"""Heat cycles are a guideline: only this sure that it is behind the tire is it a limit reached; common practice, no
published source."""

# Advice of a tire trade body of June 2001: not into service after 6 years, replace at 10 [TradeBody2001].
SERVICE_AGE_YEARS: Final = 6.0
REPLACE_AGE_YEARS: Final = 10.0

LEGAL_MINIMUM_MM: Final = MappingProxyType({"GB": 1.0, "DE": 1.6, "US": 0.8})
"""Legal tread by country, for a motorcycle on the road: three quarters of the breadth in Britain [CUR1986], the main
grooves in Germany [StVZO36], the wear indicator in the United States [CFR571], where state law differs."""

PROBS: Final = (0.1, 0.5, 0.9)
TIRES_AT_ONCE: Final = 2048
"""Tires computed together, so that the inner arrays stay in the processor's cache and memory bounded."""


@dataclass(frozen=True)
class Assessment:
    """What holds for each tire, one entry per tire.

    Attributes
    ----------
    chance_to_last_next_day : that no limit is reached during the next riding day
    remaining_days : (..., 3) quantiles 0.1, 0.5 and 0.9 of riding days to the first limit
    binding_limit : "tread", "legal tread", "heat cycles", "age", "hold" or "damage"
    state : word of the trade; both words are empty where a figure that decides is not known
    """

    chance_to_last_next_day: Array
    remaining_days: Array
    binding_limit: NDArray[np.str_]
    state: NDArray[np.str_]


def assess(
    tread: Remaining,
    *,
    legal_tread: Remaining | None = None,
    day_km: ArrayLike,
    day_sd_km: ArrayLike,
    cycles_used: ArrayLike,
    cycles_per_day: ArrayLike,
    cycle_guideline: ArrayLike,
    age_years: ArrayLike,
    years_to_next_day: ArrayLike = 0.0,
    riding_days_per_year: ArrayLike = np.nan,
    is_in_service: ArrayLike = True,
    is_scrubbed_in: ArrayLike = True,
    is_on_hold: ArrayLike = False,
    is_damaged: ArrayLike = False,
    is_read_worn: ArrayLike = False,
) -> Assessment:
    """Return each tire's assessment; everything broadcasts to the shape of the tires.

    Parameters
    ----------
    tread, legal_tread : Remaining
        Of the binding zone, to the wear limit and, where the tire must be road legal, to the legal minimum. An entry
        of ``legal_tread`` that is NaN does not apply.
    day_km, day_sd_km : array_like
        Severity km of one riding day, mean and standard deviation from day to day.
    cycles_used, cycles_per_day, cycle_guideline : array_like
        Heat cycles so far, per riding day, and the guideline (NaN: none applies).
    age_years, years_to_next_day : array_like
        Age now (NaN: not known, which does not bind) and how far off the next riding day is.
    riding_days_per_year : array_like
        Turns the years to the age limit into riding days; NaN leaves age out until it is reached.
    is_in_service, is_scrubbed_in, is_on_hold, is_damaged : array_like of bool
        A tire not in service meets the age limit of 6 years, any tire that of 10.
    is_read_worn : array_like of bool
        Whether the newest depth of some zone was read at or under the wear limit: then the limit counts as reached
        until it is read again, whatever the other readings promise.

    Returns
    -------
    Assessment
        States: "stand down" when a limit is reached (tread read or likely through, heat cycles surely spent) or a hold is
        on;
        else "fresh" when not scrubbed in; else "last day" or "plan a change" when a limit is likely, by a
        chance of a half, within the next one or two riding days; else "in service".

    Raises
    ------
    ValueError
        If a distance per day is not above 0, or a count, age or spread is negative.
    """
    facts = {
        "day_km": within("day_km", day_km, above=0.0),
        "day_sd_km": within("day_sd_km", day_sd_km, at_least=0.0),
        "cycles_used": within("cycles_used", cycles_used, at_least=0.0),
        "cycles_per_day": within("cycles_per_day", cycles_per_day, at_least=0.0),
        "guideline": within("cycle_guideline", cycle_guideline, above=0.0),
    }
    service = np.asarray(is_in_service, dtype=np.bool_)
    too_old, age_days = _age_limit(age_years, years_to_next_day, riding_days_per_year, service)
    flags = {
        "on_hold": is_on_hold,
        "damaged": is_damaged,
        "too_old": too_old,
        "scrubbed": is_scrubbed_in,
        "read_worn": is_read_worn,
    }
    columns = {**facts, **flags, "age_days": age_days}
    treads = [tread] if legal_tread is None else [tread, legal_tread]
    shape = np.broadcast_shapes(
        *(np.shape(each) for each in (*columns.values(), *(t.now_km for t in treads)))
    )
    flat = {name: np.broadcast_to(np.asarray(column), shape).ravel() for name, column in columns.items()}
    flat_treads = [t.flattened(shape) for t in treads]
    parts = [
        _judged(
            [t.part(slice(begin, begin + TIRES_AT_ONCE)) for t in flat_treads],
            **{name: column[begin : begin + TIRES_AT_ONCE] for name, column in flat.items()},
        )
        for begin in range(0, max(prod(shape), 1), TIRES_AT_ONCE)
    ]
    chance, days, binding, state = (np.concatenate(column) for column in zip(*parts, strict=True))
    return Assessment(
        chance.reshape(shape), days.reshape(*shape, len(PROBS)), binding.reshape(shape), state.reshape(shape)
    )


def _judged(
    treads: list[Remaining],
    *,
    on_hold: Mask,
    damaged: Mask,
    too_old: Mask,
    scrubbed: Mask,
    read_worn: Mask,
    age_days: Array,
    **facts: Array,
) -> tuple[Array, Array, NDArray[np.str_], NDArray[np.str_]]:
    """Return the four columns of an assessment for some tires, in one dimension."""
    spent = Spent(ready(treads[0]), ready(treads[1]) if len(treads) > 1 else None, **facts)
    worn, legal, cycles = spent.chances(0.0)
    reached = np.stack(
        np.broadcast_arrays(
            on_hold, damaged, too_old, read_worn | (worn >= LIKELY), legal >= LIKELY, cycles >= SURE
        )
    )
    stopped = np.asarray(reached.any(axis=0), dtype=np.bool_)
    days = np.where(stopped[:, None], 0.0, spent.days_to_first(PROBS, age_days))
    soon, later = (np.where(age_days < ahead, 1.0, spent.any_chance(ahead)) for ahead in (1.0, 2.0))
    binding = np.where(stopped, reached.argmax(axis=0), _binding(spent, days[:, 1], age_days))
    state = np.select([stopped, ~scrubbed, soon >= LIKELY, later >= LIKELY], STATES[:-1], STATES[-1])
    unknown = ~stopped & np.isnan(soon + days[:, 1])
    return (
        np.where(stopped, 0.0, 1.0 - soon),
        days,
        np.where(unknown, "", np.asarray(LIMITS)[binding]),
        np.where(unknown, "", state),
    )


def _age_limit(
    age_years: ArrayLike, years_to_next_day: ArrayLike, riding_days_per_year: ArrayLike, is_in_service: Mask
) -> tuple[Mask, Array]:
    """Return whether the age limit is reached by the next riding day, and the riding days until 10 years."""
    then = within("age_years", age_years, at_least=0.0) + within(
        "years_to_next_day", years_to_next_day, at_least=0.0
    )
    per_year = within("riding_days_per_year", riding_days_per_year, above=0.0)
    too_old = then >= np.where(is_in_service, REPLACE_AGE_YEARS, SERVICE_AGE_YEARS)
    days = (REPLACE_AGE_YEARS - then) * per_year
    return np.asarray(too_old, dtype=np.bool_), np.where(np.isnan(days), np.inf, np.maximum(days, 0.0))


def _binding(spent: Spent, median_days: Array, age_days: Array) -> NDArray[np.intp]:
    """Return the place in ``LIMITS`` of the limit most likely reached by the median day; age if that ends it."""
    likeliest = np.stack(np.broadcast_arrays(*spent.chances(np.nan_to_num(median_days)))).argmax(axis=0)
    return np.where(age_days <= median_days, LIMITS.index("age"), likeliest + LIMITS.index("tread"))
