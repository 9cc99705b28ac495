"""Writes about riders, what they own, and with whom they share: what is begun and ended, and what is corrected."""

from fleet.garage.actions.comparing import compare_gauge, keep_comparison, void_comparison
from fleet.garage.actions.corrections import (
    correct_bike,
    correct_instrument,
    correct_rider,
    correct_wheel_pair,
)
from fleet.garage.actions.things import (
    INVITATION_HOLDS,
    add_bike,
    add_instrument,
    add_wheel_pair,
    claim_record,
    invite,
    open_garage,
    register_rider,
    revoke_invitation,
    share,
    take_back,
    use_wheel_pair,
)

__all__ = [
    "INVITATION_HOLDS",
    "add_bike",
    "add_instrument",
    "add_wheel_pair",
    "claim_record",
    "compare_gauge",
    "correct_bike",
    "correct_instrument",
    "correct_rider",
    "correct_wheel_pair",
    "invite",
    "keep_comparison",
    "open_garage",
    "register_rider",
    "revoke_invitation",
    "share",
    "take_back",
    "use_wheel_pair",
    "void_comparison",
]
