"""What makes a reading doubtful: it is kept, and the doubt is said beside it."""

from typing import Final

from fleet.running.models import PressureReading, Stint, TreadReading

TREAD_NOISE_MM: Final = (
    0.15  # common practice, no published source: one hand gauge, one person, one standard deviation
)
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
