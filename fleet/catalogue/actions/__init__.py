"""Writes of what can be bought, and of what is reported about it."""

from fleet.catalogue.actions.notes import correct_note, drop_note, gather_note, note_reference, share_note
from fleet.catalogue.actions.products import add_line, add_spec, publish_pressure

__all__ = [
    "add_line",
    "add_spec",
    "correct_note",
    "drop_note",
    "gather_note",
    "note_reference",
    "publish_pressure",
    "share_note",
]
