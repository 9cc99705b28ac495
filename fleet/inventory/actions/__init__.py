"""Writes about stock, tickets, fittings, holds and recalls, a file a noun."""

from fleet.inventory.actions.fittings import add_own_tire, fit_tire, void_fitting
from fleet.inventory.actions.handovers import accept_tire, decline_tire, hand_over, offer_tire, withdraw_offer
from fleet.inventory.actions.holds import lift_hold, place_hold
from fleet.inventory.actions.inspections import inspect_tire, void_inspection
from fleet.inventory.actions.prices import list_spec
from fleet.inventory.actions.recalls import enter_recall, lift_recall, record_contact, void_recall
from fleet.inventory.actions.removals import remove_tire, void_removal
from fleet.inventory.actions.replacing import replace_tire
from fleet.inventory.actions.reservations import (
    confirm_reservation,
    end_reservation,
    reserve,
    set_aside,
)
from fleet.inventory.actions.sidewalls import read_sidewall
from fleet.inventory.actions.stock import (
    count_stock,
    load_stock,
    move_stock,
    receive_lot,
    void_movement,
)
from fleet.inventory.actions.tickets import advance_ticket, correct_ticket, take_wheels_in
from fleet.inventory.actions.wishes import wish_for_wheel

__all__ = [
    "accept_tire",
    "add_own_tire",
    "advance_ticket",
    "confirm_reservation",
    "correct_ticket",
    "count_stock",
    "decline_tire",
    "end_reservation",
    "enter_recall",
    "fit_tire",
    "hand_over",
    "inspect_tire",
    "lift_hold",
    "lift_recall",
    "list_spec",
    "load_stock",
    "move_stock",
    "offer_tire",
    "place_hold",
    "read_sidewall",
    "receive_lot",
    "record_contact",
    "remove_tire",
    "replace_tire",
    "reserve",
    "set_aside",
    "take_wheels_in",
    "void_fitting",
    "void_inspection",
    "void_movement",
    "void_recall",
    "void_removal",
    "wish_for_wheel",
    "withdraw_offer",
]
