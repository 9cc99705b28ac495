"""Writes about stints, readings and notes, a file a noun."""

from fleet.running.actions.notes import adjust, note_feel, note_surface
from fleet.running.actions.readings import record_pressure, record_shape, record_temperature, record_tread
from fleet.running.actions.stints import log_stint, void_stint
from fleet.running.actions.voiding import void_note, void_reading

__all__ = [
    "adjust",
    "log_stint",
    "note_feel",
    "note_surface",
    "record_pressure",
    "record_shape",
    "record_temperature",
    "record_tread",
    "void_note",
    "void_reading",
    "void_stint",
]
