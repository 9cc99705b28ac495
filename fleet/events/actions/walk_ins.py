"""Entering somebody who stands at the desk: a new rider in one go, or one who is known."""

import secrets
from typing import Final

from django.db import transaction

from fleet.accounts.policy import Actor, Right, require
from fleet.events.actions.entering import enter
from fleet.events.known_riders import Choice
from fleet.events.models import Day, Entry, Group
from fleet.garage.actions import add_bike, register_rider

CODE_BYTES: Final = 6


@transaction.atomic
def enter_as(
    *,
    by: Actor,
    day: Day,
    choice: Choice,
    name: str,
    bike: str,
    group: Group,
    number: str,
    contact: str = "",
    uses_warmers: bool = False,
) -> Entry:
    """Enter a known rider or somebody new, on a known bike or a new one; riders and bikes are made as needed.

    Somebody new is registered with the organiser, and can take the record over by an invitation.
    """
    organiser = day.event.organiser
    require(by, Right.EDIT_EVENT, organiser)
    rider = choice.rider or register_rider(
        by=by,
        code=f"r-{secrets.token_hex(CODE_BYTES)}",
        name=name,
        contact=contact,
        registered_with=organiser,
    )
    ridden = choice.bike or add_bike(
        by=by, rider=rider, code=f"b-{secrets.token_hex(CODE_BYTES)}", description=bike
    )
    return enter(by=by, day=day, bike=ridden, group=group, number=number, uses_warmers=uses_warmers)
