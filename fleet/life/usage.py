"""Bridge from histories to arrays: severity-weighted distance, tread series, heat cycles."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from fleet.catalogue.models import TireSpec
from fleet.life.histories import History, Run
from fleet.running.models import Zone
from fleet.science import thermal
from fleet.science.practice import REFERENCE_AIR_C, Practice, practice
from fleet.science.wear import severity_km

ZONES: Final = tuple(Zone.values)
ROAD_RISE_SHARE: Final = 0.5  # common practice, no published source: a road ride heats a tire half as far
WARMERS_BEFORE_MIN: Final = (
    60.0  # common practice, no published source: an hour on the warmers before going out
)
STAYS_ON_WARMERS_MIN: Final = 120.0  # common practice: between stints closer than this the warmers stay on

Floats = NDArray[np.float64]


def practice_for(spec: TireSpec) -> Practice:
    """Return common practice for a spec's kind of tire."""
    return practice(spec.line.category, spec.line.carcass, spec.axle)


@dataclass(frozen=True)
class Wear:
    """The tread series of many tires: severity km and depth by zone, padded with NaN.

    Shapes: ``distance_km`` and ``depth_mm`` (tires, zones, readings), ``now_km`` (tires,).
    """

    distance_km: Floats
    depth_mm: Floats
    now_km: Floats


class Ridden(Protocol):
    """What a distance must tell to be weighted: how far, how hard, and where; a road ride has no track."""

    @property
    def distance_km(self) -> float:
        """Return how far it went."""

    @property
    def effort(self) -> float | None:
        """Return the share of the rider's own full pace."""

    @property
    def track(self) -> str:
        """Return the code of the track."""


def severity_of(runs: Sequence[Ridden], multipliers: Mapping[str, float]) -> Floats:
    """Return the severity-weighted distance of each run; a track nobody learned about counts once."""
    return severity_km(
        [run.distance_km for run in runs],
        [multipliers.get(run.track, 1.0) for run in runs],
        [np.nan if run.effort is None else run.effort for run in runs],
        on_road=[not run.track for run in runs],
    )


def wear_of(histories: Sequence[History], multipliers: Mapping[str, float]) -> Wear:
    """Return the tread series of tires over the distance that wears like an ordinary track's."""
    series = [_series(history, multipliers) for history in histories]
    most = max((len(rows) for zones, _ in series for rows in zones.values()), default=0)
    distance = np.full((len(series), len(ZONES), max(most, 1)), np.nan)
    depth = np.full_like(distance, np.nan)
    for tire, (zones, _) in enumerate(series):
        for zone, rows in zones.items():
            place = (tire, ZONES.index(zone), slice(len(rows)))
            distance[place] = [km for km, _ in rows]
            depth[place] = [mm for _, mm in rows]
    return Wear(distance, depth, np.array([now for _, now in series], dtype=np.float64))


def _series(
    history: History, multipliers: Mapping[str, float]
) -> tuple[dict[str, list[tuple[float, float]]], float]:
    """Return each zone's readings with the distance at which they were taken, and the distance up to now."""
    each = severity_of(history.runs, multipliers)
    total = np.concatenate([[0.0], np.cumsum(each)])
    ends = np.array([run.ended_at.timestamp() for run in history.runs])
    zones: dict[str, list[tuple[float, float]]] = {}
    for taken_at, zone, depth_mm in history.treads:
        done = int(np.searchsorted(ends, taken_at.timestamp(), side="right"))
        zones.setdefault(zone, []).append((float(total[done]), depth_mm))
    return zones, float(total[-1])


@dataclass(frozen=True)
class Warming:
    """How warm one run made a tire, as on a day of reference air, and whether a heat cycle was counted in it.

    ``coldest_c`` is how far it had cooled before; ``is_denied`` says that its owner took the count back.
    """

    run: Run
    is_counted: bool
    is_denied: bool
    reached_c: float
    coldest_c: float
    idle_min: float | None


def warmings_of(history: History) -> list[Warming]:
    """Return run by run how warm it made a tire and whether that was a heat cycle, by the rule of ``cycles_of``."""
    segments, owner = _segments(history)
    counted = {id(run) for run in cycles_of(history)}
    trace = thermal.trace_c(REFERENCE_AIR_C, segments)
    found, before_c, before = [], REFERENCE_AIR_C, None
    for run in history.runs:
        own = [float(trace[place]) for place, one in enumerate(owner) if one is run]
        found.append(
            Warming(
                run=run,
                is_counted=id(run) in counted,
                is_denied=run.stint_id in history.no_cycles,
                reached_c=max(own),
                coldest_c=min([before_c, *own[:-1]]),
                idle_min=None if before is None else (run.started_at - before.ended_at).total_seconds() / 60,
            )
        )
        before_c, before = own[-1], run
    return found


def cycles_of(history: History) -> tuple[Run, ...]:
    """Return the runs in which a heat cycle was counted, by the two-threshold rule of ``thermal.counted_cycles``.

    Counted over the air, as on a day of reference air: no tire gets colder than the air, and a stint takes it as far
    over the air on a cold day as on a hot one. A run that its owner says was none counts as time spent cooling.
    """
    known = practice_for(history.tire.spec)
    segments, owner = _segments(history)
    counted = thermal.counted_cycles(REFERENCE_AIR_C, segments, known.working_c, known.cooled_c)
    return tuple(owner[index] for index in counted)


def _segments(history: History) -> tuple[list[float | thermal.Segment], list[Run]]:
    """Return how the tire warmed and cooled, segment by segment, and which run each belongs to."""
    known = practice_for(history.tire.spec)
    segments: list[float | thermal.Segment] = []
    owner: list[Run] = []
    before: Run | None = None
    for run in history.runs:
        is_none = run.stint_id in history.no_cycles
        steps = [_cold(before, run)] if is_none else [*_gap(before, run), _on_track(run, known)]
        segments += steps
        owner += [run] * len(steps)
        before = run
    return segments, owner


def _cold(before: Run | None, run: Run) -> thermal.Segment:
    """Return the time up to the end of a run that did not warm the tire."""
    since = run.started_at if before is None else before.ended_at
    return _toward(REFERENCE_AIR_C, (run.ended_at - since).total_seconds() / 60, thermal.COOLING_MIN)


def _gap(before: Run | None, run: Run) -> list[thermal.Segment]:
    """Return how the tire cooled and was warmed between two runs."""
    idle = np.inf if before is None else (run.started_at - before.ended_at).total_seconds() / 60
    if run.warmers_c is None:
        return [] if before is None else [_toward(REFERENCE_AIR_C, idle, thermal.COOLING_MIN)]
    if idle <= STAYS_ON_WARMERS_MIN:
        return [_toward(run.warmers_c, idle, thermal.WARMERS_MIN)]
    warming = _toward(run.warmers_c, WARMERS_BEFORE_MIN, thermal.WARMERS_MIN)
    if before is None:
        return [warming]
    return [_toward(REFERENCE_AIR_C, idle - WARMERS_BEFORE_MIN, thermal.COOLING_MIN), warming]


def _on_track(run: Run, known: Practice) -> thermal.Segment:
    share = 1.0 if run.track else ROAD_RISE_SHARE
    return _toward(REFERENCE_AIR_C + share * known.settled_rise_c, run.minutes, thermal.ON_TRACK_MIN)


def _toward(toward_c: float, minutes: float, time_constant_min: float) -> thermal.Segment:
    return thermal.Segment(toward_c, max(minutes, 0.0), time_constant_min)
