"""Ask how long tires last with the same science and the same steps as the service, and see how long they did."""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from fleet.calibration.columns import Columns
from fleet.calibration.wear_world import DAYS, PRODUCTS, RIDERS, TRACKS, Size, Tires, draw_tires, draw_world
from fleet.science import life, wear
from fleet.science.pooling import Pooled
from fleet.science.practice import USUAL_DAY_KM
from fleet.science.track_wear import wear_by_track, worst_zone

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

EARLIER_TIRES: Final = 150
TIRES: Final = 150
LEVELS: Final = (0.8, 0.95)
PROBS: Final = tuple(prob for level in LEVELS for prob in (0.5 - level / 2, 0.5 + level / 2))
UNSEEN_MM: Final = 0.3
"""A tread this far under its limit is seen to be without any gauge, and the tire comes off."""

DAY_SPREAD, PRIOR_DAYS, PACE_DAYS = 0.35, 2.0, 4
"""The first two as the service has them for a rider's pace; the last, days of each earlier tire it knows of."""


@dataclass(frozen=True)
class Outcome(Columns):
    """What came of each question about a tire after a day; the last axis of ``km_covered`` is by ``LEVELS``.

    ``lived_share`` is how much of the tire's life was behind it, ``readings`` of its binding zone, ``km_error_share``
    the median of the distance left less the true one, as a share of the whole life. ``days_covered`` is by the interval
    of 80 % the service shows; ``chance`` is that to last the next day, and ``did_last`` whether it did. A tire that was
    told to stand down gets no chance, whatever it would have done.
    """

    lived_share: Array
    readings: NDArray[np.int64]
    km_covered: Mask
    km_error_share: Array
    days_covered: Mask
    chance: Array
    did_last: Mask
    is_stopped: Mask


def play(seed: int, size: Size, *, is_learned: bool = True) -> Outcome:
    """Return what came of the tires of one fleet, asked after each day they survived."""
    rng = np.random.default_rng(seed)
    world = draw_world(rng, size)
    earlier = draw_tires(rng, world, EARLIER_TIRES)
    pooled = learned(earlier) if is_learned else None
    return asked(draw_tires(rng, world, TIRES), earlier, pooled)


def learned(tires: Tires) -> Pooled:
    """Return what an earlier season's tires teach, read up to where their worst zone was worn through."""
    columns: dict[str, list[Any]] = {
        name: [] for name in ("log_rate", "noise_sd", "product", "track", "rider")
    }
    is_over = _worst_room(tires) <= 0.0
    for tire in range(len(tires.product)):
        days = int(is_over[tire].argmax()) + 1 if is_over[tire].any() else DAYS
        is_read = ~np.isnan(tires.read_mm[tire, :days, 0])
        if not is_read.any():
            continue
        run_km = wear.severity_km(tires.logged_km[tire, :days], effort=tires.logged_effort[tire, :days])
        read_mm = tires.read_mm[tire, :days].T
        new_mm = tires.known[tire].new_depth_mm
        by_track = wear_by_track(
            run_km,
            (tires.track[tire, :days] + 1).tolist(),
            runs_before=np.flatnonzero(is_read) + 1,
            depth_mm=read_mm[worst_zone(np.cumsum(run_km), read_mm, new_mm), is_read],
            new_depth_mm=new_mm,
        )
        tracks, taken = list(by_track), list(by_track.values())
        found = wear.rates(
            [one.distance_km for one in taken],
            [one.worn_mm for one in taken],
            noise_sd_mm=[one.variance_mm2**0.5 for one in taken],
            usual_mm_per_1000km=tires.known[tire].wear_median_mm_per_1000km,
        )
        columns["log_rate"] += found.log_rate.tolist()
        columns["noise_sd"] += found.noise_sd.tolist()
        columns["product"] += [tires.product[tire]] * len(found.place)
        columns["track"] += [int(tracks[place]) - 1 if tracks[place] else -1 for place in found.place]
        columns["rider"] += [tires.rider[tire]] * len(found.place)
    codes = {name: np.array(columns[name], dtype=np.intp) for name in ("product", "track", "rider")}
    return wear.learn_rates(
        columns["log_rate"],
        noise_sd=columns["noise_sd"],
        practice=[PRODUCTS[code] for code in codes["product"]],
        product=codes["product"],
        track=codes["track"],
        rider=codes["rider"],
    )


def asked(tires: Tires, earlier: Tires, pooled: Pooled | None) -> Outcome:
    """Return what the service would say of each tire after each day, beside what then happened.

    Asked until it says to stand down, or anybody would see that the tread is gone.
    """
    multipliers = np.ones(TRACKS)
    if pooled is not None:
        found = wear.track_multipliers(pooled)
        multipliers[: len(found)] = found
    run_km = np.cumsum(_severity_km(tires, multipliers), axis=1)
    end_km, end_day = _end(tires, run_km)
    tire, day = np.nonzero((_worst_room(tires) > -UNSEEN_MM)[:, :-1] & (end_day < DAYS - 1)[:, None])
    until = np.arange(DAYS) <= day[:, None]
    known = tires.known
    prior = wear.rate_prior(
        pooled, [known[one] for one in tire], tires.product[tire], rider=tires.rider[tire]
    )
    limit, new = (
        np.array([getattr(one, name) for one in known])[tire] for name in ("wear_limit_mm", "new_depth_mm")
    )
    zones = wear.remaining_km(
        np.broadcast_to(run_km[tire][:, None, :], (len(tire), 5, DAYS)),
        np.where(until[:, None, :], np.moveaxis(tires.read_mm[tire], -1, 1), np.nan),
        limit_mm=limit[:, None],
        new_depth_mm=new[:, None],
        rate_prior=wear.RatePrior(
            prior.median_mm_per_1000km[:, None], prior.sigma[:, None], prior.readings[:, None]
        ),
        now_km=run_km[tire, day][:, None],
        probs=(*PROBS, 0.5),
    )
    tread = zones.at(wear.binding_zone(zones))
    pace = _pace(earlier, multipliers)
    said = life.assess(
        tread,
        day_km=pace[tires.rider[tire]],
        day_sd_km=DAY_SPREAD * pace[tires.rider[tire]],
        cycles_used=0.0,
        cycles_per_day=1.0,
        cycle_guideline=np.nan,
        age_years=np.nan,
        is_read_worn=(_newest_mm(tires)[tire, day] <= limit[:, None]).any(axis=-1),
    )
    left_km = np.maximum(end_km[tire] - run_km[tire, day], 0.0)
    left_days = np.maximum(end_day[tire] - (day + 1), 0.0)
    is_stopped = said.state == "stand down"
    stops = np.cumsum(is_stopped) - is_stopped
    was_stopped = stops > stops[np.searchsorted(tire, tire)]
    covered = [
        (tread.km[:, 2 * i] <= left_km) & (left_km <= tread.km[:, 2 * i + 1]) for i in range(len(LEVELS))
    ]
    return Outcome(
        lived_share=run_km[tire, day] / end_km[tire],
        readings=tread.readings,
        km_covered=np.stack(covered, axis=-1),
        km_error_share=(tread.km[:, -1] - left_km) / end_km[tire],
        days_covered=(said.remaining_days[:, 0] <= left_days) & (left_days <= said.remaining_days[:, 2]),
        chance=said.chance_to_last_next_day,
        did_last=left_days > 1.0,
        is_stopped=is_stopped,
    ).where(~was_stopped)


def _severity_km(tires: Tires, multipliers: Array) -> Array:
    return wear.severity_km(tires.logged_km, multipliers[tires.track], tires.logged_effort)


def _pace(tires: Tires, multipliers: Array) -> Array:
    """Return each rider's severity km a day as the service knows it from some earlier days."""
    by_day = _severity_km(tires, multipliers)[:, :PACE_DAYS]
    days = PACE_DAYS * np.bincount(tires.rider, minlength=RIDERS)
    km = np.bincount(tires.rider, by_day.sum(axis=1), minlength=RIDERS)
    return np.asarray((PRIOR_DAYS * USUAL_DAY_KM + km) / (PRIOR_DAYS + days), dtype=np.float64)


def _newest_mm(tires: Tires) -> Array:
    """Return the newest depth read of each zone after each day, NaN before the first; (tires, days, zones)."""
    is_read = ~np.isnan(tires.read_mm)
    day = np.where(is_read, np.arange(DAYS)[:, None], 0)
    return np.take_along_axis(tires.read_mm, np.maximum.accumulate(day, axis=1), axis=1)


def _worst_room(tires: Tires) -> Array:
    """Return how much the worst zone of each tire still is over its limit after each day, in mm."""
    limit = np.array([one.wear_limit_mm for one in tires.known])
    return np.asarray(tires.depth_mm.min(axis=-1) - limit[:, None], dtype=np.float64)


def _end(tires: Tires, run_km: Array) -> tuple[Array, Array]:
    """Return the severity km and the days at which each tire's worst zone reached its limit; DAYS where it never did."""
    room = _worst_room(tires)
    is_over = room <= 0.0
    day = np.where(is_over.any(axis=1), is_over.argmax(axis=1), DAYS - 1)
    rows = np.arange(len(day))
    new = np.array([one.new_depth_mm - one.wear_limit_mm for one in tires.known])
    before_mm = np.where(day > 0, room[rows, day - 1], new)
    before_km = np.where(day > 0, run_km[rows, day - 1], 0.0)
    share = np.clip(before_mm / np.maximum(before_mm - room[rows, day], 1e-9), 0.0, 1.0)
    return before_km + share * (run_km[rows, day] - before_km), np.where(
        is_over.any(axis=1), day + share, DAYS
    )
