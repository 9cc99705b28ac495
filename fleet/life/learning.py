"""Bridge from everybody's readings to what is learned of them: how hot tires get, how fast tread goes."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Any, Final

import numpy as np
from django.db.models import Q
from numpy.typing import NDArray

from fleet.inventory.models import Tire
from fleet.life.histories import History, histories_of, sky_of
from fleet.life.models import LearnedModel
from fleet.life.queries import learned_for
from fleet.life.usage import practice_for, severity_of
from fleet.running.models import PressureReading, TreadReading
from fleet.science import heating, wear
from fleet.science.pooling import Pooled
from fleet.science.pooling.packing import pack, unpack
from fleet.science.practice import Practice, practice

FACTORS: Final = ("product", "track", "rider")
CHUNK: Final = 2000


@dataclass(frozen=True)
class Learned:
    """A fit with the codes of its levels and, once stored, its row; without any data yet, nothing."""

    pooled: Pooled | None
    levels: dict[str, list[str]]
    row: LearnedModel | None = None

    def codes(self, factor: str, names: Iterable[str]) -> NDArray[np.intp]:
        """Return the fit's codes of some levels, -1 for one it never saw."""
        place = {name: index for index, name in enumerate(self.levels.get(factor, []))}
        return np.array([place.get(name, -1) for name in names], dtype=np.intp)

    def multipliers(self) -> dict[str, float]:
        """Return by track how many times an ordinary track's wear it costs."""
        if self.pooled is None:
            return {}
        return dict(zip(self.levels["track"], wear.track_multipliers(self.pooled).tolist(), strict=True))


NOTHING: Final = Learned(None, {})


@lru_cache(maxsize=4)
def _opened(pk: Any) -> Learned:
    row = LearnedModel.objects.get(pk=pk)
    return Learned(unpack(bytes(row.packed)), row.levels, row)


def opened(row: LearnedModel | None) -> Learned:
    """Return a stored fit, ready to be asked."""
    return _opened(row.pk) if row else NOTHING


def learn(subject: str, *, at: datetime) -> LearnedModel | None:
    """Fit everything read so far and store it as the newest model of a subject; nothing where nothing was read."""
    learned = learned_heating() if subject == LearnedModel.Subject.HEATING else learned_wear()
    if learned.pooled is None:
        return None
    pooled = learned.pooled
    return LearnedModel.objects.create(
        subject=subject,
        learned_at=at,
        rows=pooled.rows,
        spreads={
            "sd": pooled.sd | {"residual": pooled.residual_sd},
            "dof": {name: value for name, value in pooled.dof.items() if np.isfinite(value)},
        },
        levels=learned.levels,
        packed=pack(pooled),
    )


def learned_heating(*, spreads: Mapping[str, Any] | None = None) -> Learned:
    """Fit how hot tires get to all standing hot readings; with ``spreads`` held, only the effects are solved for."""
    rows = _heating_rows()
    if not rows:
        return NOTHING
    columns = {name: [row[name] for row in rows] for name in rows[0]}
    levels, codes = _coded({factor: columns[factor] for factor in FACTORS})
    observed = heating.settled_rise_c(
        **{
            name: np.array(columns[name], dtype=np.float64)
            for name in (
                "start_kpa",
                "tire_c",
                "hot_kpa",
                "minutes_since_pit_in",
                "minutes_on_track",
                "barometer_kpa",
                "air_c",
                "warmers_c",
            )
        }
    )
    pooled = heating.learn(
        observed,
        practice=columns["practice"],
        track_over_air_c=np.array(columns["track_over_air_c"]),
        effort=np.array(columns["effort"], dtype=np.float64),
        product=codes["product"],
        track=codes["track"],
        rider=codes["rider"],
        sds=spreads["sd"] if spreads else None,
        dofs=spreads["dof"] if spreads else None,
    )
    return Learned(pooled, levels)


def _heating_rows() -> list[dict[str, Any]]:
    """Return one row for each hot reading whose set pressure, air and weather are known, in a stable order."""
    hot = (
        PressureReading.objects.filter(
            moment__in=(PressureReading.Moment.IN, PressureReading.Moment.LATER),
            voided_at__isnull=True,
            doubt="",
            stint__day__isnull=False,
            stint__layout__isnull=False,
            stint__voided_at__isnull=True,
        )
        .order_by("taken_at", "id")
        .values(
            "tire_id",
            "pressure_kpa",
            "taken_at",
            "stint_id",
            "stint__day_id",
            "stint__started_at",
            "stint__ended_at",
            "stint__effort",
            "stint__warmers_c",
            "stint__layout__track__code",
            "tire__spec__code",
            "tire__spec__axle",
            "tire__spec__line__category",
            "tire__spec__line__carcass",
            "tire__owner__code",
        )
    )
    was_set = {
        (row["tire_id"], row["stint_id"]): row
        for row in PressureReading.objects.filter(
            moment=PressureReading.Moment.SET, voided_at__isnull=True, doubt="", stint__isnull=False
        )
        .order_by("taken_at", "id")
        .values("tire_id", "stint_id", "pressure_kpa", "tire_c")
    }
    found = list(hot)
    sky = sky_of({row["stint__day_id"] for row in found})
    rows = []
    for row in found:
        start = was_set.get((row["tire_id"], row["stint_id"]))
        weather = sky.at(row["stint__day_id"], row["stint__started_at"])
        if start is None or weather is None:
            continue
        warmers_c = row["stint__warmers_c"]
        standing_c = weather.air_c if warmers_c is None else warmers_c
        rows.append(
            {
                "start_kpa": start["pressure_kpa"],
                "tire_c": standing_c if start["tire_c"] is None else start["tire_c"],
                "hot_kpa": row["pressure_kpa"],
                "minutes_since_pit_in": _minutes(row["stint__ended_at"], row["taken_at"]),
                "minutes_on_track": _minutes(row["stint__started_at"], row["stint__ended_at"]),
                "barometer_kpa": weather.barometer_kpa,
                "air_c": weather.air_c,
                "warmers_c": np.nan if warmers_c is None else warmers_c,
                "track_over_air_c": weather.track_surface_c - weather.air_c,
                "effort": np.nan if row["stint__effort"] is None else row["stint__effort"],
                "practice": practice(
                    row["tire__spec__line__category"],
                    row["tire__spec__line__carcass"],
                    row["tire__spec__axle"],
                ),
                "product": row["tire__spec__code"],
                "track": row["stint__layout__track__code"],
                "rider": row["tire__owner__code"],
            }
        )
    return rows


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
    levels, codes = _coded({factor: columns[factor] for factor in FACTORS})
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
            continue
        track = tracks.pop() if len(tracks) == 1 else ""
        rows = series.setdefault(track, [(0.0, new_mm)])
        rows.append(
            (rows[-1][0] + float(weights[first:run].sum()), max(rows[-1][1] - (before_mm - depth_mm), 0.0))
        )
        before_mm = depth_mm
    return series


def _coded(columns: Mapping[str, Sequence[str]]) -> tuple[dict[str, list[str]], dict[str, NDArray[np.intp]]]:
    """Return the levels in the order of their names and each row's code; an empty name is unknown, -1."""
    levels = {factor: sorted({name for name in names if name}) for factor, names in columns.items()}
    learned = Learned(None, levels)
    return levels, {factor: learned.codes(factor, names) for factor, names in columns.items()}


def _minutes(start: datetime, end: datetime) -> float:
    return max((end - start).total_seconds() / 60, 0.0)


def newest(subject: str) -> Learned:
    """Return the newest stored fit of a subject, ready to be asked."""
    return opened(learned_for(subject))


def has_new_readings(subject: str) -> bool:
    """Return whether readings were recorded or voided since a subject was last learned."""
    row = learned_for(subject)
    readings = PressureReading if subject == LearnedModel.Subject.HEATING else TreadReading
    if row is None:
        return readings.objects.exists()
    since = Q(recorded_at__gt=row.learned_at) | Q(voided_at__gt=row.learned_at)
    return readings.objects.filter(since).exists()
