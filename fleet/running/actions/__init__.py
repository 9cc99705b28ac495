"""Writes about stints, readings and notes, a file a noun."""

from fleet.running.actions.answers import answer_advice, correct_cycle, void_answer, void_cycle_correction
from fleet.running.actions.at_the_trailer import measure_wheels, set_pressures
from fleet.running.actions.notes import adjust, note_feel, note_surface
from fleet.running.actions.readings import (
    record_contour,
    record_pressure,
    record_shape,
    record_temperature,
    record_tread,
)
from fleet.running.actions.stints import log_stint, void_stint
from fleet.running.actions.voiding import void_adjustment, void_note, void_reading
from fleet.running.actions.whole_stints import Change, Look, Measured, log_whole_stint

__all__ = [
    "Change",
    "Look",
    "Measured",
    "adjust",
    "answer_advice",
    "correct_cycle",
    "log_stint",
    "log_whole_stint",
    "measure_wheels",
    "note_feel",
    "note_surface",
    "record_contour",
    "record_pressure",
    "record_shape",
    "record_temperature",
    "record_tread",
    "set_pressures",
    "void_adjustment",
    "void_answer",
    "void_cycle_correction",
    "void_note",
    "void_reading",
    "void_stint",
]
