"""Corrections of riders, bikes, wheel pairs and instruments; codes and owners stay as they are.

A rider corrects what is theirs. The crew that registered a walk-in does it until the walk-in has an account.
"""

from datetime import date
from typing import TypedDict, Unpack

from django.db import transaction

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor, Right, require
from fleet.accounts.trail import correct, kept_by
from fleet.errors import NotAllowed
from fleet.garage.models import Bike, Instrument, Rider, WheelPair
from fleet.garage.queries import owns, require_owner


class RiderData(TypedDict, total=False):
    """What can be corrected of a rider's record."""

    name: str
    contact: str


class BikeData(TypedDict, total=False):
    """What can be corrected of a bike."""

    description: str
    wheelbase_mm: float | None
    rake_deg: float | None
    fork_offset_mm: float | None
    front_rim_in: float | None
    rear_rim_in: float | None


class WheelPairData(TypedDict, total=False):
    """What can be corrected of a wheel pair."""

    name: str


class InstrumentData(TypedDict, total=False):
    """What can be corrected of an instrument; pressures read with it before keep the offset they were read with."""

    name: str
    step_kpa: float | None
    offset_kpa: float
    compared_on: date | None


@transaction.atomic
def correct_rider(*, by: Actor, rider: Rider, **given: Unpack[RiderData]) -> Rider:
    """Mend a rider's name or contact."""
    return correct(rider, given, by=by, **kept_by(_crew_or_rider(by, rider), rider=rider.pk))


@transaction.atomic
def correct_bike(*, by: Actor, bike: Bike, **given: Unpack[BikeData]) -> Bike:
    """Mend a bike's description or chassis data."""
    return correct(bike, given, by=by, **kept_by(_crew_or_rider(by, bike.rider), rider=bike.rider_id))


@transaction.atomic
def correct_wheel_pair(*, by: Actor, wheel_pair: WheelPair, **given: Unpack[WheelPairData]) -> WheelPair:
    """Mend a wheel pair's name."""
    rider = wheel_pair.bike.rider
    return correct(wheel_pair, given, by=by, **kept_by(_crew_or_rider(by, rider), rider=rider.pk))


@transaction.atomic
def correct_instrument(*, by: Actor, instrument: Instrument, **given: Unpack[InstrumentData]) -> Instrument:
    """Mend an instrument's name, step or offset."""
    if instrument.rider is not None:
        require_owner(by, instrument.rider)
    else:
        require(by, Right.TAKE_READINGS, instrument.organisation)
    return correct(instrument, given, by=by, **kept_by(instrument.organisation, rider=instrument.rider_id))


def _crew_or_rider(by: Actor, rider: Rider) -> Organisation | None:
    """Return the organisation whose crew corrects for a walk-in, nothing where the rider does; refuse anybody else."""
    if owns(by, rider):
        return None
    require(by, Right.REGISTER, rider.registered_with)
    if rider.person_id is not None:
        raise NotAllowed(f"{rider} has an account and corrects this alone: ask them to.")
    return rider.registered_with
