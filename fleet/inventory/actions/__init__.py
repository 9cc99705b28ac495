"""Writes about stock, tickets, fittings and holds, a file a noun."""

from fleet.inventory.actions.fittings import add_own_tire, fit_tire, void_fitting
from fleet.inventory.actions.holds import lift_hold, place_hold
from fleet.inventory.actions.removals import remove_tire, void_removal
from fleet.inventory.actions.replacing import replace_tire
from fleet.inventory.actions.stock import load_stock, move_stock, receive_lot
from fleet.inventory.actions.tickets import advance_ticket, take_wheels_in

__all__ = [
    "add_own_tire",
    "advance_ticket",
    "fit_tire",
    "lift_hold",
    "load_stock",
    "move_stock",
    "place_hold",
    "receive_lot",
    "remove_tire",
    "replace_tire",
    "take_wheels_in",
    "void_fitting",
    "void_removal",
]
