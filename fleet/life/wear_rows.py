"""Bridge from everybody's tread readings to how fast tread goes."""

from bisect import bisect_right
from math import sqrt
from typing import Any, Final

import numpy as np

from fleet.inventory.models import Tire
from fleet.inventory.ownership import done
from fleet.life.histories import History, histories_of
from fleet.life.learned import FACTORS, NOTHING, Learned, coded
from fleet.life.usage import ZONES, practice_for, severity_of
from fleet.science import wear
from fleet.science.practice import Practice
from fleet.science.track_wear import TrackWear, wear_by_track, worst_zone

CHUNK: Final = 2000


def learned_wear() -> Learned:
    """Fit how fast tread goes to the worst-worn zone of every tire, apart by track where the readings allow."""
    columns: dict[str, list[Any]] = {
        name: [] for name in ("log_rate", "noise_sd", "practice", "product", "track", "rider")
    }
    # What two riders wore off a tire teaches the pace of neither.
    tires = Tire.objects.exclude(pk__in=done().values("tire")).select_related("spec__line", "owner")
    tires = tires.order_by("label_code")
    for start in range(0, tires.count(), CHUNK):
        for history in histories_of(tires[start : start + CHUNK]):
            _add_rates(history, columns)
    if not columns["log_rate"]:
        return NOTHING
    levels, codes = coded({factor: columns[factor] for factor in FACTORS})
    pooled = wear.learn_rates(
        np.array(columns["log_rate"]),
        noise_sd=np.array(columns["noise_sd"]),
        practice=columns["practice"],
        product=codes["product"],
        track=codes["track"],
        rider=codes["rider"],
    )
    return Learned(pooled, levels)


def _add_rates(history: History, columns: dict[str, list[Any]]) -> None:
    """Append the observed rates of one tire, its wear split by the track it happened on."""
    if not history.treads:
        return
    known: Practice = practice_for(history.tire.spec)
    by_track = _by_track(history)
    tracks, taken = list(by_track), list(by_track.values())
    found = wear.rates(
        [one.distance_km for one in taken],
        [one.worn_mm for one in taken],
        noise_sd_mm=[sqrt(one.variance_mm2) for one in taken],
        usual_mm_per_1000km=known.wear_median_mm_per_1000km,
    )
    count = len(found.log_rate)
    columns["log_rate"] += found.log_rate.tolist()
    columns["noise_sd"] += found.noise_sd.tolist()
    columns["practice"] += [known] * count
    columns["product"] += [history.tire.spec.code] * count
    columns["track"] += [tracks[place] for place in found.place]
    columns["rider"] += [history.tire.owner.code] * count


def _by_track(history: History) -> dict[Any, TrackWear]:
    """Return what each track took from the zone that wears fastest."""
    new_mm = history.tire.spec.new_depth_mm
    run_km = severity_of(history.runs, {})
    km_before = np.concatenate([[0.0], np.cumsum(run_km)])
    ended = [run.ended_at for run in history.runs]
    readings = [(bisect_right(ended, taken_at), zone, depth) for taken_at, zone, depth in history.treads]
    km, mm = np.full((2, len(ZONES), len(readings)), np.nan)
    for place, (runs, zone, depth) in enumerate(readings):
        km[ZONES.index(zone), place], mm[ZONES.index(zone), place] = km_before[runs], depth
    worst = ZONES[worst_zone(km, mm, new_mm)]
    return wear_by_track(
        run_km,
        [run.track for run in history.runs],
        runs_before=[runs for runs, zone, _ in readings if zone == worst],
        depth_mm=[depth for _, zone, depth in readings if zone == worst],
        new_depth_mm=new_mm,
    )
