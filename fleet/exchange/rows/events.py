"""Tracks, layouts, events and their days, groups, slots, entries, and the weather of a day."""

from datetime import datetime
from typing import Final

from fleet.accounts.policy import SERVICE
from fleet.events.actions import (
    add_day,
    add_group,
    add_layout,
    add_slot,
    add_track,
    enter,
    plan_event,
    record_conditions,
    void_conditions,
)
from fleet.events.models import (
    Conditions,
    Day,
    DayParts,
    Entry,
    Event,
    Group,
    Layout,
    Slot,
    Standing,
    Track,
)
from fleet.exchange.columns import NO_KEYWORD, Column, Ending, Sheet, fact, fact_columns, thing
from fleet.exchange.kinds import CODE, DATE, MOMENT, NUMBER, TEXT, YES_NO, choice


def _void_conditions(row: Conditions, at: datetime, reason: str) -> Conditions:
    return void_conditions(by=SERVICE, at=at, conditions=row, reason=reason)


EVENT_OF_DAY: Final = Column("event", CODE, "Code from events.csv.", take="day.event.code", gives=NO_KEYWORD)
DAY: Final = Column(
    "date",
    DATE,
    "The day, from days.csv.",
    take="day.date",
    gives="day",
    refers="day",
    also=("event",),
)
GROUP: Final = Column(
    "group",
    TEXT,
    "Name from groups.csv.",
    take="group.name",
    refers="group",
    also=("event",),
)
LAYOUT: Final = Column("layout", CODE, "Code from layouts.csv.", take="layout.code", refers="layout")
EVENT: Final = Column("event", CODE, "Code from events.csv.", take="event.code", refers="event")

SHEETS: Final = (
    Sheet(
        name="tracks",
        about="Circuits with their place on earth.",
        columns=(
            Column("code", CODE, "Short name other files refer to."),
            Column("name", TEXT, "Full name."),
            Column("latitude_deg", NUMBER, "Degrees north, south negative."),
            Column("longitude_deg", NUMBER, "Degrees east, west negative."),
            Column("altitude_m", NUMBER, "Meters above the sea."),
            Column("time_zone", TEXT, "Name of its time zone, such as Europe/London."),
        ),
        identity=("code",),
        rows=Track.objects.all,
        add=thing(add_track),
        shelf="track",
    ),
    Sheet(
        name="layouts",
        about="Ways of running a track.",
        columns=(
            Column("track", CODE, "Code from tracks.csv.", take="track.code", refers="track"),
            Column("code", CODE, "Short name other files refer to."),
            Column("name", TEXT, "What it is called."),
            Column("length_km", NUMBER, "Length of a lap in km."),
        ),
        identity=("code",),
        rows=lambda: Layout.objects.select_related("track"),
        add=thing(add_layout),
        shelf="layout",
    ),
    Sheet(
        name="events",
        about="Events of an organiser.",
        columns=(
            Column(
                "organiser",
                CODE,
                "Code from organisations.csv.",
                take="organiser.code",
                refers="organisation",
            ),
            Column("code", CODE, "Short name other files refer to."),
            Column("name", TEXT, "Full name."),
            Column(
                "takes_entries",
                YES_NO,
                "Whether riders enter themselves.",
                required=False,
                default=False,
                living=True,
            ),
        ),
        identity=("code",),
        rows=lambda: Event.objects.select_related("organiser"),
        add=thing(plan_event),
        shelf="event",
    ),
    Sheet(
        name="days",
        about="Dates of an event, each on one layout.",
        columns=(
            EVENT,
            Column("date", DATE, "The day."),
            LAYOUT,
            Column(
                "parts",
                choice(DayParts),
                "The parts of the day that get start pressures of their own.",
                required=False,
                default=DayParts.THREE,
                living=True,
            ),
        ),
        identity=("event", "date"),
        rows=lambda: Day.objects.select_related("event", "layout"),
        add=thing(add_day),
        shelf="day",
    ),
    Sheet(
        name="groups",
        about="Pace groups of an event.",
        columns=(
            EVENT,
            Column("name", TEXT, "What the group is called."),
            Column("usual_lap_s", NUMBER, "Usual lap time in seconds.", required=False),
        ),
        identity=("event", "name"),
        rows=lambda: Group.objects.select_related("event"),
        add=thing(add_group),
        shelf="group",
    ),
    Sheet(
        name="slots",
        about="Each group's times on track.",
        columns=(
            EVENT_OF_DAY,
            DAY,
            GROUP,
            Column("starts_at", MOMENT, "When the group goes out."),
            Column("ends_at", MOMENT, "When it comes in."),
        ),
        identity=("event", "date", "group", "starts_at"),
        rows=lambda: Slot.objects.select_related("day__event", "group"),
        add=thing(add_slot),
    ),
    Sheet(
        name="entries",
        about="Riders with a bike in a group on a day.",
        columns=(
            EVENT_OF_DAY,
            DAY,
            Column("bike", CODE, "Code from bikes.csv; its rider enters.", take="bike.code", refers="bike"),
            GROUP,
            Column("number", TEXT, "Number on the bike."),
            Column("uses_warmers", YES_NO, "Whether tire warmers are used.", required=False, default=False),
        ),
        identity=("event", "date", "bike"),
        rows=lambda: Entry.objects.select_related("day__event", "bike", "group"),
        add=thing(enter),
    ),
    Sheet(
        name="conditions",
        about="The weather of a day at one moment.",
        columns=fact_columns(
            EVENT_OF_DAY,
            DAY,
            Column("holds_at", MOMENT, "Moment the values hold at."),
            Column("standing", choice(Standing), "How well the values are known."),
            Column("source", TEXT, "Where they come from."),
            Column("air_c", NUMBER, "Air temperature, degrees C."),
            Column("dew_point_c", NUMBER, "Dew point, degrees C.", required=False),
            Column(
                "barometer_kpa",
                NUMBER,
                "Air pressure at the track itself in kPa; the standard atmosphere where empty.",
                required=False,
            ),
            Column(
                "barometer_standing", choice(Standing), "How well the barometer is known.", required=False
            ),
            Column(
                "track_surface_c",
                NUMBER,
                "Track surface temperature, degrees C; estimated where empty.",
                required=False,
            ),
            Column(
                "track_surface_standing",
                choice(Standing),
                "How well the track surface is known.",
                required=False,
            ),
            Column("cloud_fraction", NUMBER, "Share of the sky covered, 0 to 1.", required=False),
        ),
        identity=("key",),
        rows=lambda: Conditions.objects.select_related("day__event"),
        add=fact(record_conditions),
        phase=1,
        happened="holds_at",
        endings=(Ending("voided_at", "void_reason", _void_conditions),),
    ),
)
