"""What makes a reading doubtful: it is kept, and the doubt is said beside it."""

from collections.abc import Collection, Mapping
from typing import Final

from fleet.running.errors import Doubt
from fleet.running.models import PressureReading, Stint, TemperatureReading, TreadReading
from fleet.running.queries import usual_lap_s

TREAD_NOISE_MM: Final = (
    0.15  # common practice, no published source: one hand gauge, one person, one standard deviation
)
# Common practice, no published source: beyond these a slip of the pen is likelier than the value.
LONGEST_USUAL_MIN: Final = 75.0
QUICKEST_SHARE: Final = 0.75
SLOWEST_SHARE: Final = 2.0
FASTEST_USUAL_KMH: Final = 200.0
HOTTEST_USUAL_C: Final = 130.0
FAR_FROM_TARGET_KPA: Final = 40.0
_HOT_MOMENTS: Final = {PressureReading.Moment.IN, PressureReading.Moment.LATER}


def doubt_about_pressure(reading: PressureReading, *, stint: Stint | None) -> str:
    """Return why a hot reading is doubtful, or nothing: air heats up on track, so the pressure rises.

    A tire set off warmers, or one read cooler than it was set, may read lower without any mistake.
    """
    if stint is None or reading.moment not in _HOT_MOMENTS or stint.warmers_c is not None:
        return ""
    was_set = (
        stint.pressures.filter(tire=reading.tire, moment=PressureReading.Moment.SET, voided_at__isnull=True)
        .order_by("-taken_at")
        .first()
    )
    if was_set is None or reading.pressure_kpa >= was_set.pressure_kpa:
        return ""
    if was_set.tire_c is not None and reading.tire_c is not None and reading.tire_c < was_set.tire_c:
        return ""
    return (
        f"Read {reading.pressure_kpa:.0f} kPa hot after {was_set.pressure_kpa:.0f} kPa was set, without warmers: a "
        "leak, the wrong tire, or a slip of the pen?"
    )


def doubt_about_tread(reading: TreadReading) -> str:
    """Return why a depth is doubtful, or nothing: tread does not grow, so a rise beyond gauge noise is a mix-up."""
    before = (
        TreadReading.objects.filter(
            tire=reading.tire,
            zone=reading.zone,
            taken_at__lt=reading.taken_at,
            voided_at__isnull=True,
            doubt="",
        )
        .order_by("-taken_at")
        .first()
    )
    if before is None or reading.depth_mm <= before.depth_mm + 3 * TREAD_NOISE_MM * 2**0.5:
        return ""
    return (
        f"Read {reading.depth_mm:.1f} mm after {before.depth_mm:.1f} mm in the same zone: another zone, another tire, "
        "or another gauge?"
    )


def doubts_about_stint(stint: Stint) -> list[Doubt]:
    """Return what looks wrong about a stored stint: how long it took, the pace of its laps, and their number."""
    found = []
    seconds = (stint.ended_at - stint.started_at).total_seconds()
    if seconds > 60 * LONGEST_USUAL_MIN and not stint.is_on_road:
        found.append(Doubt("ended_at", "long", seconds / 60, LONGEST_USUAL_MIN))
    if stint.layout is not None and stint.laps:
        found += _about_pace(stint, seconds / stint.laps)
    if stint.laps and stint.lap_times_s and stint.laps != len(stint.lap_times_s):
        found.append(Doubt("laps", "lap count", stint.laps, len(stint.lap_times_s)))
    if sum(stint.lap_times_s) > seconds + 60:
        found.append(Doubt("lap_times", "laps too long", sum(stint.lap_times_s), seconds))
    return found


def doubts_about_hot(hot_kpa: Mapping[str, float | None], targets_kpa: Mapping[str, float]) -> list[Doubt]:
    """Return the hot pressures by axle, all on one gauge, that are far from their targets."""
    return [
        Doubt(f"{axle}_in_kpa", "far from target", read, targets_kpa[axle])
        for axle, read in hot_kpa.items()
        if read is not None and axle in targets_kpa and abs(read - targets_kpa[axle]) > FAR_FROM_TARGET_KPA
    ]


def doubts_about_readings(
    axle: str, readings: Collection[PressureReading | TreadReading | TemperatureReading]
) -> list[Doubt]:
    """Return the readings of one tire that were marked as doubtful, and the temperatures no tread is usually at."""
    found = []
    for reading in readings:
        if isinstance(reading, PressureReading) and reading.doubt:
            found.append(Doubt(f"{axle}_in_kpa", "under what was set", reading.pressure_kpa))
        elif isinstance(reading, TreadReading) and reading.doubt:
            found.append(Doubt(f"{axle}_depth_{reading.zone}", "grown", reading.depth_mm))
        elif isinstance(reading, TemperatureReading) and reading.surface_c > HOTTEST_USUAL_C:
            found.append(Doubt(f"{axle}_c_{reading.zone}", "too hot", reading.surface_c, HOTTEST_USUAL_C))
    return found


def _about_pace(stint: Stint, lap_s: float) -> list[Doubt]:
    usual_s = usual_lap_s(stint.wheel_pair.bike.rider, stint.layout, besides=stint)
    if usual_s is not None:
        if lap_s < QUICKEST_SHARE * usual_s or lap_s > SLOWEST_SHARE * usual_s:
            return [Doubt("laps", "pace", lap_s, usual_s)]
    elif stint.distance_km / lap_s * 3600 / (stint.laps or 1) > FASTEST_USUAL_KMH:
        return [Doubt("laps", "fast", lap_s)]
    return []
