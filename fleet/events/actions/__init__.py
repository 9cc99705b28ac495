"""Writes about tracks, events and their days, and the weather of a day."""

from fleet.events.actions.calendars import close_calendar, open_calendar
from fleet.events.actions.conditions import record_conditions, record_metar, void_conditions
from fleet.events.actions.corrections import (
    correct_day,
    correct_entry,
    correct_event,
    correct_group,
    correct_slot,
)
from fleet.events.actions.entering import enter, enter_oneself, leave, withdraw_entry
from fleet.events.actions.planning import (
    add_day,
    add_group,
    add_layout,
    add_slot,
    add_track,
    plan_event,
)
from fleet.events.actions.timetable import begin_like, change_of, set_timetable, set_up_event, timetable_text
from fleet.events.actions.walk_ins import enter_as

__all__ = [
    "add_day",
    "add_group",
    "add_layout",
    "add_slot",
    "add_track",
    "begin_like",
    "change_of",
    "close_calendar",
    "correct_day",
    "correct_entry",
    "correct_event",
    "correct_group",
    "correct_slot",
    "enter",
    "enter_as",
    "enter_oneself",
    "leave",
    "open_calendar",
    "plan_event",
    "record_conditions",
    "record_metar",
    "set_timetable",
    "set_up_event",
    "timetable_text",
    "void_conditions",
    "withdraw_entry",
]
