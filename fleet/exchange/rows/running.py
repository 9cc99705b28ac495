"""Stints, readings, adjustments, feel and surface notes."""

from datetime import datetime
from typing import Any, Final

from fleet.accounts.policy import SERVICE
from fleet.exchange.columns import NO_KEYWORD, Column, Ending, Sheet, fact, fact_columns
from fleet.exchange.kinds import CODE, COUNT, DATE, KEY, MOMENT, NUMBER, NUMBERS, TEXT, choice
from fleet.records import void
from fleet.running.actions import (
    adjust,
    log_stint,
    note_feel,
    note_surface,
    record_contour,
    record_pressure,
    record_shape,
    record_temperature,
    record_tread,
    void_note,
    void_reading,
    void_stint,
)
from fleet.running.models import (
    Adjustment,
    ContourReading,
    FeelNote,
    PressureReading,
    ShapeReading,
    Stint,
    SurfaceNote,
    TemperatureReading,
    TreadReading,
    Zone,
)


def _void_stint(stint: Stint, at: datetime, reason: str) -> Stint:
    return void_stint(by=SERVICE, at=at, stint=stint, reason=reason)


def _void_reading(reading: Any, at: datetime, reason: str) -> None:
    void_reading(by=SERVICE, at=at, reading=reading, reason=reason)


def _void_note(note: FeelNote, at: datetime, reason: str) -> None:
    void_note(by=SERVICE, at=at, note=note, reason=reason)


def _void_adjustment(adjustment: Adjustment, at: datetime, reason: str) -> None:
    void(adjustment, by=None, at=at, reason=reason)


def _as_read_kpa(reading: PressureReading) -> float:
    return round(reading.pressure_kpa + (reading.instrument.offset_kpa if reading.instrument else 0.0), 3)


WHEEL_PAIR: Final = Column(
    "wheel_pair", CODE, "Code from wheel_pairs.csv.", take="wheel_pair.code", refers="wheel_pair"
)
TIRE: Final = Column("tire", CODE, "Label of the tire.", take="tire.label_code", refers="tire")
TAKEN_AT: Final = Column("taken_at", MOMENT, "When it was taken.")
INSTRUMENT: Final = Column(
    "instrument",
    CODE,
    "Code from instruments.csv.",
    required=False,
    take="instrument.code",
    refers="instrument",
)
STINT_OF_READING: Final = Column(
    "stint",
    KEY,
    "Key from stints.csv, where it belongs to one.",
    required=False,
    take="stint_id",
    refers="stint",
)
ZONE: Final = Column("zone", choice(Zone), "Where across the tread, seen from the saddle.")
SOME_ZONE: Final = Column(
    "zone", choice(Zone), "Where across the tread, seen from the saddle.", required=False, default=""
)
WORDS: Final = Column("words", TEXT, "In free words.", required=False)
VOID_READING: Final = (Ending("voided_at", "void_reason", _void_reading),)
AFTER_FITTINGS: Final = ("fittings", "removals")

SHEETS: Final = (
    Sheet(
        name="stints",
        about="Stretches on track, or rides on the road.",
        columns=fact_columns(
            WHEEL_PAIR,
            Column(
                "event",
                CODE,
                "Event the day belongs to.",
                required=False,
                take="day.event.code",
                gives=NO_KEYWORD,
            ),
            Column(
                "date",
                DATE,
                "Day of the event.",
                required=False,
                take="day.date",
                gives="day",
                refers="day",
                also=("event",),
            ),
            Column(
                "layout",
                CODE,
                "Code from layouts.csv; the day's where empty, on the road without a day.",
                required=False,
                take="layout.code",
                refers="layout",
            ),
            Column("started_at", MOMENT, "When it left."),
            Column("ended_at", MOMENT, "When it came back."),
            Column("laps", COUNT, "Laps ridden.", required=False),
            Column(
                "distance_km", NUMBER, "Distance in km; laps times the layout where empty.", required=False
            ),
            Column("effort", NUMBER, "Share of the rider's own full pace, 0.3 to 1.1.", required=False),
            Column("warmers_c", NUMBER, "What the tire warmers were set to, degrees C.", required=False),
            Column("lap_times_s", NUMBERS, "Lap times in seconds.", required=False),
        ),
        identity=("key",),
        rows=lambda: Stint.objects.select_related("wheel_pair", "day__event", "layout"),
        add=fact(log_stint),
        shelf="stint",
        after=AFTER_FITTINGS,
        phase=4,
        happened="started_at",
        endings=(Ending("voided_at", "void_reason", _void_stint),),
    ),
    Sheet(
        name="pressures",
        about="Tire pressures.",
        columns=fact_columns(
            TIRE,
            STINT_OF_READING,
            Column("moment", choice(PressureReading.Moment), "When in a stint."),
            TAKEN_AT,
            Column(
                "read_kpa",
                NUMBER,
                "Gauge pressure in kPa as the instrument showed it, its offset not taken off.",
                take=_as_read_kpa,
                gives="pressure_kpa",
            ),
            Column("tire_c", NUMBER, "Temperature of the tire then, degrees C.", required=False),
            INSTRUMENT,
        ),
        identity=("key",),
        rows=lambda: PressureReading.objects.select_related("tire", "instrument"),
        add=fact(record_pressure),
        after=AFTER_FITTINGS,
        phase=5,
        happened="taken_at",
        endings=VOID_READING,
    ),
    Sheet(
        name="treads",
        about="Tread depths.",
        columns=fact_columns(TIRE, ZONE, TAKEN_AT, Column("depth_mm", NUMBER, "Depth in mm."), INSTRUMENT),
        identity=("key",),
        rows=lambda: TreadReading.objects.select_related("tire", "instrument"),
        add=fact(record_tread),
        after=AFTER_FITTINGS,
        phase=5,
        happened="taken_at",
        endings=VOID_READING,
    ),
    Sheet(
        name="temperatures",
        about="Tread surface temperatures.",
        columns=fact_columns(
            TIRE,
            STINT_OF_READING,
            ZONE,
            TAKEN_AT,
            Column("surface_c", NUMBER, "Surface temperature, degrees C."),
            INSTRUMENT,
        ),
        identity=("key",),
        rows=lambda: TemperatureReading.objects.select_related("tire", "instrument"),
        add=fact(record_temperature),
        after=AFTER_FITTINGS,
        phase=5,
        happened="taken_at",
        endings=VOID_READING,
    ),
    Sheet(
        name="shapes",
        about="Lengths that tell a tire's size or the bike's stance.",
        columns=fact_columns(
            TIRE,
            Column("quantity", choice(ShapeReading.Quantity), "What was measured."),
            TAKEN_AT,
            Column("length_mm", NUMBER, "Length in mm."),
            INSTRUMENT,
        ),
        identity=("key",),
        rows=lambda: ShapeReading.objects.select_related("tire", "instrument"),
        add=fact(record_shape),
        after=AFTER_FITTINGS,
        phase=5,
        happened="taken_at",
        endings=VOID_READING,
    ),
    Sheet(
        name="contours",
        about="Outlines of treads, as points of a contour gauge.",
        columns=fact_columns(
            TIRE,
            TAKEN_AT,
            Column("x_mm", NUMBERS, "Places across in mm, left to right seen from the saddle."),
            Column("z_mm", NUMBERS, "Height of each point in mm, away from the axle."),
            INSTRUMENT,
        ),
        identity=("key",),
        rows=lambda: ContourReading.objects.select_related("tire", "instrument"),
        add=fact(record_contour),
        after=AFTER_FITTINGS,
        phase=5,
        happened="taken_at",
        endings=VOID_READING,
    ),
    Sheet(
        name="adjustments",
        about="Changes to a bike between stints.",
        columns=fact_columns(
            WHEEL_PAIR,
            Column("part", choice(Adjustment.Part), "What was changed."),
            Column("before", NUMBER, "Setting before, in the unit given.", required=False),
            Column("after", NUMBER, "Setting after, in the unit given."),
            Column("unit", TEXT, "Unit of the adjuster, such as clicks, turns, mm or kPa."),
            Column("made_at", MOMENT, "When."),
        ),
        identity=("key",),
        rows=lambda: Adjustment.objects.select_related("wheel_pair"),
        add=fact(adjust),
        phase=5,
        happened="made_at",
        endings=(Ending("voided_at", "void_reason", _void_adjustment),),
    ),
    Sheet(
        name="feel_notes",
        about="What a rider felt in a stint.",
        columns=fact_columns(
            Column("stint", KEY, "Key from stints.csv.", take="stint_id", refers="stint"),
            Column("feel", choice(FeelNote.Feel), "In one expression."),
            Column("phase", choice(FeelNote.Phase), "Where in the corner.", required=False, default=""),
            WORDS,
        ),
        identity=("key",),
        rows=FeelNote.objects.all,
        add=fact(note_feel),
        phase=5,
        endings=(Ending("voided_at", "void_reason", _void_note),),
    ),
    Sheet(
        name="surface_notes",
        about="What a tread surface showed.",
        columns=fact_columns(
            TIRE,
            Column("look", choice(SurfaceNote.Look), "In one expression."),
            Column("seen_at", MOMENT, "When."),
            SOME_ZONE,
            WORDS,
        ),
        identity=("key",),
        rows=lambda: SurfaceNote.objects.select_related("tire"),
        add=fact(note_surface),
        after=AFTER_FITTINGS,
        phase=5,
        happened="seen_at",
        endings=VOID_READING,
    ),
)
