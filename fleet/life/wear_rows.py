"""Bridge from everybody's tread readings to how fast tread goes."""

from typing import Any, Final

import numpy as np

from fleet.inventory.models import Tire
from fleet.life.histories import History, histories_of
from fleet.life.learned import FACTORS, NOTHING, Learned, coded
from fleet.life.usage import practice_for, severity_of
from fleet.science import wear
from fleet.science.practice import Practice

CHUNK: Final = 2000


def learned_wear() -> Learned:
    """Fit how fast tread goes to the worst-worn zone of every tire, apart by track where the readings allow."""
    columns: dict[str, list[Any]] = {
        name: [] for name in ("log_rate", "noise_sd", "practice", "product", "track", "rider")
    }
    tires = Tire.objects.select_related("spec__line", "owner").order_by("label_code")
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
    for track, series in _by_track(history).items():
        found = wear.rates([km for km, _ in series], [mm for _, mm in series])
        columns["log_rate"] += found.log_rate.tolist()
        columns["noise_sd"] += found.noise_sd.tolist()
        count = len(found.log_rate)
        columns["practice"] += [known] * count
        columns["product"] += [history.tire.spec.code] * count
        columns["track"] += [track] * count
        columns["rider"] += [history.tire.owner.code] * count


def _by_track(history: History) -> dict[str, list[tuple[float, float]]]:
    """Return for each track the worst zone's depth as if the tire had run there alone; mixed stretches stand apart.

    Between two readings on one track only, distance and wear are added to that track's series, which starts at the
    new depth.
    """
    last = {zone: depth for _, zone, depth in history.treads}
    worst = min(sorted(last), key=lambda zone: last[zone])
    new_mm = history.tire.spec.new_depth_mm
    weights = severity_of(history.runs, {})
    series: dict[str, list[tuple[float, float]]] = {}
    before_mm, run = new_mm, 0
    readings = [(taken_at, depth) for taken_at, zone, depth in history.treads if zone == worst]
    for taken_at, depth_mm in readings:
        first = run
        while run < len(history.runs) and history.runs[run].ended_at <= taken_at:
            run += 1
        tracks = {one.track for one in history.runs[first:run] if one.track}
        if not tracks:
            # Only the road was run, or nothing yet: what is gone by now no track is to blame for.
            before_mm = depth_mm
            continue
        track = tracks.pop() if len(tracks) == 1 else ""
        rows = series.setdefault(track, [(0.0, new_mm)])
        rows.append(
            (rows[-1][0] + float(weights[first:run].sum()), max(rows[-1][1] - (before_mm - depth_mm), 0.0))
        )
        before_mm = depth_mm
    return series
