"""Writes about tracks, events and their days, and the weather of a day."""

from fleet.events.actions.conditions import record_conditions, record_metar, void_conditions
from fleet.events.actions.planning import (
    add_day,
    add_group,
    add_layout,
    add_slot,
    add_track,
    enter,
    plan_event,
    withdraw_entry,
)

__all__ = [
    "add_day",
    "add_group",
    "add_layout",
    "add_slot",
    "add_track",
    "enter",
    "plan_event",
    "record_conditions",
    "record_metar",
    "void_conditions",
    "withdraw_entry",
]
