"""Writes about people, organisations, roles and API keys."""

from fleet.accounts.actions.closing import close_account
from fleet.accounts.actions.keys import make_key, make_organisation_key, revoke_key, use_key
from fleet.accounts.actions.people import (
    add_organisation,
    add_person,
    choose_units,
    give_role,
    note_address,
    note_way_in,
    sign_up,
)
from fleet.accounts.actions.roles import end_role, offer_role, take_role, withdraw_offer

__all__ = [
    "add_organisation",
    "add_person",
    "choose_units",
    "close_account",
    "end_role",
    "give_role",
    "make_key",
    "make_organisation_key",
    "note_address",
    "note_way_in",
    "offer_role",
    "revoke_key",
    "sign_up",
    "take_role",
    "use_key",
    "withdraw_offer",
]
